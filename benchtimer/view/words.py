"""Times and actions in the fewest words that can't be misread."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from math import ceil
from typing import assert_never

from benchtimer import times
from benchtimer.bench.plain_timer import TIMER
from benchtimer.bench.wallclock import moment_at
from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.answers import AskFigure, AskLine, AskOption, AskYesNo
from benchtimer.recipe.checks import Check
from benchtimer.recipe.mixing import rate
from benchtimer.recipe.model import Step, Window
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.commands import Begin, EndMakeUp, TakeOut
from benchtimer.run.guards import ends_with_answers
from benchtimer.run.readiness import out_of_window
from benchtimer.run.run_state import Bench, Place, RunPhase, window_of
from benchtimer.run.setup import known_of, mixed_at, setup_items
from benchtimer.store.log import Stamp
from benchtimer.trade.dangers import headed

NO_TIME = "--:--"
"""Shown for a time outside the calendar."""

HOUR_MS = 3_600_000

TIMELESS = (
    ActionKind.ASK,
    ActionKind.START,
    ActionKind.COMPLETE,
    ActionKind.RESUME,
    ActionKind.ANSWER,
)
"""Actions without a countdown: you do them when you get to them."""

AT_PLACE = (ActionKind.READING, ActionKind.MAKE_UP, ActionKind.HEAT, ActionKind.COOL)
"""Actions at a place, for any part."""


def countdown_to(due_ms: int, now_ms: int) -> str:
    """Time left in bench time, rounded up so that it shows 0:00 only when it is."""
    return times.countdown((due_ms - now_ms) / 1000)


def elapsed(from_ms: int, to_ms: int) -> str:
    """Time that has passed in bench time, rounded down."""
    return times.elapsed((to_ms - from_ms) / 1000)


def age(ms: int) -> str:
    """How long ago: to the second within the hour, then a duration."""
    return times.elapsed(ms / 1000) if ms < HOUR_MS else times.rough_duration(ms / 1000)


def when(action: Action, stamp: Stamp) -> str:
    """When an action is due: a countdown, NOW, LATE with the time since, or nothing.

    A question has no time, because you answer it when you look at the work. A blocked action waits.
    """
    now_ms = stamp.noted_ms
    if action.latest_ms is not None and now_ms > action.latest_ms:
        return f"LATE {elapsed(action.latest_ms, now_ms)}"
    if action.kind is ActionKind.START and now_ms < action.due_ms:
        return clock_time(action.due_ms, stamp)
    if action.kind in TIMELESS:
        return ""
    if now_ms < action.due_ms:
        return countdown_to(action.due_ms, now_ms)
    return "NOW" if action.blocked is None else "WAIT"


def time_ahead(t_ms: int, stamp: Stamp) -> str:
    """When something comes: ``in 10 min``, or ``at 18:40`` from an hour on."""
    if t_ms - stamp.noted_ms >= HOUR_MS:
        return at_time(t_ms, stamp)
    return f"in {left_words(t_ms - stamp.noted_ms)}"


def left_words(left_ms: int) -> str:
    """Time left, with its units, because 10:00 between words could be a time of day.

    It is in whole minutes, rounded down so that it never promises too much; below a minute it is
    in seconds.
    """
    minutes = left_ms // 60_000
    return times.rough_duration(60 * minutes if minutes > 0 else ceil(left_ms / 1000))


def at_time(t_ms: int, stamp: Stamp) -> str:
    """A time of day with its word."""
    return f"at {clock_time(t_ms, stamp)}"


DRIFT_MS = 1000
"""How far wall clock and bench time may drift apart before 09:00 reads 08:59 (the program's own
guess).
"""


def clock_time(t_ms: int, stamp: Stamp, *, seconds: bool = False) -> str:
    """The time of day at a bench time, with the day if it isn't today.

    Args:
        t_ms: the bench time.
        stamp: now. It defines today; a plan's start never does.
        seconds: show seconds, too.
    """
    now, then = _moments(stamp, t_ms if seconds else t_ms + DRIFT_MS)
    if now is None or then is None:
        return NO_TIME
    return times.moment(then, now, seconds=seconds)


def clock_times(from_ms: int, to_ms: int, stamp: Stamp) -> str:
    """``from`` to ``to`` as times of day; the second has a day only if it is a different one.

    Args:
        from_ms: bench time.
        to_ms: bench time.
        stamp: both clocks now.
    """
    first, last = (_moments(stamp, t_ms + DRIFT_MS)[1] for t_ms in (from_ms, to_ms))
    if first is None or last is None or first.date() != last.date():
        return f"{clock_time(from_ms, stamp)} to {clock_time(to_ms, stamp)}"
    return f"{clock_time(from_ms, stamp)} to {times.time_of_day(last)}"


def tick_words(zero: Stamp, from_s: int, to_s: int) -> Callable[[int], str]:
    """How to write the times above the lanes of a plan: with the day if there are several.

    Args:
        zero: the moment the plan begins.
        from_s: where the lanes begin, in seconds of the plan.
        to_s: where they end.
    """
    first, last = (moment_at(zero.wall_ms + s * 1000, zero) for s in (from_s, to_s))
    several = first is None or last is None or first.date() != last.date()

    def words(seconds: int) -> str:
        then = moment_at(zero.wall_ms + seconds * 1000, zero)
        if then is None:
            return NO_TIME
        day = f"{times.DAYS[then.weekday()]} " if several else ""
        return day + times.time_of_day(then)

    return words


def _moments(stamp: Stamp, t_ms: int) -> tuple[datetime | None, datetime | None]:
    """Now, and a bench time as shop wall-clock time."""
    then_ms = stamp.wall_ms + t_ms - stamp.noted_ms
    return moment_at(stamp.wall_ms, stamp), moment_at(then_ms, stamp)


def wall_clock(stamp: Stamp) -> str:
    """The time of day now, to the second."""
    now = moment_at(stamp.wall_ms, stamp)
    return times.time_of_day(now, seconds=True) if now is not None else NO_TIME


def _first_stop(bench: Bench, action: Action) -> str | None:
    """Where the hands go first: the station of the work itself, or the one where the move ends.

    A part on hold that is pulled out goes nowhere.
    """
    if isinstance(action.command, TakeOut):
        return None
    if action.kind is ActionKind.BEGIN and action.part is not None and action.index is not None:
        step = bench.recipe_of(bench.parts[action.part]).step[action.index]
        return step.at or action.to_station
    return action.to_station


_VERBS = {
    ActionKind.MIX: "MIX",
    ActionKind.HEAT: "HEAT",
    ActionKind.ASK: "CHECK",
    ActionKind.MAKE_UP: "MAKE UP",
    ActionKind.COOL: "COOL",
    ActionKind.START: "START",
    ActionKind.RESUME: "RESUME",
    ActionKind.HAZARD: "GEAR UP",
    ActionKind.READING: "READ",
    ActionKind.FINISH: "DONE",
    ActionKind.COMPLETE: "END RUN",
}


def verb(action: Action) -> str:
    """The action as one or two words."""
    if action.kind is ActionKind.BEGIN and action.from_station == TIMER:
        return "TIMER"
    if action.kind is ActionKind.BEGIN:
        if action.stays:
            return "TEND"
        if action.starts:
            return "START"
        return "PICK UP" if action.from_station is None or action.is_dry else "PULL"
    if action.kind is ActionKind.FINISH and action.to_station is not None:
        return "LOAD"
    if action.kind is ActionKind.RESUME and action.command is None:
        return "DECIDE"
    if action.kind is ActionKind.ANSWER:
        return action.check.verb if action.check is not None else "CHECK"
    return _VERBS[action.kind]


IN_WORD, LATE_WORD = "IN ", "LATE "
"""Before the time left and the time late: a bare figure could be either."""


def time_word(at: str) -> tuple[str, str]:
    """The word before a time, and the time without it: ``LATE 0:40``, ``IN 4:10``, ``NOW``."""
    word = next((word for word in (IN_WORD, LATE_WORD) if at.startswith(word)), "")
    return word, at.removeprefix(word)


def large_line(bench: Bench, action: Action, stamp: Stamp) -> tuple[str, str]:
    """What the large line says, and its time: ``PULL #2``, ``IN 4:10``; ``READ SALTS``, ``NOW``.

    Before it is time, only a pull counts down under its own name, and only for an hour; everything
    else is a wait, which ``then_words`` explains.

    Args:
        bench: the run's bench.
        action: the action.
        stamp: both clocks now.
    """
    at = when(action, stamp)
    left_ms = action.due_ms - stamp.noted_ms
    counts_down = action.kind in (ActionKind.BEGIN, ActionKind.FINISH) and left_ms < HOUR_MS
    if at[:1].isdigit() and not counts_down:
        return "WAIT", at
    return action_words(bench, action), f"{IN_WORD}{at}" if at[:1].isdigit() else at


def action_words(bench: Bench, action: Action) -> str:
    """Verb and part or place: ``PULL #2``, ``READ SALTS``, ``GEAR UP: SALTS``."""
    word = verb(action)
    place = place_of(bench, action)
    if place is not None:
        return f"{word} {place.station.short_name or ''}".rstrip()
    if action.kind is ActionKind.HAZARD:
        name = _guarded(bench, action)
        return f"{word}: {name}" if name else word
    return f"{word} #{bench.parts[action.part].number}" if action.part is not None else word


