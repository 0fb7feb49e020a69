"""Time past target is the least possible for the order and end: checked by a constraint solver."""

from __future__ import annotations

import random
from typing import Any

from ortools.sat.python import cp_model

from benchtimer.plan.instance import Instance
from benchtimer.plan.nearest import lateness
from benchtimer.plan.network import OrderedMove, order_edges
from benchtimer.plan.outcome import Feasible, Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    FAR_ROOM_S,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from benchtimer.plan.targets import as_planned
from benchtimer.plan.timing import end_edges
from tests.plan.build import at_target
from tests.plan.families import FAMILIES
from tests.plan.generate import KINDS
from tests.plan.plan_check import check_plan

SCALE = 10**6
"""Shares of a room in whole numbers."""


def _least_late(problem: Problem, plan: Plan) -> float:
    """The least time past target by CP-SAT, as shares of each window, for this order and end."""
    index = {part.name: i for i, part in enumerate(problem.parts)}
    turns = [OrderedMove(index[m.part], m.move) for m in plan.moves]
    instance = Instance(as_planned(problem, plan))
    edges = order_edges(instance, turns, [m.start_s for m in plan.moves]) + end_edges(
        problem, turns, plan.end_s or 0
    )
    model = cp_model.CpModel()
    times = [model.new_int_var(0, 10**6, f"t{n}") for n in range(len(turns) + 1)]
    model.add(times[0] == 0)
    for edge in edges:
        model.add(times[edge.after] >= times[edge.before] + edge.weight_s)
    node_of = {(m.part, m.move): n for n, m in enumerate(plan.moves, 1)}
    costs = []
    for dwell in plan.dwells:
        if dwell.max_s is None or not 0 < dwell.max_s - dwell.target_s < FAR_ROOM_S:
            continue
        node = node_of[dwell.part, dwell.dwell + 1]
        before = node_of.get((dwell.part, dwell.dwell))
        entered: Any = dwell.in_s
        if before is not None:
            move = plan.moves[before - 1]
            entered = times[before] + (move.end_s - move.start_s)
        late = model.new_int_var(0, 10**6, f"d{node}")
        model.add(late >= times[node] - entered - dwell.target_s)
        costs.append(late * (SCALE // (dwell.max_s - dwell.target_s)))
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return solver.objective_value / SCALE


def test_no_times_in_the_same_order_are_closer_to_the_targets() -> None:
    """CP-SAT finds the same least time past target for the order and end of generated plans."""
    for kind in ("mixed", "equal", "midrun", "away", "walks"):
        for seed in range(6):
            problem = KINDS[kind](random.Random(f"target {kind}{seed}"))
            outcome = solve(problem)
            plan = outcome.plan
            cut = isinstance(outcome, Feasible) and outcome.cuts
            if plan is not None and plan.moves and not cut:
                least = _least_late(problem, plan)
                assert lateness(plan) <= least * 1.02 + 1e-3, f"{kind} {seed}"


def test_spare_time_goes_to_the_targets() -> None:
    """A part alone on the bench dwells exactly to its targets if that is free."""
    dwells = (DwellLimits("a", 100, 300, 100), DwellLimits("b", 100, 300, 200))
    long = PlanPart("long", Route("long", (Move(10),) * 2, (DwellLimits("c", 1000, None, 1000),)))
    short = PlanPart("short", Route("short", (Move(10),) * 3, dwells))
    problem = Problem((PlanStation("a"), PlanStation("b"), PlanStation("c")), (long, short))
    plan = solve(problem).plan
    assert plan is not None
    assert check_plan(problem, plan) == []
    stays = {d.station: d.out_s - d.in_s for d in plan.dwells}
    assert stays == {"a": 100, "b": 200, "c": 1000}


def test_other_orders_of_two_people_are_tried() -> None:
    """Two people can keep every target of these six parts, and still end as early as can be."""
    outcome = solve(at_target(FAMILIES["two people, 6 parts"](3)), nodes=3000)
    assert outcome.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", 3860)
    assert lateness(outcome.plan) == 0


def test_a_soak_without_a_max_starts_early() -> None:
    """A part whose dwell has no max goes in at once, not just in time for its target."""
    soak = PlanPart("soak", Route("soak", (Move(10),) * 2, (DwellLimits("rack", 600, None, 900),)))
    long = PlanPart(
        "long", Route("long", (Move(10),) * 2, (DwellLimits("oven", 7200, 9000, 7200),))
    )
    plan = solve(Problem((PlanStation("rack"), PlanStation("oven")), (soak, long))).plan
    assert plan is not None
    assert sorted(move.start_s for move in plan.moves if not move.move) == [0, 10]
