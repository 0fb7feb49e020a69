"""Which alarms rang in a run, and how fast they were answered.

None of this is in the log: an alarm rings when an action on the agenda comes due, and stops when it
is done. Both follow from the events that count, with the same agenda as the bench. The planner's
advice is not known afterward, so the times are the recipe's, which the bell follows. What was
ringing at the answer is exact. When it began is exact for pulls; for a part that had not started it
is the time it was due, although the bell may have been silent for a pull that came first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchtimer.run import events as e
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.evolve import apply
from benchtimer.run.run_state import Bench, RunPhase
from benchtimer.store.log import LogEntry
from benchtimer.values import dataclass

Key = tuple[str, str]

WORDS = {
    ActionKind.BEGIN: "pick up",
    ActionKind.READING: "read",
    ActionKind.HAZARD: "hazard",
    ActionKind.MAKE_UP: "make up",
}
"""The kinds of action that you have to come to the bench for."""


@dataclass(frozen=True, slots=True)
class AnsweredAlarm:
    """One alarm that was answered.

    Attributes:
        what: ``start``, ``pull`` or ``pick up`` (a part), ``read`` or ``make up`` (a station), or
            ``hazard``.
        who: the part, station or hazard.
        rang_ms: bench time at which it began to ring.
        entry: what answered it.
    """

    what: str
    who: str
    rang_ms: int
    entry: LogEntry


def answered(live: Sequence[LogEntry]) -> Iterator[AnsweredAlarm]:
    """The answered alarms of a run, in the order of the answers.

    Args:
        live: the entries of the run that count.
    """
    bench = Bench()
    looks: list[tuple[Bench, int]] = []
    for group in _presses(live):
        now_ms = group[0].event.t_ms
        asked = [(key, entry) for entry in group if (key := _answers(entry.event)) is not None]
        open_now = _open(bench, now_ms) if asked else {}
        for key, entry in asked:
            action = open_now.pop(key, None)
            if action is not None and action.due_ms <= now_ms:
                rang_ms = min(now_ms, _rang_ms(key, action.due_ms, looks))
                yield AnsweredAlarm(_word(action), key[1], rang_ms, entry)
        looks.append((bench, now_ms))
        for entry in group:
            bench = apply(bench, entry.event)
        looks.append((bench, now_ms))


def _rang_ms(key: Key, due_ms: int, looks: Sequence[tuple[Bench, int]]) -> int:
    """When an alarm began: when it was due, or at the last look at the bench that lacked it.

    Args:
        key: the alarm.
        due_ms: when it was due.
        looks: the bench before and after each press, since time alone can change what rings: a
            reading can come due before a part is picked up.
    """
    for bench, t_ms in reversed(looks):
        if t_ms <= due_ms:
            break
        if key not in _open(bench, t_ms):
            return t_ms
    return due_ms


def _open(bench: Bench, now_ms: int) -> dict[Key, Action]:
    """What rings or will ring; if several parts need the same action, the one that rings first.
    Nothing rings before the start, because you are at the bench during setup.
    """
    if bench.phase is RunPhase.IDLE:
        return {}
    found = sorted(filter(_rings, agenda(bench, now_ms)), key=lambda a: a.due_ms, reverse=True)
    return {_key(action): action for action in found}


def _presses(live: Sequence[LogEntry]) -> Iterator[list[LogEntry]]:
    """The entries that change the bench, grouped by press."""
    group: list[LogEntry] = []
    for entry in live:
        if isinstance(entry.event, (*e.CORRECTIONS, *e.BYSTANDERS)):
            continue
        if group and entry.event.press != group[0].event.press:
            yield group
            group = []
        group.append(entry)
    if group:
        yield group


def _rings(action: Action) -> bool:
    return action.kind in WORDS and action.blocked is None


def _word(action: Action) -> str:
    if action.kind is not ActionKind.BEGIN:
        return WORDS[action.kind]
    if action.starts:
        return "start"
    return WORDS[action.kind] if action.from_station is None or action.is_dry else "pull"


def _key(action: Action) -> Key:
    if action.kind in (ActionKind.READING, ActionKind.MAKE_UP):
        return WORDS[action.kind], action.to_station or ""
    if action.kind is ActionKind.HAZARD and action.hazard is not None:
        return "hazard", action.hazard.title
    return "pick up", action.part or ""


def _answers(event: e.Event) -> Key | None:
    """Which alarm an event answers."""
    if isinstance(event, e.ReadingShared):
        return None
    if isinstance(event, e.ReadingTaken | e.ReadingSkipped):
        return "read", event.station
    if isinstance(event, e.MakeUpBegan | e.MadeUp):
        return "make up", event.station
    if isinstance(event, e.Acknowledged):
        return "hazard", event.hazard
    if isinstance(event, e.TakenOut | e.WorkBegan):
        return "pick up", event.part
    return None