def place_of(bench: Bench, action: Action) -> Place | None:
    """The place that is read, heated, made up or mixed for; None for any other action."""
    mixes = action.kind is ActionKind.MIX
    name = mixed_at(action.item) if mixes else action.to_station
    return bench.places.get(name or "") if mixes or action.kind in AT_PLACE else None


def _guarded(bench: Bench, action: Action) -> str:
    """The short name of the one place a hazard is about; empty if there are several."""
    before = action.hazard.before if action.hazard is not None else ()
    steps = {step.id: step.at for recipe in bench.recipes.values() for step in recipe.step}
    places = {steps.get(name) or name for name in before} & bench.places.keys()
    return bench.places[places.pop()].station.short_name if len(places) == 1 else ""


def bar_words(bench: Bench, action: Action | None) -> str:
    """What keeps a part out of its next place, in words; empty if nothing does."""
    if action is None or action.blocked is not None:
        return action.blocked or "" if action is not None else ""
    first = action.kind in (ActionKind.READING, ActionKind.HAZARD)
    return f"{action_words(bench, action)} first" if first else ""


def then_words(bench: Bench, action: Action, stamp: Stamp) -> str:
    """What a wait is for, and its time of day: ``Then READ SALTS at 18:50``.

    Args:
        bench: the run's bench.
        action: the action.
        stamp: both clocks now.
    """
    return f"Then {action_words(bench, action)} {at_time(action.due_ms, stamp)}"


