"""Dwells come as close to their aim as the order and the end allow: exact, by two other ways."""

from __future__ import annotations

import random
from typing import Any

from ortools.sat.python import cp_model

from benchtimer.plan.check import check_plan
from benchtimer.plan.instance import Instance
from benchtimer.plan.network import Turn, order_edges
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Dwell, Move, Part, Problem, Route, Station
from benchtimer.plan.timing import end_edges
from tests.plan.generate import KINDS


def _least_distance(problem: Problem, plan: Plan) -> int:
    """The least total distance from the aims by CP-SAT, for the plan's order and end."""
    index = {part.name: i for i, part in enumerate(problem.parts)}
    turns = [Turn(index[m.part], m.move, gap) for m, gap in zip(plan.moves, plan.gaps, strict=True)]
    edges = order_edges(Instance(problem), turns) + end_edges(problem, turns, plan.end_s or 0)
    model = cp_model.CpModel()
    times = [model.new_int_var(0, 10**6, f"t{n}") for n in range(len(turns) + 1)]
    model.add(times[0] == 0)
    for edge in edges:
        model.add(times[edge.after] >= times[edge.before] + edge.weight_s)
    node_of = {(m.part, m.move): n for n, m in enumerate(plan.moves, 1)}
    distances = []
    for dwell in plan.dwells:
        node = node_of[dwell.part, dwell.dwell + 1]
        before = node_of.get((dwell.part, dwell.dwell))
        if before is None:
            entered: Any = dwell.in_s
        else:
            move = plan.moves[before - 1]
            entered = times[before] + (move.end_s - move.start_s)
        distance = model.new_int_var(0, 10**6, f"d{node}")
        model.add(distance >= times[node] - entered - dwell.aim_s)
        model.add(distance >= entered + dwell.aim_s - times[node])
        distances.append(distance)
    model.minimize(sum(distances))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def test_no_times_of_the_same_order_come_closer() -> None:
    """CP-SAT finds the same least distance for the order and end of generated plans."""
    for kind in ("mixed", "equal", "midrun", "away", "walks"):
        for seed in range(6):
            problem = KINDS[kind](random.Random(f"aim {kind}{seed}"))
            plan = solve(problem).plan
            if plan is not None and plan.moves:
                assert plan.off_aim_s == _least_distance(problem, plan), f"{kind} {seed}"


def test_slack_goes_to_the_aim_above_and_below() -> None:
    """One part alone has all the time it wants: it dwells exactly as long as aimed, if free."""
    dwells = (Dwell("a", 100, 300, 100), Dwell("b", 100, 300, 200))
    long = Part("long", Route("long", (Move(10),) * 2, (Dwell("c", 1000, None, 1000),)))
    short = Part("short", Route("short", (Move(10),) * 3, dwells))
    problem = Problem((Station("a"), Station("b"), Station("c")), (long, short))
    plan = solve(problem).plan
    assert plan is not None
    assert check_plan(problem, plan) == []
    stays = {d.station: d.out_s - d.in_s for d in plan.dwells}
    assert stays == {"a": 100, "b": 200, "c": 1000}
