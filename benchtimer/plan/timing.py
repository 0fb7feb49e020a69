"""From an order of moves to a plan with times and names."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.plan.aim import closest
from benchtimer.plan.instance import Instance, entry_s
from benchtimer.plan.network import ORIGIN, Edge, Turn, earliest, order_edges
from benchtimer.plan.outcome import DONE, START, Plan, PlannedDwell, PlannedMove
from benchtimer.plan.problem import Problem
from benchtimer.plan.state import Path


def turns_of(instance: Instance, path: Path) -> list[Turn]:
    """The order a search found, oldest first, with the parts by their index."""
    steps = []
    while path is not None:
        path, m, gap = path
        steps.append((m, gap))
    made = instance.next_counts()
    turns = []
    for m, gap in reversed(steps):
        line = instance.lines[instance.line_of[m]]
        turns.append(Turn(line.parts[made[m]], m - line.first_m, gap))
        made[m] += 1
    return turns


def time_order(instance: Instance, turns: Sequence[Turn], near_aim: bool = True) -> Plan:
    """The plan of an order: the least end it has, then the dwells closest to their aim.

    Raises ``PositiveCycleError`` where the order has no times.
    """
    edges = order_edges(instance, turns)
    times = earliest(len(turns) + 1, edges)
    problem = instance.problem
    if near_aim and turns:
        ends = [times[k] + _hands_s(problem, turn) for k, turn in enumerate(turns, 1)]
        edges += _end_edges(problem, turns, max(ends))
        times = closest(times, edges, _wishes(problem, turns))
    return make_plan(problem, turns, times[1:])


def _hands_s(problem: Problem, turn: Turn) -> int:
    return problem.parts[turn.part].route.moves[turn.move].hands_s


def _end_edges(problem: Problem, turns: Sequence[Turn], end_s: int) -> list[Edge]:
    return [
        Edge(node, ORIGIN, _hands_s(problem, turn) - end_s, "the end")
        for node, turn in enumerate(turns, 1)
    ]


def _wishes(problem: Problem, turns: Sequence[Turn]) -> list[tuple[int, int, int]]:
    node_of = {(turn.part, turn.move): node for node, turn in enumerate(turns, 1)}
    wishes = []
    for node, turn in enumerate(turns, 1):
        if turn.move:
            part = problem.parts[turn.part]
            aim_s = part.route.dwells[turn.move - 1].wished_s
            before = node_of.get((turn.part, turn.move - 1))
            if before is None:
                wishes.append((ORIGIN, node, (entry_s(problem, part) or 0) + aim_s))
            else:
                wishes.append((before, node, part.route.moves[turn.move - 1].hands_s + aim_s))
    return wishes


def make_plan(problem: Problem, turns: Sequence[Turn], starts: Sequence[int]) -> Plan:
    """Moves and dwells with names, in the order of the turns."""
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
    return Plan(tuple(moves), tuple(dwells), tuple(turn.gap for turn in turns))


def _planned_move(problem: Problem, turn: Turn, start_s: int) -> PlannedMove:
    part = problem.parts[turn.part]
    route, number = part.route, turn.move
    return PlannedMove(
        part.name, number, route.leads_to(number), route.moves[number].steps,
        route.came_from(number) or START, route.goes_to(number) or DONE,
        start_s, start_s + route.moves[number].hands_s, turn.hands,
    )


def _planned_dwell(problem: Problem, turn: Turn, in_s: int, out_s: int) -> PlannedDwell:
    part = problem.parts[turn.part]
    dwell = part.route.dwells[turn.move - 1]
    return PlannedDwell(
        part.name, turn.move - 1, dwell.step or dwell.station, dwell.station,
        in_s, out_s, dwell.least_s, dwell.wished_s, dwell.most_s,
    )