def way(bench: Bench, action: Action, *, short: bool = False) -> str:
    """From where to where; for a bath to mix, what goes into it.

    Args:
        bench: the run's bench.
        action: the action.
        short: whether room is short: where a part goes matters more than where it is.
    """
    if action.kind is ActionKind.MIX:
        return mix_words(bench, action)
    if action.kind is ActionKind.READING:
        return f"before {bench.parts[action.part].label} goes in" if action.part else "due again"
    if action.kind is ActionKind.RESUME and action.part is not None:
        return "on hold"
    if action.kind is ActionKind.ANSWER and action.part is not None:
        return steps_words(bench, action)
    if action.kind is ActionKind.COOL and action.to_station is not None:
        return out_of_window(bench.places[action.to_station]) or ""
    if action.kind in (ActionKind.HEAT, ActionKind.MAKE_UP) and action.to_station is not None:
        return bench.places[action.to_station].station.title
    if action.from_station == TIMER:
        return ""
    source = bench.places[action.from_station].station.title if action.from_station else ""
    if action.stays:
        return f"in {source}"
    first_stop = _first_stop(bench, action)
    target = bench.places[first_stop].station.title if first_stop else ""
    if source and target:
        name = bench.places[action.from_station or ""].station.short_name
        source = name if short and name else source
        return f"{source} → {target}"
    if source:
        return f"from {source}"
    return f"to {target}" if target else ""


