"""When the hands get to each due action, one after another, in the agenda's order.

The large line, the line of coming actions, your hands and the lanes' marks all use it.
"""

from __future__ import annotations

from collections.abc import Mapping

from benchtimer.bench.moment import Moment
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.guards import is_safe, joined_steps
from benchtimer.run.run_state import Bench, Part, PartPhase, window_of
from benchtimer.values import dataclass

MOVES = (ActionKind.BEGIN, ActionKind.FINISH, ActionKind.ANSWER, ActionKind.RESUME)

READ_MS = 15_000
"""How long a reading takes in the picture."""


@dataclass(frozen=True, slots=True)
class Turns:
    """Bench times at which the hands get to each action, by run and name.

    Attributes:
        parts: the next move of each part that is due.
        readings: the next reading on the agenda for each place.
    """

    parts: Mapping[tuple[str, str], int]
    readings: Mapping[tuple[str, str], int]


def turns_of(moment: Moment) -> Turns:
    """When the hands get to each due action and reading, one after another."""
    now_ms = moment.now_ms
    in_hand = [
        _hands_end_ms(moment.shop.bench(run), part, now_ms)
        for run, part in moment.shop.parts()
        if part.phase is PartPhase.IN_HAND
    ]
    free = [*in_hand, *[now_ms] * moment.shop.hands][: max(len(in_hand), moment.shop.hands)]
    parts: dict[tuple[str, str], int] = {}
    readings: dict[tuple[str, str], int] = {}
    for action in moment.actions:
        reads, begins = action.kind is ActionKind.READING, action.kind is ActionKind.BEGIN
        start_ms = action.due_ms
        if (reads or begins) and (action.is_due(now_ms) or action.is_late(now_ms)):
            free.sort()
            start_ms = free[0]
            free[0] += READ_MS if reads else _takes_ms(moment, action)
        if reads and action.to_station is not None:
            readings[action.run, action.to_station] = start_ms
        elif begins and action.part is not None and action.due_ms <= now_ms:
            parts[action.run, action.part] = start_ms
    return Turns(parts, readings)


def moves_behind(moment: Moment) -> list[tuple[int, str]]:
    """Planned moves that the agenda leaves out behind a reading or page, with their times."""
    on_agenda = {(a.run, a.part) for a in moment.actions if a.kind in MOVES}
    found = []
    for run, part in moment.shop.parts():
        move = next((m for m in moment.moves(run) if m.part == part.name), None)
        rests = part.held is not None or part.phase is PartPhase.IN_HAND
        if move is None or rests or (run, part.name) in on_agenda:
            continue
        if move.start_ms > moment.now_ms:
            found.append(
                (move.start_ms, f"{move_verb(moment.shop.bench(run), part)} #{part.number}")
            )
    return found


def is_not_begun(part: Part) -> bool:
    """Whether no work on a part has begun."""
    return part.phase is PartPhase.WAITING and part.began_ms is None and part.held is None


def move_verb(bench: Bench, part: Part) -> str:
    """How the next planned move of a part begins."""
    if is_not_begun(part):
        return "START"
    in_bath = part.phase is PartPhase.DWELLING and not is_safe(bench, part)
    return "PULL" if in_bath else "PICK UP"


NEAR_MAX_MS = 600_000
"""A blocked pull shows its max this long before."""


def past_saving(moment: Moment, shown: Action | None) -> dict[tuple[str, str], int]:
    """The max of each part that won't be pulled in time, by the plan or for a blocked pull.

    A late part is left out, since the agenda has it; so is the part of the large line.

    Args:
        moment: the bench now.
        shown: the action of the large line.
    """
    pulls = {(a.run, a.part): a for a in moment.actions if a.kind is ActionKind.BEGIN}
    found = {}
    for run, part in moment.shop.parts():
        window = window_of(moment.shop.bench(run), part)
        max_ms = window.max_ms if window is not None else None
        at = (run, part.name)
        if max_ms is None or max_ms < moment.now_ms or _is_pull_of(shown, at):
            continue
        pull = pulls.get(at)
        blocked = pull is None or pull.blocked is not None
        move = next((m for m in moment.moves(run) if m.part == part.name), None)
        if (move is not None and move.is_late) or (
            blocked and max_ms - moment.now_ms <= NEAR_MAX_MS
        ):
            found[at] = max_ms
    return found


def _is_pull_of(shown: Action | None, at: tuple[str, str]) -> bool:
    pulls = shown is not None and shown.kind is ActionKind.BEGIN
    return pulls and shown is not None and (shown.run, shown.part) == at


def hands_s(bench: Bench, part: Part, now_ms: int) -> int:
    """How long the work in hand usually takes, up to the next press.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    return sum(step.hands_s for step in joined_steps(bench, part, now_ms))


def _hands_end_ms(bench: Bench, part: Part, now_ms: int) -> int:
    """When the work in hand usually ends."""
    return max(now_ms, part.since_ms + hands_s(bench, part, now_ms) * 1000)


def _takes_ms(moment: Moment, action: Action) -> int:
    """How long a move takes, by the plan or the recipe."""
    moves = moment.moves(action.run)
    planned = next((m for m in moves if m.part == action.part and m.end_ms >= moment.now_ms), None)
    return planned.end_ms - planned.start_ms if planned is not None else action.move_s * 1000
