"""Laws every plan obeys, over generated problems."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.plan.changes import with_slot
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, PlanPart, Problem
from tests.plan.generate import KINDS
from tests.plan.plan_check import check_plan

seeds = st.integers(0, 10**9)
kinds = st.sampled_from(sorted(set(KINDS) - {"midrun"}))
some = settings(max_examples=25, deadline=None, derandomize=True)
NODES = 3000


def _problem(kind: str, seed: int) -> Problem:
    return KINDS[kind](random.Random(seed))


def _bounds(problem: Problem) -> tuple[float, float]:
    """(lower bound of any plan's end, end of a known plan)."""
    outcome = solve(problem, nodes=NODES, hurry=True)
    end_s = None if outcome.plan is None else outcome.plan.end_s
    return outcome.bound_s or 0, float("inf") if end_s is None else end_s


def _shifted(part: PlanPart, by_s: int) -> PlanPart:
    return replace(part, release_s=part.release_s + by_s)


@some
@given(kinds, seeds)
def test_every_plan_is_clean_and_never_ends_before_its_bound(kind: str, seed: int) -> None:
    """Plans are clean and end no earlier than their bound, however the search stopped."""
    problem = _problem(kind, seed)
    outcome = solve(problem, nodes=seed % 400)
    if outcome.plan is not None:
        assert check_plan(problem, outcome.plan) == []
        assert (outcome.bound_s or 0) <= (outcome.plan.end_s or 0)


@some
@given(kinds, seeds, st.integers(-5000, 5000))
def test_shifting_all_times_changes_nothing(kind: str, seed: int, by_s: int) -> None:
    """Shifting all times by some seconds shifts the plan by as much."""
    problem = _problem(kind, seed)
    shifted = replace(
        problem,
        parts=tuple(_shifted(part, by_s) for part in problem.parts),
        away=tuple(AwayTime(a.from_s + by_s, a.to_s + by_s) for a in problem.away),
        now_s=problem.now_s + by_s,
    )
    assert _bounds(shifted) == tuple(time + by_s for time in _bounds(problem))


@some
@given(kinds, seeds)
def test_one_more_slot_never_ends_later(kind: str, seed: int) -> None:
    """A plan for fewer slots works with more slots, so no bound may exceed its end."""
    problem = _problem(kind, seed)
    name = problem.stations[seed % len(problem.stations)].name
    assert _bounds(with_slot(problem, name))[0] <= _bounds(problem)[1]


@some
@given(kinds, seeds)
def test_one_less_part_never_ends_later(kind: str, seed: int) -> None:
    """A plan without one of its parts is a plan for the rest."""
    problem = _problem(kind, seed)
    fewer = replace(problem, parts=problem.parts[1:])
    assert _bounds(fewer)[0] <= _bounds(problem)[1]


@some
@given(kinds, seeds)
def test_the_order_of_the_list_does_not_matter(kind: str, seed: int) -> None:
    """Reordering parts and stations keeps the earliest end."""
    problem = _problem(kind, seed)
    other = replace(problem, parts=problem.parts[::-1], stations=problem.stations[::-1])
    low, high = _bounds(problem)
    other_low, other_high = _bounds(other)
    assert low <= other_high
    assert other_low <= high