def mix_words(bench: Bench, action: Action) -> str:
    """What goes into a mix and how much, in the order of the work, for any vessel."""
    mixes = (item.mix for item in setup_items(bench) if item.key == action.item)
    return ", ".join(
        f"{item.what} {rate(item, mix)}".rstrip() for mix in mixes if mix for item in mix.of
    )


def work(bench: Bench, action: Action) -> str:
    """The work in the recipe's words."""
    if action.title:
        return action.title
    if action.kind is ActionKind.COOL:
        return first_orders(action.text)
    if action.kind is ActionKind.HAZARD and action.hazard is not None:
        return headed(action.hazard.level, action.hazard.title)
    if action.kind is ActionKind.READING and action.to_station is not None:
        station = bench.places[action.to_station].station
        window = station.temperature
        limits = f", {window.min} to {window.max}" if window is not None else ""
        written = _window_written(bench, station.id)
        if window is not None and written is not None and written.min.unit != window.min.unit:
            limits += f" ({written.min} to {written.max})"
        return f"Temperature of {station.title}{limits}"
    if action.kind is ActionKind.ANSWER and action.check is not None:
        return action.check.ask
    if action.kind is ActionKind.RESUME and action.part is not None:
        held = (bench.parts[action.part].held or "").removesuffix(".")
        return f"{held}. Press M: send back, scrap, take out"
    if action.part is None:
        count = "1 part" if len(bench.parts) == 1 else f"{len(bench.parts)} parts"
        return {
            ActionKind.START: f"{count}: {', '.join(part.called for part in bench.parts.values())}",
            ActionKind.RESUME: f"The run is held: {bench.held}",
            ActionKind.COMPLETE: "Every part is done. End the run and keep the record.",
        }.get(action.kind, "")
    if action.in_danger and action.from_station is not None:
        wrong = out_of_window(bench.places[action.from_station])
        after = (
            "Rinse it if it is wet; start nothing else"
            if isinstance(action.command, TakeOut)
            else ""
        )
        steps = after or steps_words(bench, action)
        return f"{wrong}. {steps}"
    if isinstance(action.command, TakeOut):
        return "On hold: pull it out, rinse it if it is wet; start nothing else"
    if action.index is None:
        timer = action.from_station == TIMER
        return "A simple timer" if timer else "The last pull; then the part is done"
    return steps_words(bench, action)


def _window_written(bench: Bench, station: str) -> Window | None:
    """The window of a station, as in its recipe."""
    stations = (entry for recipe in bench.recipes.values() for entry in recipe.station)
    return next((entry.temperature for entry in stations if entry.id == station), None)


def steps_of(bench: Bench, action: Action) -> Sequence[Step]:
    """The steps of a part's action: several if one press ends them all."""
    if action.part is None or action.index is None:
        return ()
    part = bench.parts[action.part]
    in_hand = action.kind in (ActionKind.FINISH, ActionKind.ANSWER)
    first = part.step if in_hand else action.index
    return bench.recipe_of(part).step[first : action.index + 1]


def steps_words(bench: Bench, action: Action) -> str:
    """The titles of the steps of an action, in the order of the work."""
    return ". ".join(step.title for step in steps_of(bench, action))


