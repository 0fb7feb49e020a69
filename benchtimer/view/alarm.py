"""When an alarm rings, how loudly, and with which words.

An alarm names its action. It repeats, grows from due to overdue, and stops when the action is
done (from ISA-18.2 / IEC 62682). Several at once make one message in order, never a flood (EEMUA
191). While you work at the tanks, work that you will get to anyway does not ring until it is
nearly too late.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence

from rich.cells import cell_len

from benchtimer.bench.moment import Moment
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import CRITICAL_S
from benchtimer.run.run_state import Bench, PartPhase, RunPhase
from benchtimer.run.setup import planned_start_ms, set_up_from_ms, setup_items, unread_page
from benchtimer.times import elapsed
from benchtimer.values import dataclass
from benchtimer.view.words import AT_PLACE, verb

DUE, OVERDUE = "due", "overdue"

OVERDUE_S = 120
"""Work without a window is overdue this long after it comes due."""

REPEAT_S = {DUE: 30.0, OVERDUE: 10.0}
"""How often an alarm repeats until it is done."""

ATTENDED_S = 20.0
"""For this long after a press you are at the screen, so only overdue work rings."""

SILENCE_S = 60
"""How long one press of the silence key lasts."""

CALL_S = 60.0
"""How often your own alarm command runs again while work is overdue."""

HURRY = 10
"""In practice the bell speeds up with the clock, up to this factor."""

NAMED = 3
"""How many alarms one message names at most; the others are counted."""

ROOM = 10**6
"""Columns for a message that can be as long as it needs."""

PROBED = "bath"
"""Takes the place of an action's kind in an alarm's identity: a probe reads a bath out of range."""

PART = "part"
NOUNS = {
    ActionKind.READING: "reading",
    ActionKind.HAZARD: "gear page",
    **dict.fromkeys((ActionKind.MAKE_UP, ActionKind.HEAT, ActionKind.COOL, PROBED), "bath"),
    **dict.fromkeys(("start", "setup"), "run"),
}
"""What an alarm is counted as, by the kind in its identity; any other is a part."""

IN_HAND = frozenset({ActionKind.FINISH, ActionKind.ANSWER})
"""Work in hand also rings, once it takes so long that you must have forgotten the key."""

ALARMING = frozenset(
    {
        ActionKind.BEGIN,
        ActionKind.READING,
        ActionKind.HAZARD,
        ActionKind.MAKE_UP,
        ActionKind.HEAT,
        ActionKind.COOL,
    }
)
"""Actions that bring you to the bench."""


@dataclass(frozen=True, slots=True)
class Alarm:
    """One action that needs you at the bench.

    Attributes:
        run: the run it is in.
        about: its identity.
        level: due, or overdue.
        words: what to do, with which part, from where.
        over_ms: time past the end of its window, or past its due time if it has no window.
        spoils: whether it has such a window.
        brief: its words without the place, for a short line; empty if they are the same.
    """

    run: str
    about: tuple[str, str]
    level: str
    words: str
    over_ms: int
    spoils: bool = True
    brief: str = ""

    @property
    def text(self) -> str:
        """The alarm in one line."""
        if self.level != OVERDUE:
            return self.words
        over = elapsed(self.over_ms / 1000)
        return f"{self.words}, {f'{over} late' if self.is_late else f'due for {over}'}"

    @property
    def noun(self) -> str:
        """What it is counted as among several."""
        return NOUNS.get(self.about[0], PART)

    @property
    def is_late(self) -> bool:
        """Whether a part is past its window."""
        return self.level == OVERDUE and self.spoils and self.noun == PART


@dataclass(frozen=True, slots=True)
class Call:
    """What should ring now.

    Attributes:
        message: one message for everything due, most urgent first.
        level: the worst level.
        outside: whether the shop's own command also runs.
    """

    message: str
    level: str
    outside: bool


def alarms_at(moment: Moment) -> list[Alarm]:
    """All alarms of all runs, in the order of the agenda.

    Gear for several parts rings once. A run that is being set up rings only for its setup and its
    planned start.
    """
    shop, now_ms = moment.shop, moment.now_ms
    benches = {run: shop.bench(run) for run in shop.runs}
    begun = {run for run, bench in benches.items() if bench.phase is not RunPhase.IDLE}
    actions = [a for a in moment.actions if a.run in begun]
    forgotten = {(a.run, a.part) for a in actions if a.kind in IN_HAND and _calls(a, now_ms)}
    in_hand = [
        (run, part.name)
        for run, part in shop.parts()
        if part.phase is PartPhase.IN_HAND and run in begun
    ]
    at_work = sum(at not in forgotten for at in in_hand) >= shop.hands
    calling = [
        _alarm(benches[action.run], action, now_ms)
        for action in actions
        if _calls(action, now_ms)
        and not (at_work and not _presses(benches[action.run], action, now_ms))
    ]
    once = {(alarm.run, alarm.about): alarm for alarm in reversed(calling)}
    probed = [
        alarm
        for run in shop.runs
        if run in begun
        for alarm in _baths_out_by_probe(run, benches[run], now_ms, shop.firsts(run))
    ]
    planned = [
        alarm
        for run in shop.runs
        if run not in begun
        for alarm in _planned(run, benches[run], now_ms)
    ]
    return [*probed, *list(once.values())[::-1], *planned]


def _baths_out_by_probe(
    run: str, bench: Bench, now_ms: int, only: Collection[str]
) -> Iterator[Alarm]:
    """Baths in use that a probe has read out of range, because you may not have seen it.

    A bath that is still heating up is low and does not ring.

    Args:
        run: the run's name.
        bench: its bench.
        now_ms: bench time.
        only: ids of the places that no older run rings for.
    """
    for name in only:
        place = bench.places[name]
        reading, window = place.reading, place.station.temperature
        if reading is None or not reading.probe or reading.verdict == "in" or window is None:
            continue
        inside = bench.occupants(name)
        if reading.verdict == "low" and (place.ready_ms is None or not inside):
            continue
        low = reading.verdict == "low"
        limit = f"below the {window.min} min" if low else f"above the {window.max} max"
        words = f"{place.station.title} reads {reading.quantity}, {limit}. W: what to do"
        first_ms = next((r.t_ms for r in reversed(place.readings) if r.verdict == "in"), 0)
        since_ms = next((r.t_ms for r in place.readings if r.t_ms > first_ms), now_ms)
        level = OVERDUE if inside or reading.verdict == "above-ceiling" else DUE
        yield Alarm(run, (PROBED, name), level, words, now_ms - since_ms, spoils=bool(inside))


def _planned(run: str, bench: Bench, now_ms: int) -> Iterator[Alarm]:
    """The planned start of a run that is being set up; it spoils nothing, and is never overdue."""
    start_ms = planned_start_ms(bench)
    if start_ms is None:
        return
    if now_ms >= start_ms:
        yield Alarm(run, ("start", ""), DUE, f"START {bench.title}", 0, spoils=False)
        return
    pending = unread_page(bench, now_ms) or next(setup_items(bench), None)
    if pending and now_ms >= set_up_from_ms(bench, start_ms):
        yield Alarm(run, ("setup", ""), DUE, f"SET UP {bench.title}", 0, spoils=False)


def _calls(action: Action, now_ms: int) -> bool:
    if action.kind in IN_HAND:
        return now_ms - action.due_ms > max(OVERDUE_S, action.move_s) * 1000
    return action.kind in ALARMING and (action.is_due(now_ms) or action.is_late(now_ms))


def _presses(bench: Bench, action: Action, now_ms: int) -> bool:
    """Whether an action rings even when your hands are full."""
    closes = action.latest_ms is not None and action.latest_ms - CRITICAL_S * 1000 <= now_ms
    return closes or action.in_danger or _over_ms(bench, action, now_ms) > 0


def _over_ms(bench: Bench, action: Action, now_ms: int) -> int:
    """Milliseconds overdue; 0 or less if it is not.

    A page or reading counts from the last press, because it comes due before it could be done.
    """
    if action.latest_ms is not None and not (action.in_danger and now_ms <= action.latest_ms):
        return now_ms - action.latest_ms
    if action.in_danger:
        return max(1, now_ms - action.due_ms)
    ahead = action.part is not None and action.kind not in IN_HAND
    since_ms = now_ms - (max(action.due_ms, bench.touched_ms) if ahead else action.due_ms)
    return since_ms if since_ms > OVERDUE_S * 1000 else 0


def _alarm(bench: Bench, action: Action, now_ms: int) -> Alarm:
    over_ms = _over_ms(bench, action, now_ms)
    reads = action.kind in AT_PLACE
    station = action.to_station if reads else action.from_station
    where = bench.places[station].station.title if station is not None else ""
    brief = ""
    if reads:
        words, about = f"{verb(action)} {where}{_for_part(bench, action)}", station or ""
    elif action.kind is ActionKind.HAZARD and action.hazard is not None:
        about = action.hazard.title
        words = f"GEAR UP: {about}{_for_part(bench, action)}"
    else:
        about = action.part or ""
        number = f"#{bench.parts[about].number} " if about in bench.parts else ""
        brief = f"{verb(action)} {number}{about}"
        words = f"{brief} from {where}" if where else brief
    level = OVERDUE if over_ms > 0 else DUE
    spoils = action.latest_ms is not None and not (over_ms > 0 and not action.is_late(now_ms))
    return Alarm(action.run, (action.kind.value, about), level, words, over_ms, spoils, brief)


def _for_part(bench: Bench, action: Action) -> str:
    """The part that a page or a reading is for.

    A part past its window waits for neither: it is pulled.
    """
    part = bench.parts.get(action.part or "")
    return f", for {part.label}" if part is not None else ""


def message_of(alarms: Sequence[Alarm], room: int = ROOM) -> str:
    """One message for all alarms, in order; empty if there is none.

    Several are counted first, late parts apart from the rest, then named as far as there is room.

    Args:
        alarms: the alarms, in order.
        room: columns for the message; a single alarm may need more.
    """
    if not alarms:
        return ""
    first = alarms[0]
    if len(alarms) == 1:
        late = f"LATE {elapsed(first.over_ms / 1000)}: {first.words}"
        return late if first.is_late else f"NOW: {first.text}"
    head = _counts(alarms)
    pieces = [f"{i}. {alarm.text}" for i, alarm in enumerate(alarms[:NAMED], start=1)]
    for count in range(len(pieces), 0, -1):
        more = [f"and {len(alarms) - count} more"] if len(alarms) > count else []
        text = f"{head}: {'; '.join([*pieces[:count], *more])}"
        if cell_len(text) <= room:
            return text
    first_words = f"{head}: first {first.brief or first.words}"
    return first_words if cell_len(first_words) <= room else head


def _counts(alarms: Sequence[Alarm]) -> str:
    """How many parts are late, and how much else is due: ``LATE 2 parts, NOW 1 reading``."""
    late = Counter(alarm.noun for alarm in alarms if alarm.is_late)
    due = Counter(alarm.noun for alarm in alarms if not alarm.is_late)
    words = []
    for word, counts in (("LATE", late), ("NOW", due)):
        pieces = [f"{count} {noun}{'s' if count > 1 else ''}" for noun, count in counts.items()]
        words += [f"{word} {', '.join(pieces)}"] if pieces else []
    return ", ".join(words)


def _worst(alarms: Sequence[Alarm]) -> str:
    return OVERDUE if any(alarm.level == OVERDUE for alarm in alarms) else DUE


class AlarmPacer:
    """Decides when an alarm goes off; the app rings and shows it."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._known: set[tuple[str, tuple[str, str], str]] = set()
        self._next_at = 0.0
        self._call_at = 0.0
        self._silent_until = float("-inf")
        self._attended_until = float("-inf")

    def call_for(self, alarms: Sequence[Alarm]) -> Call | None:
        """What should ring now, given everything due; None for nothing.

        Anything new or newly overdue rings right away, even during a silence. Work that comes due
        while you are at the bench waits until you stop pressing keys.
        """
        now = self._monotonic()
        attended = now < self._attended_until
        keys = {
            (alarm.run, alarm.about, alarm.level)
            for alarm in alarms
            if alarm.level == OVERDUE or not attended
        }
        fresh = keys - self._known
        self._known = keys | (self._known & {(a.run, a.about, a.level) for a in alarms})
        quiet = now < max(self._next_at, self._silent_until, self._attended_until)
        if not alarms or (not fresh and quiet):
            return None
        level = _worst(alarms)
        self._next_at = now + REPEAT_S[level]
        outside = bool(fresh) or (level == OVERDUE and now >= self._call_at)
        if outside:
            self._call_at = now + CALL_S
        if fresh:
            self._silent_until = float("-inf")
        return Call(message_of(alarms), level, outside)

    def attend(self) -> None:
        """Note a key press: you are here and can see what is due."""
        self._attended_until = self._monotonic() + ATTENDED_S

    def silence(self) -> None:
        """Silence alarms: nothing repeats for a while."""
        self._silent_until = self._monotonic() + SILENCE_S

    @property
    def is_silent(self) -> bool:
        """Whether the silence is still on."""
        return self._monotonic() < self._silent_until
