"""The planner finds a plan wherever a general solver does, around breaks and in mid-run.

``judge`` checks the plans; where the planner finds none, OR-tools CP-SAT must find none.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

import pytest

from benchtimer.plan.outcome import Optimal
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, Problem
from tests.plan import families
from tests.plan.build import at_target
from tests.plan.generate import cut_at
from tests.plan.judge import faults
from tests.plan.reference import solve_reference

NODES = 1500


def mid_runs(count: int, seed: int) -> Iterator[Problem]:
    """States cut from plans around breaks, some of them late, for one and two people."""
    rng = random.Random(f"mid-runs {seed}")
    while count:
        hands = rng.choice((1, 1, 2))
        problem = families.breaks(rng.randint(3, 7), rng.randint(1, 4), rng.randrange(10**6), hands)
        plan = solve(problem, nodes=NODES).plan
        if plan is None or plan.end_s is None:
            continue
        for _ in range(3):
            late_s = rng.choice((0, 0, 20, 60, 120, 300))
            count -= 1
            yield cut_at(problem, plan, rng.randrange(1, plan.end_s), late_s)
            if not count:
                return


def check(problem: Problem) -> str:
    """The status of one state; raises AssertionError on a fault."""
    outcome = solve(problem, rescue=True, nodes=NODES)
    if outcome.plan is not None:
        assert faults(problem, outcome.plan) == []
        return "placed"
    reference = solve_reference(problem)
    assert reference.proven
    assert reference.end_s is None, "the general solver has a plan"
    # With two people the planner can't always prove it; then it shows the least bad plan.
    assert outcome.status == "infeasible" or (problem.hands > 1 and outcome.best is not None)
    return "none"


def test_every_state_of_a_run_is_placed_or_has_no_plan() -> None:
    """Around breaks and up to five minutes late, the planner finds a plan or CP-SAT finds none."""
    found = [check(problem) for problem in mid_runs(60, 1)]
    assert found.count("placed") > 30


def test_plans_around_breaks_are_proved_within_few_states() -> None:
    """With four or six parts and one to three breaks, bounds hold and most ends are proved."""
    proven = 0
    for seed in range(15):
        problem = at_target(families.breaks(6 if seed > 11 else 4, 1 + seed % 3, seed))
        outcome = solve(problem, nodes=3000)
        reference = solve_reference(problem)
        assert reference.proven
        assert reference.end_s is not None
        assert outcome.plan is not None
        assert (outcome.bound_s or 0) <= reference.end_s <= (outcome.plan.end_s or 0), seed
        proven += isinstance(outcome, Optimal)
    assert proven >= 11


@pytest.mark.parametrize("family", ["closings", "joins"])
def test_places_that_close_and_joins_end_no_earlier_than_they_can(family: str) -> None:
    """With make-ups, breaks and joins, plans are clean and every proved end matches CP-SAT's."""
    proven = 0
    for seed in range(12):
        problem = getattr(families, family)(seed)
        outcome = solve(problem, nodes=6000)
        reference = solve_reference(at_target(problem))
        assert reference.proven
        assert reference.end_s is not None
        assert outcome.plan is not None
        assert faults(problem, outcome.plan, targets=True) == []
        assert (outcome.bound_s or 0) <= reference.end_s <= (outcome.plan.end_s or 0)
        if isinstance(outcome, Optimal):
            assert outcome.plan.end_s == reference.end_s
            proven += 1
    assert proven >= 6


def test_two_people_around_breaks_never_beat_the_proof() -> None:
    """With two people and a break, the plan ends between its bound and CP-SAT's earliest end."""
    for seed in range(10):
        problem = families.breaks(4, 1, seed, hands=2)
        outcome = solve(problem, nodes=4000)
        reference = solve_reference(problem)
        assert reference.proven
        assert reference.end_s is not None
        assert outcome.plan is not None
        assert faults(problem, outcome.plan) == []
        assert (outcome.bound_s or 0) <= reference.end_s <= (outcome.plan.end_s or 0)
        assert (outcome.plan.end_s or 0) <= 1.1 * reference.end_s


def test_sixty_days_of_evenings_and_a_job_of_many_moves() -> None:
    """The planner finds a clean plan at once for knives of four parts over weeks of evenings."""
    problem = families.job(1)
    assert sum(len(part.route.moves) for part in problem.parts) > 130
    outcome = solve(problem, nodes=1000)
    assert outcome.plan is not None
    assert faults(problem, outcome.plan, targets=True) == []


def test_hours_outside_the_plan_change_nothing() -> None:
    """A break after the end of a plan leaves the plan unchanged."""
    problem = families.mixed_day(4, 1)
    plan = solve(problem, nodes=NODES).plan
    assert plan is not None
    far = replace(problem, away=(AwayTime((plan.end_s or 0) + 10, (plan.end_s or 0) + 900),))
    again = solve(far, nodes=NODES).plan
    assert again is not None
    assert again.end_s == plan.end_s


def test_the_checker_finds_what_is_broken() -> None:
    """The judge refuses a plan moved by a second, moved into a break, or with one part early."""
    problem = families.breaks(4, 1, 3)
    plan = solve(problem, nodes=NODES).plan
    assert plan is not None
    assert faults(problem, plan) == []
    moves = plan.moves
    longer = replace(moves[0], end_s=moves[0].end_s + 1)
    assert faults(problem, replace(plan, moves=(longer, *moves[1:])))
    into = problem.away[0].from_s + 1 - moves[-1].start_s
    assert any("outside the hours" in fault for fault in faults(problem, plan.moved(into)))
    assert faults(problem, replace(plan, moves=moves[1:]))
    crowd = replace(problem, stations=tuple(replace(s, holds=1) for s in problem.stations))
    tight = solve(crowd, nodes=NODES).plan
    assert tight is not None
    assert faults(problem, tight) == []