def work_page(bench: Bench, action: Action | None) -> tuple[str, str] | None:
    """The recipe's title and text for the work shown; None if there are none."""
    if action is None:
        return None
    if action.kind in (ActionKind.MIX, ActionKind.HEAT, ActionKind.MAKE_UP):
        amounts = "\n\nKey K: the amounts for your vessel." if action.kind is ActionKind.MIX else ""
        return action.title, (action.text or "The recipe has no more text.") + amounts
    steps = steps_of(bench, action)
    if not steps:
        return None
    text = "\n\n".join(step.text for step in steps if step.text)
    return steps_words(bench, action), text or "The recipe has no more text."


SETUP_WORDS = {
    ActionKind.MIX: "SPACE: it is mixed   E: not now   K: for your vessel",
    ActionKind.HEAT: "SPACE: the heat is on   E: not now",
}


def start_words(t_ms: int, stamp: Stamp) -> str:
    """A planned start with its day: ``START at Sat 09:00``."""
    return f"START {at_time(t_ms, stamp)}"


def confirm_words(bench: Bench, action: Action, *, reading: bool = True) -> str:
    """What the confirm key, or the answer keys, will do now.

    Args:
        bench: the run's bench.
        action: the action.
        reading: also offer to read the recipe's words.
    """
    kind = action.kind
    label = bench.parts[action.part].label if action.part is not None else ""
    if kind is ActionKind.START and action.command is None:
        return "E: set up and start now instead"
    if kind is ActionKind.START:
        return "SPACE starts the run"
    if kind is ActionKind.RESUME and action.command is None:
        return "M: send it back, scrap it, or resume it"
    if kind is ActionKind.RESUME:
        return f"SPACE resumes {label or 'the run'}"
    if kind is ActionKind.COMPLETE:
        return "SPACE ends the run"
    if kind is ActionKind.HAZARD:
        wears = "SPACE: I have read this and have the gear on"
        return wears if reading else "SPACE shows the hazard and its gear"
    if kind is ActionKind.READING:
        unit, saved = reading_unit(bench, action), "SPACE saves it"
        if digits_in_range(window_read(bench, action)):
            saved = "saved at once in range"
        return (
            f"Type the reading in {unit}, {saved}   E: no reading"
            if reading
            else "SPACE reads it now"
        )
    if kind in SETUP_WORDS:
        return SETUP_WORDS[kind]
    if kind is ActionKind.COOL:
        return "SPACE: that is done"
    if kind is ActionKind.ASK:
        unit = reading_unit(bench, action)
        return f"{type_it(unit)}, SPACE saves it   E: not now"
    if kind is ActionKind.MAKE_UP:
        ends = isinstance(action.command, EndMakeUp)
        return "SPACE: it is made up, the heat is on" if ends else "SPACE: the heat is off"
    if kind is ActionKind.ANSWER and action.check is not None:
        return answer_words(action.check, known_of(bench, bench.parts[action.part or ""]))
    if kind is ActionKind.FINISH:
        where = bench.places[action.to_station].station.title if action.to_station else ""
        return f"SPACE: {label} is in {where}" if where else f"SPACE: {label} is done"
    if action.from_station == TIMER:
        return f"SPACE: {label} is done"
    if action.stays:
        return f"SPACE as you start; leave {label} where it is"
    if isinstance(action.command, Begin) and action.command.loads and action.to_station:
        return f"SPACE once {label} is in {bench.places[action.to_station].station.title}"
    return f"SPACE as you {verb(action).lower()} {label}"


def type_it(unit: str) -> str:
    """What to type for the figure asked for: ``Type it (F)``."""
    return f"Type it ({unit})" if unit else "Type it"


