"""From an order of moves to a plan with times and names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from benchtimer.plan.aim import Soft, closest
from benchtimer.plan.instance import Instance, entry_s
from benchtimer.plan.network import (
    ORIGIN,
    Edge,
    OrderedMove,
    PositiveCycleError,
    earliest,
    order_edges,
)
from benchtimer.plan.outcome import DONE, START, Plan, PlannedDwell, PlannedMove
from benchtimer.plan.problem import DwellLimits, Problem

FINE_COST = 100
"""Costs are whole numbers; this factor keeps their proportions."""
SHORT_COST = 4
"""A second short of target costs more than one past it in the tightest dwell."""


def plan_turns(problem: Problem, plan: Plan) -> list[OrderedMove]:
    """The order of a plan, with the parts by their index."""
    index = {part.name: i for i, part in enumerate(problem.parts)}
    return [OrderedMove(index[move.part], move.move, move.hands) for move in plan.moves]


def time_order(
    instance: Instance,
    turns: Sequence[OrderedMove],
    starts: Sequence[int] | None = None,
    real_most: Mapping[tuple[str, int], int | None] | None = None,
    over: Callable[[], bool] = lambda: False,
) -> Plan:
    """The plan of an order: its earliest end, dwells near their target, early starts.

    Args:
        instance: the problem in numbers.
        turns: the order.
        starts: times that keep the rules (see ``order_edges``).
        real_most: by part and dwell, for limits that were widened to allow a plan: then the total
            time beyond the real limits is minimized instead, with any end.
        over: called now and then; True means accept the times as they are.

    Raises:
        PositiveCycleError: the order has no times, and none are given.
    """
    edges = order_edges(instance, turns, starts)
    problem = instance.problem
    try:
        times = earliest(len(turns) + 1, edges)
    except PositiveCycleError:
        if starts is None:
            raise
        # Moves of no time in one second may be listed in an order that walks forbid.
        return make_plan(problem, turns, starts)
    if real_most is not None:
        times = closest(times, edges, _limits(problem, turns, real_most), over)
    elif turns:
        ends = [times[k] + _hands_s(problem, turn) for k, turn in enumerate(turns, 1)]
        edges += end_edges(problem, turns, max(ends))
        times = closest(times, edges, wishes(problem, turns, times), over)
    if problem.hands > 1:  # with several people, list the moves in the order they begin
        order = sorted(range(len(turns)), key=lambda k: times[k + 1])
        return make_plan(problem, [turns[k] for k in order], [times[k + 1] for k in order])
    return make_plan(problem, turns, times[1:])


def wishes(problem: Problem, turns: Sequence[OrderedMove], times: Sequence[int]) -> list[Soft]:
    """The soft goals: dwells near their target, moves near their earliest time.

    A second past target costs more if there is less room up to the max; a second short of target
    (with ``hurry``) costs most. A second of the least sensitive dwell costs more than all moves
    being a second late.

    Args:
        problem: the problem.
        turns: the moves in order.
        times: their earliest times, in seconds.
    """
    stays = list(stays_of(problem, turns))
    longest_s = max((room for *_, dwell in stays if (room := dwell.room_s)), default=1)
    wanted: list[Soft] = []
    for start, node, shift, dwell in stays:
        if dwell.wished_s > dwell.min_s:
            cost = SHORT_COST * FINE_COST * (len(turns) + 1) * longest_s
            wanted.append((start, node, shift + dwell.wished_s, cost))
        if dwell.room_s:
            cost = (len(turns) + 1) * round(FINE_COST * longest_s / dwell.room_s)
            wanted.append((node, start, -shift - dwell.wished_s, cost))
    return wanted + [(node, ORIGIN, -times[node], 1) for node in range(1, len(turns) + 1)]


def _limits(
    problem: Problem, turns: Sequence[OrderedMove], real_most: Mapping[tuple[str, int], int | None]
) -> list[Soft]:
    soft = []
    for start, node, shift, _ in stays_of(problem, turns):
        turn = turns[node - 1]
        max_s = real_most[problem.parts[turn.part].name, turn.move - 1]
        if max_s is not None:
            soft.append((node, start, -shift - max_s, 1))
    return soft


def _hands_s(problem: Problem, turn: OrderedMove) -> int:
    return problem.parts[turn.part].route.moves[turn.move].hands_s


def end_edges(problem: Problem, turns: Sequence[OrderedMove], end_s: int) -> list[Edge]:
    """The rules that make every move end by ``end_s``.

    Args:
        problem: the problem.
        turns: the moves in order.
        end_s: seconds from the problem's zero.
    """
    return [
        Edge(node, ORIGIN, _hands_s(problem, turn) - end_s, "the end")
        for node, turn in enumerate(turns, 1)
    ]


def stays_of(
    problem: Problem, turns: Sequence[OrderedMove]
) -> Iterator[tuple[int, int, int, DwellLimits]]:
    """Each dwell as (node, node of its end, seconds from the first to its entry, dwell)."""
    node_of = {(turn.part, turn.move): node for node, turn in enumerate(turns, 1)}
    for node, turn in enumerate(turns, 1):
        if turn.move:
            part = problem.parts[turn.part]
            before = node_of.get((turn.part, turn.move - 1))
            if before is None:
                start, shift = ORIGIN, entry_s(problem, part) or 0
            else:
                start, shift = before, part.route.moves[turn.move - 1].hands_s
            yield start, node, shift, part.route.dwells[turn.move - 1]


def make_plan(problem: Problem, turns: Sequence[OrderedMove], starts: Sequence[int]) -> Plan:
    """Moves and dwells with names, in the order of the turns.

    Args:
        problem: the problem.
        turns: the moves in order.
        starts: when each begins, in seconds.
    """
    entered = {
        index: time
        for index, part in enumerate(problem.parts)
        if (time := entry_s(problem, part)) is not None
    }
    moves, dwells = [], []
    for turn, start_s in zip(turns, starts, strict=True):
        if turn.move:
            dwells.append(_planned_dwell(problem, turn, entered[turn.part], start_s))
        moves.append(_planned_move(problem, turn, start_s))
        entered[turn.part] = moves[-1].end_s
    return Plan(tuple(moves), tuple(dwells))


def _planned_move(problem: Problem, turn: OrderedMove, start_s: int) -> PlannedMove:
    part = problem.parts[turn.part]
    route, number = part.route, turn.move
    return PlannedMove(
        part.name,
        number,
        route.leads_to(number),
        route.moves[number].steps,
        route.came_from(number) or START,
        route.goes_to(number) or DONE,
        start_s,
        start_s + route.moves[number].hands_s,
        turn.hands,
        part.run,
    )


def _planned_dwell(problem: Problem, turn: OrderedMove, in_s: int, out_s: int) -> PlannedDwell:
    part = problem.parts[turn.part]
    dwell = part.route.dwells[turn.move - 1]
    return PlannedDwell(
        part.name,
        turn.move - 1,
        dwell.step or dwell.station,
        dwell.station,
        in_s,
        out_s,
        dwell.min_s,
        dwell.wished_s,
        dwell.max_s,
        part.run,
    )
