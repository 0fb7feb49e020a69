"""Several pairs of hands: clean plans, and bounds checked by a constraint solver."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from ortools.sat.python import cp_model

from benchtimer.plan.decisions import PrecedenceSearch
from benchtimer.plan.earliest import Earliest
from benchtimer.plan.instance import Instance
from benchtimer.plan.placement import Placer
from benchtimer.plan.planner import solve
from benchtimer.plan.precedences import Precedences
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from benchtimer.plan.refit import rebuilt
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import at_target
from tests.plan.families import FAMILIES
from tests.plan.generate import KINDS, cut_at
from tests.plan.plan_check import check_plan
from tests.plan.reference import build, solve_reference


def _reference(problem: Problem) -> int:
    """The earliest end with one unit of a resource for each pair of hands; walks take no time."""
    model, _, _ = build(problem)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = 30
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def test_two_pairs_between_bound_and_optimum() -> None:
    """The plan is clean, its bound never exceeds the optimum, and its end is never below it."""
    proven = 0
    for kind in ("mixed", "equal", "releases", "away"):
        for seed in range(5):
            problem = replace(KINDS[kind](random.Random(f"crew {kind}{seed}")), hands=2)
            outcome = solve(problem, nodes=2000, hurry=True)
            least = _reference(problem)
            assert outcome.plan is not None
            assert outcome.bound_s is not None
            assert check_plan(problem, outcome.plan) == []
            assert outcome.bound_s <= least <= (outcome.plan.end_s or 0), f"{kind} {seed}"
            proven += outcome.status == "optimal"
    assert proven >= 5


def test_a_second_pair_never_makes_it_worse() -> None:
    """A second pair of hands never makes the plan end later."""
    for seed in range(8):
        problem = KINDS["mixed"](random.Random(f"pair {seed}"))
        one = solve(problem, hurry=True).plan
        two = solve(replace(problem, hands=2), nodes=5000, hurry=True).plan
        assert one is not None
        assert two is not None
        assert (two.end_s or 0) <= (one.end_s or 0)


def test_a_slot_changes_hands_within_a_second() -> None:
    """With two people, a part is in the tank a second after the other is lifted, and not before."""
    route = Route("r", (Move(10), Move(10)), (DwellLimits("tank", 100),))
    parts = tuple(PlanPart(name, route) for name in "abc")
    outcome = solve(Problem((PlanStation("tank"),), parts, hands=2))
    assert outcome.plan is not None
    assert (outcome.status, outcome.bound_s, outcome.plan.end_s) == ("optimal", 322, 322)


@pytest.mark.parametrize("seed", [2, 3, 5, 7, 8])
def test_the_bound_for_two_people_proves_the_end(seed: int) -> None:
    """Six parts of three recipes with two people: the end found is the bound."""
    outcome = solve(at_target(FAMILIES["two people, 6 parts"](seed)), nodes=3000)
    assert outcome.status == "optimal"


@pytest.mark.parametrize("name", ["two people, 6 parts", "one break, 6 parts"])
def test_the_order_of_identical_parts_changes_no_optimum(name: str) -> None:
    """The reference finds the same least end with and without its rule for identical parts."""
    problem = at_target(FAMILIES[name](4))
    ordered, free = (solve_reference(problem, queues=queues) for queues in (True, False))
    assert ordered.proven
    assert free.proven
    assert ordered.end_s == free.end_s


@pytest.mark.parametrize("hands", [1, 2])
@pytest.mark.parametrize("kind", ["equal", "mixed", "tight", "releases", "away"])
def test_a_proof_in_mid_run_agrees_with_the_reference(kind: str, hands: int) -> None:
    """Parts in your hands, parts on the way to a full place, and a bench while you are away."""
    proofs = 0
    for seed in [3, 59, 85, 111, 117, 261, 309, 321]:
        rng = random.Random(f"late {kind} {seed}")
        whole = replace(KINDS[kind](rng), hands=hands, walks=())
        plan = solve(whole, nodes=500, hurry=True).plan
        if plan is None or not plan.moves:
            continue
        now_s = rng.choice(plan.moves).start_s + rng.randint(0, 60)
        problem = cut_at(whole, plan, now_s, rng.choice((0, 30, 120)))
        outcome, least = solve(problem, nodes=3000, hurry=True), solve_reference(problem, 20)
        if outcome.plan is not None and outcome.plan.moves:
            assert check_plan(problem, outcome.plan) == []
            assert (outcome.bound_s or 0) <= (least.end_s or 0) <= (outcome.plan.end_s or 0)
        if outcome.status == "infeasible":
            assert least.end_s is None
        proofs += outcome.status in ("optimal", "infeasible")
    assert proofs >= 5


def test_a_place_is_emptied_before_the_part_on_its_way_arrives() -> None:
    """A part whose target is later leaves early for one that is already in your helper's hands."""
    route = Route("r", (Move(50), Move(10)), (DwellLimits("tank", 10, 400, 200),))
    inside = PlanPart("bolster", route, moves_made=1, entered_s=-60)
    coming = PlanPart("ferrule", route, moving_s=40)
    problem = Problem((PlanStation("tank"),), (inside, coming), hands=2)
    outcome = solve(problem, hurry=True)
    assert outcome.plan is not None
    assert check_plan(problem, outcome.plan) == []
    assert next(m for m in outcome.plan.moves if m.part == "bolster").start_s < 40
    late = replace(problem, parts=(replace(inside, entered_s=35), coming))
    search = PrecedenceSearch(Precedences(Instance(late)), 10**6, random.Random(1))
    assert search.earlier(10**6, 100) == (None, True)


