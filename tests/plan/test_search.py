"""The planner's optimum against another solver, brute force and the checker."""

from __future__ import annotations

import random
from itertools import permutations
from math import inf

import pytest

from benchtimer.plan.earliest import Earliest
from benchtimer.plan.instance import Instance
from benchtimer.plan.network import OrderedMove, PositiveCycleError, earliest, order_edges
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import at_target
from tests.plan.families import FAMILIES
from tests.plan.generate import KINDS
from tests.plan.judge import faults
from tests.plan.plan_check import check_plan
from tests.plan.reference import solve_reference

SEEDS = range(12)
"""``python -m tests.plan.tournament`` plays many more."""


@pytest.mark.parametrize("kind", KINDS)
def test_the_earliest_end_agrees_with_a_constraint_solver(kind: str) -> None:
    """OR-tools CP-SAT proves the same earliest end, or that none exists, and the plan is clean."""
    for seed in SEEDS:
        problem = KINDS[kind](random.Random(f"{kind}{seed}"))
        outcome = solve(problem, hurry=True)
        reference = solve_reference(problem)
        assert reference.proven, f"{kind} {seed}: the reference did not finish"
        end_s = None if outcome.plan is None else outcome.plan.end_s
        if outcome.plan is None:
            expected = None if outcome.status == "infeasible" else problem.now_s
        else:
            expected = problem.now_s if end_s is None else end_s
            assert check_plan(problem, outcome.plan) == [], f"{kind} {seed}"
        assert outcome.status in ("optimal", "infeasible"), f"{kind} {seed}"
        assert expected == reference.end_s, f"{kind} {seed}"


@pytest.mark.parametrize("kind", KINDS)
def test_the_earliest_end_with_every_dwell_at_its_target_agrees(kind: str) -> None:
    """Where CP-SAT proves a plan with every dwell at target, the planner ends at the same time."""
    for seed in range(6):
        problem = KINDS[kind](random.Random(f"target {kind}{seed}"))
        reference = solve_reference(at_target(problem))
        outcome = solve(problem)
        assert reference.proven, f"{kind} {seed}: the reference did not finish"
        if reference.end_s is None or outcome.plan is None or not outcome.plan.moves:
            continue
        assert faults(problem, outcome.plan, targets=True) == [], f"{kind} {seed}"
        assert outcome.status == "optimal", f"{kind} {seed}"
        assert outcome.plan.end_s == reference.end_s, f"{kind} {seed}"


def _tiny(rng: random.Random) -> Problem:
    routes = []
    for r in range(2):
        names = rng.sample(["a", "b"], rng.randint(1, 2))
        dwells = tuple(
            DwellLimits(n, least := rng.randint(1, 9), least + rng.randint(0, 6)) for n in names
        )
        moves = tuple(Move(rng.randint(1, 4)) for _ in range(len(dwells) + 1))
        routes.append(Route(f"r{r}", moves, dwells))
    parts = tuple(PlanPart(f"p{i}", routes[rng.randrange(2)]) for i in range(rng.randint(1, 3)))
    return Problem((PlanStation("a", 1), PlanStation("b", rng.randint(1, 2))), parts)


def _brute_force(problem: Problem) -> float:
    """The earliest end over every order of all moves, by longest paths and a count of slots."""
    instance = Instance(problem)
    all_moves = [p for p, part in enumerate(problem.parts) for _ in part.route.moves]
    best = inf
    for order in set(permutations(all_moves)):
        made = [0] * len(problem.parts)
        turns = []
        for p in order:
            turns.append(OrderedMove(p, made[p]))
            made[p] += 1
        if _overfills(problem, turns):
            continue
        try:
            times = earliest(len(turns) + 1, order_edges(instance, turns))
        except PositiveCycleError:
            continue
        last = turns[-1]
        best = min(best, times[-1] + problem.parts[last.part].route.moves[last.move].hands_s)
    return best


def _overfills(problem: Problem, turns: list[OrderedMove]) -> bool:
    inside = dict.fromkeys((s.name for s in problem.stations), 0)
    for turn in turns:
        route = problem.parts[turn.part].route
        if turn.move:
            inside[route.dwells[turn.move - 1].station] -= 1
        if turn.move < len(route.dwells):
            name = route.dwells[turn.move].station
            inside[name] += 1
            if inside[name] > problem.station(name).holds:
                return True
    return False


def test_the_earliest_end_agrees_with_trying_every_order() -> None:
    """On tiny problems the planner's end is the best of all orders, tried without pruning."""
    infeasible = 0
    for seed in range(60):
        problem = _tiny(random.Random(seed))
        if sum(len(p.route.moves) for p in problem.parts) > 7:
            continue
        plan = solve(problem, hurry=True).plan
        least = _brute_force(problem)
        infeasible += plan is None
        assert (inf if plan is None else plan.end_s) == least, f"seed {seed}"
    assert infeasible < 50


