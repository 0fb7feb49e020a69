"""Times and actions in the fewest words that can't be misread."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, timezone

from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.model import Check, Choice, NoteCheck, ReadingCheck
from benchtimer.run.agenda import Action, ActionKind, out_of_window
from benchtimer.run.answers import ceiling_of
from benchtimer.run.commands import TakeOut
from benchtimer.run.state import Bench, PartPhase, RunPhase
from benchtimer.store.log import Stamp

NO_TIME = "--:--"
"""What stands for a time of day that no calendar has."""


def span(ms: int) -> str:
    """A span for reading across a room: ``0:42``, ``12:05``, ``7 h 12``."""
    seconds = abs(ms) // 1000
    if seconds >= 3600:
        return f"{seconds // 3600} h {seconds // 60 % 60:02}"
    return f"{seconds // 60}:{seconds % 60:02}"


def countdown(due_ms: int, now_ms: int) -> str:
    """Time to go, rounded up so that it reads 0:00 only when it is."""
    return span(max(0, -(-(due_ms - now_ms) // 1000)) * 1000)


def when(action: Action, stamp: Stamp) -> str:
    """When an action is due: a countdown, NOW, or LATE with the time since."""
    now_ms = stamp.noted_ms
    if action.latest_ms is not None and now_ms > action.latest_ms:
        return f"LATE {span(now_ms - action.latest_ms)}"
    if action.kind in (ActionKind.START, ActionKind.COMPLETE, ActionKind.RESUME):
        return ""
    return "NOW" if now_ms >= action.due_ms else countdown(action.due_ms, now_ms)


def clock_time(t_ms: int, stamp: Stamp) -> str:
    """The time of day at a bench time, with the day if it isn't today."""
    now = _moment(stamp.wall_ms, stamp)
    then = _moment(stamp.wall_ms + t_ms - stamp.noted_ms, stamp)
    if now is None or then is None:
        return NO_TIME
    today = now.date()
    if then.date() == today:
        return then.strftime("%H:%M")
    if (then.date() - today).days == 1:
        return then.strftime("tomorrow %H:%M")
    return then.strftime("%a %d %b %H:%M")


def wall_clock(stamp: Stamp) -> str:
    """The time of day now, to the second."""
    now = _moment(stamp.wall_ms, stamp)
    return now.strftime("%H:%M:%S") if now is not None else NO_TIME


def _moment(wall_ms: int, stamp: Stamp) -> datetime | None:
    """A Unix time on the shop's wall; None if a wrong clock has left the calendar."""
    zone = timezone(timedelta(seconds=stamp.offset_s))
    try:
        return (datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=wall_ms)).astimezone(zone)
    except OverflowError:
        return None


def _first_stop(bench: Bench, action: Action) -> str | None:
    """Where the hands go first: the station of the work itself, else the one the move ends at.

    A part on hold that is lifted out goes to none.
    """
    if isinstance(action.command, TakeOut):
        return None
    if action.kind is ActionKind.BEGIN and action.part is not None and action.index is not None:
        step = bench.recipe_of(bench.parts[action.part]).step[action.index]
        return step.at or action.to_station
    return action.to_station


_VERBS = {
    ActionKind.START: "START",
    ActionKind.RESUME: "RESUME",
    ActionKind.CAUTION: "GEAR",
    ActionKind.READING: "READ",
    ActionKind.FINISH: "DONE",
    ActionKind.COMPLETE: "CLOSE",
}


def verb(action: Action) -> str:
    """The action as one or two words."""
    if action.kind is ActionKind.BEGIN:
        return "LIFT" if action.from_station is not None else "TAKE"
    if action.kind is ActionKind.FINISH and action.to_station is not None:
        return "PUT IN"
    if action.kind is ActionKind.ANSWER:
        if isinstance(action.check, ReadingCheck):
            return "READ"
        return "NOTE" if isinstance(action.check, NoteCheck) else "LOOK"
    return _VERBS[action.kind]


def way(bench: Bench, action: Action) -> str:
    """From where to where."""
    if action.kind is ActionKind.READING:
        return f"before {action.part} goes in" if action.part is not None else "on its rhythm"
    if action.kind is ActionKind.RESUME and action.part is not None:
        return "on hold"
    if action.kind is ActionKind.ANSWER and action.part is not None:
        return bench.step_of(bench.parts[action.part]).title
    source = bench.places[action.from_station].station.title if action.from_station else ""
    first_stop = _first_stop(bench, action)
    target = bench.places[first_stop].station.title if first_stop else ""
    if source and target:
        return f"{source} → {target}"
    if source:
        return f"from {source}"
    return f"→ {target}" if target else ""


