"""Plans and proofs by precedences: they keep the rules, and agree with a general solver."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from benchtimer.plan.decisions import PrecedenceSearch
from benchtimer.plan.earliest import Earliest, in_line, moves_left, turns_in
from benchtimer.plan.instance import FAR_S, Instance
from benchtimer.plan.planner import solve
from benchtimer.plan.precedences import Precedences
from benchtimer.plan.problem import DwellLimits, Move, PlanPart, PlanStation, Problem, Route
from benchtimer.plan.refit import rebuilt
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import any_order, mixed, tight
from tests.plan.families import breaks, two_people
from tests.plan.generate import KINDS, cut_at
from tests.plan.judge import faults
from tests.plan.reference import solve_reference

PROBLEMS = {
    "any order": any_order(6, 3),
    "tight": tight(5, 1),
    "mixed": mixed(6, 2),
    "one break": breaks(6, 1, 2),
    "five breaks": breaks(6, 5, 2),
    "two people": two_people(6, 4),
}


@pytest.mark.parametrize("problem", PROBLEMS.values(), ids=PROBLEMS)
def test_what_is_found_near_a_plan_is_a_plan_that_ends_in_time(problem: Problem) -> None:
    """Every plan found near the first one has room in the timetable and ends by the trial end."""
    known = Earliest(problem, SearchLimits())
    assert known.place()
    assert known.improver is not None
    rules = Precedences(known.instance)
    goal_s = int(known.end_s) - known.instance.unit_s
    search, found = PrecedenceSearch(rules, goal_s, random.Random(7)), 0
    search.guide = rules.starts_of(*turns_in(known.instance, known.improver.best))
    for _ in range(40):
        starts = search.near(goal_s, 100)
        if starts is not None:
            found += 1
            table = rebuilt(known.placer, *rules.turns_of(starts))
            assert table is not None
            assert known.improver.score_of(table)[0] + problem.now_s <= goal_s
    assert found


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_plan_keeps_all_rules_and_one_way_of_each_choice(kind: str) -> None:
    """No rule refuses a plan that is right, at the start or in mid-run, for one person or two."""
    checked = 0
    for seed in range(24):
        rng = random.Random(f"rules {kind} {seed}")
        whole = KINDS[kind](rng)
        problem = whole if kind == "midrun" or seed % 2 else replace(whole, hands=2, walks=())
        plan = solve(problem, nodes=200, hurry=True).plan
        if plan is None or not plan.moves:
            continue
        if seed % 3 == 0:
            problem = cut_at(problem, plan, rng.choice(plan.moves).start_s + rng.randint(0, 30), 0)
        instance = Instance(problem)
        turns, starts = moves_left(problem, plan)
        rules = Precedences(instance)
        at = rules.starts_of(in_line(instance, turns), starts)
        assert all(at[b] >= at[a] + w for a, b, w in rules.rules)
        assert all(
            at[u[1]] >= at[u[0]] + u[2] or at[v[1]] >= at[v[0]] + v[2] for u, v in rules.choices
        )
        assert rules.faults(at) is None
        checked += 1
    assert checked >= 12


@pytest.mark.parametrize("kind", ["equal", "mixed", "tight", "releases", "away", "midrun"])
def test_an_end_is_ruled_out_if_and_only_if_no_plan_has_it(kind: str) -> None:
    """The reference's least end has a plan; one step earlier has none."""
    for seed in range(6):
        problem = KINDS[kind](random.Random(f"least {kind} {seed}"))
        problem = replace(problem, hands=1 + seed % 2) if kind != "midrun" else problem
        least = solve_reference(problem, 20)
        instance = Instance(problem)
        if not least.proven or least.end_s is None or not instance.has_work:
            continue
        search = PrecedenceSearch(Precedences(instance), FAR_S, random.Random(seed))
        assert search.earlier(least.end_s, 20_000)[0] is not None
        assert search.earlier(least.end_s - 1, 20_000) == (None, True)


def test_two_places_exchange_their_parts_in_the_hands_of_two() -> None:
    """Both parts must leave within ten seconds: one hand brings while the other lifts."""
    there = Route("there", (Move(10), Move(20), Move(10)), (DwellLimits("a", 100, 110),
                                                          DwellLimits("b", 100, 110)))  # fmt: skip
    back = Route("back", (Move(10), Move(20), Move(10)), (DwellLimits("b", 100, 110),
                                                         DwellLimits("a", 100, 110)))  # fmt: skip
    parts = (PlanPart("bolster", there, moves_made=1, entered_s=0),
             PlanPart("ferrule", back, moves_made=1, entered_s=0))  # fmt: skip
    bench = (PlanStation("a"), PlanStation("b"))
    outcome = solve(Problem(bench, parts, hands=2))
    assert outcome.plan is not None
    assert (outcome.status, outcome.plan.end_s) == ("optimal", 230)
    assert solve(Problem(bench, parts)).status == "infeasible"


def test_parts_that_wait_for_others_are_found() -> None:
    """The earliest end, 5370 s by a general solver, needs parts that wait where they are."""
    problem = breaks(6, 1, 2)
    outcome = solve(problem, nodes=2000)
    assert outcome.plan is not None
    assert faults(problem, outcome.plan) == []
    assert (outcome.status, outcome.plan.end_s) == ("optimal", 5370)