def test_a_full_tank_is_emptied_before_the_next_part_goes_in() -> None:
    """With two parts and one slot, the second goes in after the first is out."""
    route = Route("r", (Move(10), Move(20)), (DwellLimits("tank", 100, 150),))
    problem = Problem((PlanStation("tank"),), (PlanPart("a", route), PlanPart("b", route)))
    plan = solve(problem).plan
    assert plan is not None
    assert [(m.part, m.start_s, m.end_s) for m in plan.moves] == [
        ("a", 0, 10),
        ("a", 110, 130),
        ("b", 130, 140),
        ("b", 240, 260),
    ]


def test_parts_that_rest_between_evenings_are_proved_within_few_states() -> None:
    """For three handles of 5,660 s each, the planner proves CP-SAT's end of 176,320 s."""
    rest = DwellLimits("rest", 0)
    hands = (360, 180, 2820, 1560, 740, 480)
    route = Route("grip", tuple(map(Move, hands)), (rest,) * 4 + (DwellLimits("clamp", 86_400),))
    parts = tuple(PlanPart(f"p{n}", route) for n in range(3))
    evenings = tuple(AwayTime(86_400 * n + 14_400, 86_400 * (n + 1)) for n in range(4))
    problem = Problem((PlanStation("rest", 6), PlanStation("clamp", 4)), parts, away=evenings)
    outcome = solve(problem, nodes=2000)
    reference = solve_reference(problem)
    assert reference.proven
    assert outcome.status == "optimal"
    assert outcome.plan is not None
    assert outcome.plan.end_s == reference.end_s == 176_320


def test_a_stop_flag_ends_the_search_with_the_best_plan_so_far() -> None:
    """A caller who stops at once still gets a plan with a correct bound."""
    problem = KINDS["mixed"](random.Random("stop"))
    outcome = solve(problem, stop=lambda: True)
    reference = solve(problem)
    assert outcome.plan is not None
    assert faults(problem, outcome.plan) == []
    assert outcome.bound_s is not None
    assert reference.plan is not None
    assert outcome.bound_s <= (reference.plan.end_s or 0) <= (outcome.plan.end_s or 0)


@pytest.mark.parametrize(("seed", "end_s"), [(1, 10530), (2, 6720), (3, 6795), (4, 8550)])
def test_the_least_end_of_mixed_recipes_is_proved(seed: int, end_s: int) -> None:
    """Twelve parts of three recipes end when CP-SAT's longest search says."""
    outcome = solve(at_target(FAMILIES["mixed, 12 parts"](seed)), nodes=20_000)
    assert outcome.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", end_s)


def test_a_search_goes_on_where_it_stopped() -> None:
    """A search cut short again and again ends like one that runs through, its bounds in order."""
    problem = at_target(FAMILIES["one break, 6 parts"](7))
    whole = Earliest(problem, SearchLimits()).run()
    halting = Earliest(problem, SearchLimits(nodes=0))
    bound_s = -inf
    for _ in range(500):
        best = halting.again(SearchLimits(nodes=100))
        assert bound_s <= best.bound_s <= whole.end_s <= best.end_s
        bound_s = best.bound_s
        if best.is_closed:
            break
    assert halting.best().end_s == whole.end_s


def test_moves_of_no_time_do_not_share_a_slot_in_one_second() -> None:
    """The second part goes in a second after the first is out, as the reference says."""
    routes = [Route(f"r{s}", (Move(0), Move(0)), (DwellLimits("tank", s, s),)) for s in (10, 20)]
    parts = tuple(PlanPart(route.name, route) for route in routes)
    problem = Problem((PlanStation("tank"),), parts)
    outcome = solve(problem)
    assert outcome.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", 31)
    assert solve_reference(problem).end_s == 31


def test_a_proof_by_search_that_no_plan_exists_is_kept() -> None:
    """Four parts that pass the windows one by one, but not together, are refused in few steps."""
    found = 0
    for seed in range(40):
        rng = random.Random(f"none {seed}")
        parts = tuple(_short_stays(rng, f"p{n}") for n in range(4))
        away = (AwayTime(rng.randrange(250, 420, 10), 10**10),)
        problem = Problem(tuple(PlanStation(name) for name in "abcd"), parts, away=away)
        search = Earliest(problem, SearchLimits(nodes=3000))
        best = search.run()
        if best.turns is None:
            found += 1
            assert best.bound_s == inf
            reference = solve_reference(problem)
            assert reference.proven
            assert (reference.end_s or 10**10) >= 10**10
    assert found >= 3


def _short_stays(rng: random.Random, name: str) -> PlanPart:
    stays = []
    for places in ("ab", "cd"):
        least = rng.randrange(60, 120, 10)
        stays.append(DwellLimits(rng.choice(places), least, least + 10))
    return PlanPart(name, Route(name, (Move(20),) * 3, tuple(stays)))