def work(bench: Bench, action: Action) -> str:
    """What is to be done, in the recipe's words."""
    if action.kind is ActionKind.CAUTION and action.caution is not None:
        return action.caution.title
    if action.kind is ActionKind.READING and action.to_station is not None:
        station = bench.places[action.to_station].station
        window = station.temperature
        told = f", {window.low} to {window.high}" if window is not None else ""
        return f"Temperature of {station.title}{told}"
    if action.kind is ActionKind.ANSWER and action.check is not None:
        return action.check.ask
    if action.kind is ActionKind.RESUME and action.part is not None:
        held = bench.parts[action.part].held
        return f"{held}. M decides: send back, scrap, take out"
    if action.part is None:
        count = "1 part" if len(bench.parts) == 1 else f"{len(bench.parts)} parts"
        return {
            ActionKind.START: f"{count}: {', '.join(bench.parts)}",
            ActionKind.RESUME: f"The run is held: {bench.held}",
            ActionKind.COMPLETE: "Every part is through. Close the run and keep the record.",
        }.get(action.kind, "")
    if isinstance(action.command, TakeOut):
        return "On hold: lift it out of there; nothing is begun"
    if action.index is None:
        return "The last lift: then it is done"
    return bench.recipe_of(bench.parts[action.part]).step[action.index].title


def confirm_words(bench: Bench, action: Action, *, reading: bool = True) -> str:
    """What the confirm key, or the answer keys, will do now."""
    kind = action.kind
    if kind is ActionKind.START:
        return "SPACE starts the run"
    if kind is ActionKind.RESUME:
        return f"SPACE goes on with {action.part or 'the run'}"
    if kind is ActionKind.COMPLETE:
        return "SPACE closes the run"
    if kind is ActionKind.CAUTION:
        wears = "SPACE: I have read this and wear the gear"
        return wears if reading else "SPACE shows the caution and its gear"
    if kind is ActionKind.READING:
        typed = f"Type it in {reading_unit(bench, action)}, SPACE writes it down"
        return typed if reading else "SPACE reads it now"
    if kind is ActionKind.ANSWER and action.check is not None:
        return answer_words(action.check, bench.parts[action.part or ""].properties)
    if kind is ActionKind.FINISH:
        where = bench.places[action.to_station].station.title if action.to_station else ""
        return f"SPACE: {action.part} is in {where}" if where else f"SPACE: {action.part} is done"
    verb_word = "lift" if action.from_station else "take"
    return f"SPACE: I {verb_word} {action.part} now"


def answer_words(check: Check, properties: Mapping[str, Quantity]) -> str:
    """The keys that answer a check."""
    if isinstance(check, Choice):
        return "   ".join(f"{i} {option}" for i, option in enumerate(check.options, start=1))
    if isinstance(check, ReadingCheck):
        ceiling = ceiling_of(check, properties)
        limits = [("from", check.low), ("to", check.high), ("never above", ceiling)]
        told = " ".join(f"{word} {limit}" for word, limit in limits if limit is not None)
        return f"{told}   Type it in {check.unit_symbol}, SPACE writes it down".strip()
    return (
        "SPACE opens a line to write"
        if isinstance(check, NoteCheck)
        else "1 or Y yes     2 or N no"
    )


def reading_unit(bench: Bench, action: Action) -> str:
    """The unit a figure is typed in."""
    if isinstance(action.check, ReadingCheck):
        return action.check.unit_symbol
    place = bench.places[action.to_station or ""]
    return place.station.temperature.low.unit if place.station.temperature is not None else "C"


def phase_words(bench: Bench, name: str) -> str:
    """Where a part is, in words."""
    part = bench.parts[name]
    if part.held is not None:
        return f"HELD: {part.held}"
    if part.phase is PartPhase.DWELLING and part.station is not None:
        return f"in {bench.places[part.station].station.title}"
    if part.phase is PartPhase.IN_HAND:
        return f"in hand: {bench.step_of(part).title}"
    if part.phase is PartPhase.WAITING and part.began_ms is None:
        return "not begun"
    if part.phase is PartPhase.WAITING:
        return f"in the air, next: {bench.step_of(part).title}"
    return part.phase.value


def short_temperature(text: str) -> str:
    """A reading without needless spaces: ``290 F`` -> ``290F``."""
    number, _, unit = text.partition(" ")
    try:
        return f"{show_number(float(number), 1)}{unit}"
    except ValueError:
        return text


def baths_out(bench: Bench) -> list[str]:
    """Every bath whose last reading is out of its window, with what the recipe says of it."""
    told = []
    for place in bench.places.values():
        wrong = out_of_window(place)
        if wrong is not None:
            inside = [part.name for part in bench.inside(place.station.id)]
            parts = f" with {', '.join(inside)} in it" if inside else ""
            window = place.station.temperature
            limits = f" ({window.low} to {window.high})" if window is not None else ""
            told.append(f"{wrong.upper()}{limits}{parts}. {place.station.text or ''}".strip())
    return told


def late_on_hold(bench: Bench, now_ms: int) -> list[str]:
    """Parts on hold, or in a held run, whose dwell has gone past its end: chemistry goes on."""
    told = []
    for part in bench.parts.values():
        dwell = bench.step_of(part).dwell
        on_hold = part.held is not None or bench.phase is RunPhase.HELD
        if not on_hold or part.phase is not PartPhase.DWELLING or dwell is None:
            continue
        over_ms = now_ms - part.since_ms - (dwell.most_s or 0) * 1000
        if dwell.most_s is not None and over_ms > 0 and part.station is not None:
            where = bench.places[part.station].station.title
            told.append(f"ON HOLD BUT LATE {span(over_ms)}: {part.name} in {where}")
    return told
