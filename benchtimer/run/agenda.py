"""What to do next: one action for each part and place, most urgent first.

The large line shows the first one. Pure: the same bench, time and plan give the same agenda.

Rules of order, by ``actions.Rank``:
0. A part past its window, or one that has to leave a bath that is too hot, goes before
   everything. Several parts past their windows go in the plan's order, which loses the least;
   without a plan, the one late the longest goes first.
1. Work in hand comes next: there is one pair of hands, with a wet part in it. It is put down
   only for a part that would otherwise be lost.
2. Then come parts between stations, since nothing waits there, and cooling a bath that is too
   hot. Work that would lose another part waits until that part is out of its bath.
3. Then comes due work, in the plan's order, which has weighed the windows. Without a plan, the
   order that keeps the most windows. A bath's own regular reading comes first only if the due
   move can wait for it.
4. Then comes work that is not due yet, in order of time. Without a plan, a part not begun waits
   for moves that come due during its work.
   A run that is still being set up, held as a whole, or done can wait for moves that come due
   in the next minutes.
5. Then comes blocked work, and last what waits for a decision.

The actions of several runs make one agenda (``shop.shop_agenda``): there is one pair of hands.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchtimer.run import commands as c
from benchtimer.run.actions import NO_PLAN, Action, ActionKind, PlanTimes, Rank
from benchtimer.run.guards import TIGHT_S
from benchtimer.run.moves import action_of, held_action
from benchtimer.run.readiness import FAR_MS
from benchtimer.run.run_state import OVER, Bench, Part, PartPhase, RunPhase
from benchtimer.run.setup import (
    SetupItem,
    heat_words,
    planned_start_ms,
    question,
    set_up_from_ms,
    setup_items,
    unread_page,
)
from benchtimer.run.upkeep import upkeep_actions
from benchtimer.values import replace

CRITICAL_S = 60
"""A window that closes within this time calls you even if your hands are full."""

SETUP_S = 600
"""Within this time of a move, no other run is set up, because mixing takes time (the program's own
guess).
"""

READ_S = 15
"""Reading a thermometer and entering the figure takes about this long (the program's own guess)."""


def agenda(bench: Bench, now_ms: int, plan: PlanTimes = NO_PLAN) -> tuple[Action, ...]:
    """All open actions of one run, the next one first.

    Args:
        bench: the run's bench.
        now_ms: bench time.
        plan: the planner's times for each part's next move.
    """
    return in_order(actions_of(bench, now_ms, plan), now_ms)


def actions_of(bench: Bench, now_ms: int, plan: PlanTimes = NO_PLAN) -> list[Action]:
    """All open actions of one run, unordered, so that several runs can be combined.

    Args:
        bench: the run's bench.
        now_ms: bench time.
        plan: the planner's times for each part's next move.
    """
    if bench.phase in OVER:
        return []
    if bench.phase is RunPhase.IDLE:
        return _before_start(bench, now_ms)
    if bench.phase is RunPhase.HELD:
        resume = Action(ActionKind.RESUME, now_ms, command=c.Resume(None), rank=Rank.ANY_TIME)
        inside = [p for p in bench.parts.values() if p.phase is PartPhase.DWELLING]
        return [resume, *(held_action(bench, part, now_ms) for part in inside)]
    if all(part.is_out for part in bench.parts.values()):
        return [Action(ActionKind.COMPLETE, now_ms, command=c.Complete(), rank=Rank.ANY_TIME)]
    return [*_part_actions(bench, now_ms, plan), *upkeep_actions(bench, now_ms, plan)]


def action_for(bench: Bench, part: Part, now_ms: int) -> Action | None:
    """What you can do with one part now, apart from readings that are due.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    if part.is_out or bench.phase is not RunPhase.RUNNING:
        return None
    return action_of(bench, part, now_ms, NO_PLAN, reading=False)


def _before_start(bench: Bench, now_ms: int) -> list[Action]:
    """The setup, then the start. A run planned for later comes up in time for its start."""
    start_ms, first = planned_start_ms(bench), _setup(bench, now_ms)
    if start_ms is None:
        return [first]
    command = c.Start() if now_ms >= start_ms else None
    start = Action(ActionKind.START, start_ms, command=command, rank=Rank.ANY_TIME)
    if first.kind is ActionKind.START:
        return [start]
    from_ms = set_up_from_ms(bench, start_ms)
    rank = Rank.ANY_TIME if now_ms >= from_ms else Rank.LAST
    return [replace(first, due_ms=from_ms, rank=rank), start]


def _setup(bench: Bench, now_ms: int) -> Action:
    """The next step before the start: a page, a mix, a figure, a bath to heat; then the start."""
    page = unread_page(bench, now_ms)
    if page is not None:
        acknowledge = c.Acknowledge(page.title)
        return Action(
            ActionKind.HAZARD, now_ms, hazard=page, command=acknowledge, rank=Rank.ANY_TIME
        )
    item = next(setup_items(bench), None)
    if item is not None:
        return _setup_action(bench, item, now_ms)
    return Action(ActionKind.START, now_ms, command=c.Start(), rank=Rank.ANY_TIME)


def _setup_action(bench: Bench, item: SetupItem, now_ms: int) -> Action:
    action = Action(ActionKind.MIX, now_ms, to_station=item.place, item=item.key,
                    title=item.title, text=item.text, rank=Rank.ANY_TIME)  # fmt: skip
    if item.place is not None:
        title = heat_words(bench.places[item.place].station)
        return replace(action, kind=ActionKind.HEAT, command=c.Heat(item.place), title=title)
    if item.asks is not None:
        return replace(action, kind=ActionKind.ASK, check=question(item.asks))
    return replace(action, command=c.Prepare(item.key))


def _part_actions(bench: Bench, now_ms: int, plan: PlanTimes) -> Iterator[Action]:
    for part in bench.parts.values():
        if part.is_out:
            continue
        if part.held is not None:
            yield held_action(bench, part, now_ms)
        else:
            yield action_of(bench, part, now_ms, plan)


def in_order(found: Sequence[Action], now_ms: int) -> tuple[Action, ...]:
    """Open actions, of one run or of several, the next one first.

    Args:
        found: the actions.
        now_ms: bench time.
    """
    kept = [_after_what_would_be_lost(a, found, now_ms) for a in found]
    spaced = [_after_what_falls_due(a, kept, now_ms) for a in kept]
    actions = list(_unique(spaced))
    in_hand = max((a.due_ms for a in actions if a.rank == Rank.IN_HAND), default=None)
    moves = sorted(actions, key=lambda a: _urgency(a, now_ms, in_hand))
    due = [a for a in moves if _is_due_move(a, now_ms)]
    if len(due) > 1 and not any(a.planned for a in due):
        first = _keeps_most(due, now_ms)
        at = moves.index(due[0])
        moves.remove(first)
        moves.insert(at, first)
    return tuple(_readings_in_between(moves, now_ms))


def _urgency(action: Action, now_ms: int, in_hand_ms: int | None) -> tuple[int, int, int, int]:
    latest = action.latest_ms if action.latest_ms is not None else FAR_MS
    if action.blocked is not None:
        return (Rank.BLOCKED, action.due_ms, latest, action.move_s)
    if _outranks(action, now_ms) or _is_held_up(action, now_ms, in_hand_ms):
        turn_ms = now_ms if action.in_danger or action.begin_ms is None else action.begin_ms
        return (Rank.LATE_OR_IN_DANGER, turn_ms, latest, action.move_s)
    if action.rank not in (Rank.MOVE, Rank.ANY_TIME):
        return (action.rank, action.due_ms, latest, action.move_s)
    if now_ms < action.due_ms:
        return (Rank.NOT_DUE, action.due_ms, latest, action.move_s)
    if action.rank == Rank.ANY_TIME:
        return (Rank.ANY_TIME, action.due_ms, latest, action.move_s)
    by_plan = action.planned or action.kind is not ActionKind.BEGIN
    first, second = (action.due_ms, latest) if by_plan else (latest, action.due_ms)
    return (Rank.MOVE, first, second, action.move_s)


def _outranks(action: Action, now_ms: int) -> bool:
    """Whether an action comes before any plan: a part past its window, or in danger."""
    if action.kind is ActionKind.READING:
        return False
    return action.is_late(now_ms) or action.in_danger


def _is_held_up(action: Action, now_ms: int, in_hand_ms: int | None) -> bool:
    """Whether a part would be lost while you finish other work that could be put down.

    Work that takes longer than expected is put down ``TIGHT_S`` before another window closes.
    """
    if in_hand_ms is None or action.latest_ms is None or action.kind is ActionKind.READING:
        return False
    free_ms = in_hand_ms if in_hand_ms >= now_ms else now_ms + TIGHT_S * 1000
    return action.rank == Rank.MOVE and free_ms > action.latest_ms


def _after_what_would_be_lost(action: Action, others: Sequence[Action], now_ms: int) -> Action:
    """Put work that can wait after each pull whose window would close during it.

    That is the work of a part between stations, and a bath's make-up.
    """
    can_wait = action.rank == Rank.BETWEEN_STATIONS or action.kind is ActionKind.MAKE_UP
    if not can_wait or action.blocked is not None:
        return action
    start_ms = begins_ms = max(now_ms, action.due_ms)
    for other in sorted(others, key=_latest):
        in_bath = (
            other.rank == Rank.MOVE and other.from_station is not None and other.blocked is None
        )
        if in_bath and start_ms <= _latest(other) < start_ms + action.move_s * 1000:
            start_ms = max(start_ms, other.due_ms) + other.move_s * 1000
    return replace(action, due_ms=start_ms, rank=Rank.MOVE) if start_ms > begins_ms else action


def _is_due_move(action: Action, now_ms: int) -> bool:
    return action.rank == Rank.MOVE and action.is_due(now_ms) and action.part is not None


def _keeps_most(due: Sequence[Action], now_ms: int) -> Action:
    """The move to make first so that most of the due moves start inside their windows.

    The others follow by deadline. This order is used until there is a plan.
    """
    by_deadline = sorted(due, key=_latest)
    return max(by_deadline, key=lambda first: _kept(first, by_deadline, now_ms))


def _kept(first: Action, by_deadline: Sequence[Action], now_ms: int) -> int:
    kept, free_ms = 0, now_ms
    for action in (first, *(a for a in by_deadline if a is not first)):
        kept += free_ms <= _latest(action)
        free_ms += action.move_s * 1000
    return kept


def _latest(action: Action) -> int:
    return action.latest_ms if action.latest_ms is not None else FAR_MS


def _readings_in_between(actions: list[Action], now_ms: int) -> list[Action]:
    """Put due readings before a due move only while that move can wait for them.

    If the first one can't wait, they come after every other one that can't either. A reading that a
    part waits for is treated the same while that part can wait.
    """
    reads = [
        a for a in actions
        if a.kind is ActionKind.READING and a.is_due(now_ms)
        and (a.part is None or (a.rank == Rank.MOVE and _can_wait(a, now_ms)))
    ]  # fmt: skip
    rest = [a for a in actions if a not in reads]
    due = [a for a in rest if _is_due_move(a, now_ms)]
    if not due or _can_wait(due[0], now_ms):
        return actions
    tight = [a for a in due if not _can_wait(a, now_ms)]
    at = rest.index(tight[-1]) + 1
    return [*rest[:at], *reads, *rest[at:]]


def _can_wait(move: Action, now_ms: int) -> bool:
    """Whether a reading can come before a move with every window kept."""
    put_off_ms = move.put_off_ms if move.put_off_ms is not None else FAR_MS
    until_ms = min(put_off_ms, _latest(move))
    return now_ms + READ_S * 1000 <= until_ms


def _unique(actions: Sequence[Action]) -> Iterator[Action]:
    """One reading of a real place at a time, due since the first one that can be taken.

    A full tank keeps a part out, but not the thermometer, so a regular reading must not hide behind
    one that a waiting part would need. It must not hide the part, either: it counts as the one that
    can wait least. What a bath itself needs, such as a make-up, appears once even if several runs
    use the bath, and not while a part of any run is in the way.
    """
    readings: dict[str | None, list[Action]] = {}
    asked: dict[tuple[str, ...], Action] = {}
    for action in actions:
        place = action.place or action.to_station
        if action.kind is ActionKind.READING:
            readings.setdefault(place, []).append(action)
        elif action.part is not None or place is None:
            yield action
        else:
            key = (action.kind.value, place, type(action.command).__name__)
            if key not in asked or (asked[key].blocked is None and action.blocked is not None):
                asked[key] = action
    yield from asked.values()
    for some in readings.values():
        free = [action for action in some if action.blocked is None] or some
        first = min(free, key=lambda a: (a.rank, a.due_ms))
        meant = min(first, *some, key=_latest)
        due_ms = min(action.due_ms for action in free)
        yield replace(meant, due_ms=due_ms, rank=first.rank, blocked=first.blocked)


def _after_what_falls_due(action: Action, others: Sequence[Action], now_ms: int) -> Action:
    """Start work that can wait only if no other move comes due during it.

    That is the first move of a part not begun, if no plan has a time for it, and work of a run that
    is not running.
    """
    unplanned = action.rank == Rank.MOVE and not action.planned
    first_move = unplanned and action.from_station is None and action.part is not None
    if not first_move and action.rank != Rank.ANY_TIME:
        return action
    takes_ms = (SETUP_S if action.rank == Rank.ANY_TIME else action.move_s) * 1000
    start = max(action.due_ms, now_ms)
    for other in sorted(others, key=lambda a: a.due_ms):
        if other.from_station is None or other.blocked is not None:
            continue
        if action.rank == Rank.ANY_TIME and other.run == action.run:
            continue
        ends = other.due_ms + other.move_s * 1000
        if other.due_ms < start + takes_ms and ends > start:
            start = ends
    return replace(action, due_ms=start) if start > max(action.due_ms, now_ms) else action