def _in_mid_run(name: str, hands: int) -> Problem:
    """A drawn problem at a moment of its plan, a little late."""
    kind, seed = name.split()
    rng = random.Random(int(seed))
    whole = replace(KINDS[kind](random.Random(f"two {name}")), hands=hands, walks=())
    plan = solve(whole, nodes=500, hurry=True).plan
    assert plan is not None
    now_s = rng.choice(plan.moves).start_s + rng.randint(0, 60)
    return cut_at(whole, plan, now_s, rng.choice((0, 30, 120)))


@pytest.mark.parametrize("name", ["tight 1345", "away 1361"])
def test_a_plan_that_placing_missed_has_a_bound(name: str) -> None:
    """Two people in mid-run, where only decisions between precedences find a plan."""
    problem = _in_mid_run(name, 2)
    outcome = solve(problem, nodes=4000, hurry=True)
    assert outcome.plan is not None
    assert (outcome.bound_s or 0) >= problem.now_s
    assert check_plan(problem, outcome.plan) == []


LATE = [("away 59", 1), ("away 85", 1), ("away 111", 1), ("away 223", 1), ("away 3", 2),
        ("away 85", 2), ("away 369", 2), ("equal 261", 2), ("mixed 117", 2), ("mixed 321", 2),
        ("walks 85", 2)]  # fmt: skip


@pytest.mark.parametrize(("name", "hands"), LATE)
def test_no_bound_is_later_than_the_least_end(name: str, hands: int) -> None:
    """While you are away, or with a part on its way to a full place, no bound is too late."""
    problem = _in_mid_run(name, hands)
    least = solve_reference(problem, 20)
    assert least.proven
    assert least.end_s is not None
    assert not Earliest(problem, SearchLimits()).is_ruled_out(least.end_s)


@pytest.mark.parametrize(
    "name", ["mixed 2003", "away 2003", "tight 2005", "equal 2007", "mixed 2009"]
)
@pytest.mark.parametrize("hands", [1, 2])
def test_every_plan_found_by_decisions_fits_the_timetable(name: str, hands: int) -> None:
    """In mid-run, also while you are away and with a part on its way to a full place."""
    problem = _in_mid_run(name, hands)
    placer = Placer(Instance(problem))
    rules = Precedences(placer.instance)
    search = PrecedenceSearch(rules, 10**6, random.Random(1))
    starts, is_closed = search.earlier(10**6, 2000)
    assert (starts is None) == is_closed
    if starts is not None:
        assert rebuilt(placer, *rules.turns_of(starts)) is not None


@pytest.mark.parametrize(("hands", "min_s"), [(1, 600), (2, 510)])
def test_a_part_that_was_there_before_now_rules_out_no_plan(hands: int, min_s: int) -> None:
    """The time before now counts for a slot taken since then, also on a bench with hours."""
    route = Route("r", (Move(10), Move(10)), (DwellLimits("tank", min_s, 600),))
    parts = (PlanPart("bolster", route, moves_made=1, entered_s=-500), PlanPart("ferrule", route))
    bench, away = (PlanStation("tank"),), (AwayTime(3000, 8000),)
    free = solve(Problem(bench, parts, hands=hands))
    outcome = solve(Problem(bench, parts, hands=hands, away=away))
    assert outcome.plan is not None
    assert free.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", free.plan.end_s)


def test_a_last_move_of_no_time_leaves_room_in_the_same_second() -> None:
    """Two people lift two parts in the second in which a third leaves by itself."""
    lift = (Move(10), Move(10))
    parts = (
        PlanPart("p", Route("p", lift, (DwellLimits("a", 100, 200),))),
        PlanPart("q", Route("q", lift, (DwellLimits("b", 100, 200),))),
        PlanPart("r", Route("r", (Move(10), Move(0)), (DwellLimits("c", 5, 105),)),
                 moves_made=1, entered_s=-100),
    )  # fmt: skip
    problem = Problem((PlanStation("a"), PlanStation("b"), PlanStation("c")), parts, hands=2)
    outcome = solve(problem, nodes=300)
    assert outcome.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", 120)
    assert check_plan(problem, outcome.plan) == []


def test_a_slot_kept_over_a_break_is_no_lost_time() -> None:
    """A part that soaks while you are away keeps its slot; the bound counts all of that time."""
    route = Route("r", (Move(10), Move(10)), (DwellLimits("tank", 100, 2000),))
    parts = (PlanPart("bolster", route, moves_made=1, entered_s=0), PlanPart("ferrule", route))
    problem = Problem((PlanStation("tank"),), parts, away=(AwayTime(50, 1000),))
    assert not Earliest(problem, SearchLimits()).is_ruled_out(1130)
    outcome = solve(problem)
    assert outcome.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", 1130)