def answer_ends(bench: Bench, action: Action | None, now_ms: int) -> bool:
    """Whether answering the question shown also ends the work in hand.

    Args:
        bench: the run's bench.
        action: the question shown.
        now_ms: bench time.
    """
    if action is None or action.kind is not ActionKind.ANSWER or action.part is None:
        return False
    part, steps = bench.parts[action.part], steps_of(bench, action)
    if not steps or bench.phase is not RunPhase.RUNNING or part.held is not None:
        return False
    step = steps[-1]
    last = len(step.check) if step is not bench.step_of(part) else len(bench.open_checks(part))
    return last == 1 and ends_with_answers(bench, part, step, now_ms)


def answer_words(check: Check, properties: Mapping[str, Quantity]) -> str:
    """The keys that answer a check."""
    match check.form(properties):
        case AskYesNo():
            return "1 or Y yes     2 or N no"
        case AskOption(options):
            return "   ".join(f"{i} {option}" for i, option in enumerate(options, start=1))
        case AskFigure(unit, limits) as figure:
            at_once = f", from {figure.whole_from} at once" if figure.most is not None else ""
            return f"{limits}   {type_it(unit)}, SPACE saves it{at_once}".strip()
        case AskLine(purpose, skip):
            return f"SPACE opens a line {purpose}" + (f"   E: {skip}" if skip else "")
        case form:
            assert_never(form)


def window_read(bench: Bench, action: Action) -> Window | None:
    """The window of the bath that an action reads; None for any other action."""
    if action.kind is not ActionKind.READING or action.to_station is None:
        return None
    return bench.places[action.to_station].station.temperature


def digits_in_range(window: Window | None) -> int:
    """How many digits every whole reading in a window has; 0 if that varies or is one."""
    if window is None:
        return 0
    low, high = (str(int(limit.value)) for limit in (window.min, window.max))
    return len(low) if low.isdecimal() and len(low) == len(high) > 1 else 0


def is_whole_reading(typed: str, window: Window | None) -> bool:
    """Whether the typed text is a reading in range that no further digit could continue."""
    if window is None or not typed.isdecimal() or len(typed) != digits_in_range(window):
        return False
    return bool(window.min.value <= int(typed) <= window.max.value)


def reading_unit(bench: Bench, action: Action) -> str:
    """The unit a figure is typed in."""
    if isinstance(action.form, AskFigure):
        return action.form.unit
    place = bench.places[action.to_station or ""]
    return place.station.temperature.min.unit if place.station.temperature is not None else "C"


def with_unit(text: str, unit: str) -> str:
    """The typed text, with a unit if it is a bare figure."""
    text = text.strip()
    return f"{text} {unit}" if re.fullmatch(r"-?\d+([.,]\d+)?", text) else text


def short_temperature(text: str) -> str:
    """A reading with at most one decimal: ``143.04 C`` -> ``143 C``."""
    number, _, unit = text.partition(" ")
    try:
        return f"{show_number(float(number), 1)} {unit}"
    except ValueError:
        return text


def first_orders(text: str) -> str:
    """The first two sentences of a remedy, and the key that shows all of it."""
    orders = re.split(r"(?<=[.!?])\s+", " ".join(text.split()))
    return f"{' '.join(orders[:2])} W: the rest" if text else ""


def remedy(place: Place) -> str:
    """What the recipe says to do about a place that is out of range; empty if nothing."""
    reading = place.reading
    if reading is None or reading.verdict == "in":
        return ""
    station = place.station
    return (station.too_cold if reading.verdict == "low" else station.too_hot) or ""


def late_on_hold(bench: Bench, now_ms: int) -> list[str]:
    """Parts on hold, or in a held run, that are past their max: chemistry doesn't stop."""
    lines = []
    for part in bench.parts.values():
        window = window_of(bench, part)
        max_ms = window.max_ms if window is not None else None
        on_hold = part.held is not None or bench.phase is RunPhase.HELD
        if on_hold and max_ms is not None and now_ms > max_ms and part.station is not None:
            where = bench.places[part.station].station.title
            lines.append(f"ON HOLD BUT LATE {elapsed(max_ms, now_ms)}: {part.name} in {where}")
    return lines
