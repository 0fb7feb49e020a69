"""Orders close to that of a plan."""

from __future__ import annotations

import random
from math import inf

import pytest

from benchtimer.plan.earliest import Earliest, turns_in
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.refit import rebuilt
from benchtimer.plan.reorder import Reorder
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.timing import starts_of
from tests.plan.build import any_order, tight
from tests.plan.families import breaks, two_people
from tests.plan.judge import faults

PROBLEMS = {
    "any order": any_order(6, 3),
    "tight": tight(5, 1),
    "one break": breaks(6, 1, 2),
    "five breaks": breaks(6, 5, 2),
    "two people": two_people(6, 4),
}


@pytest.mark.parametrize("problem", PROBLEMS.values(), ids=PROBLEMS)
def test_a_neighbor_has_its_stated_end_and_keeps_most_of_the_order(problem: Problem) -> None:
    """Each neighbor's times keep every rule, and one that says it keeps the order does."""
    known = Earliest(problem, SearchLimits())
    assert known.place()
    assert known.improver is not None
    turns, _ = turns_in(known.instance, known.improver.best)
    search, rng, found = Reorder(known.instance), random.Random(7), 0
    for _ in range(25):
        neighbor = search.better(turns, known.end_s + known.instance.unit_s, rng)
        if neighbor is None:
            continue
        found += 1
        end_s, order = neighbor
        assert end_s <= known.end_s
        starts = starts_of(known.instance, search.found.path)
        assert starts is not None
        table = rebuilt(known.placer, order, starts)
        assert table is not None
        # Two people can begin moves in another order than the one found, and end earlier.
        assert known.improver.end_of(table) <= end_s
        assert known.improver.end_of(table) == end_s or problem.hands > 1
        keys = [(search._of_part[t.part][0] + t.move, search._of_part[t.part][1]) for t in order]
        places, slack = search.near.places, search.near.slack
        after = inf
        for key in reversed(keys):
            if key in places:
                assert places[key] <= after + slack
                after = min(after, places[key])
    assert found


def test_parts_that_wait_for_others_are_found() -> None:
    """The earliest end, 5370 s by a general solver, needs parts that wait where they are."""
    problem = breaks(6, 1, 2)
    outcome = solve(problem, nodes=6000)
    assert outcome.plan is not None
    assert faults(problem, outcome.plan) == []
    assert outcome.plan.end_s == 5370


def test_steps_never_end_later_and_count_those_without_a_gain() -> None:
    """From a first plan, each step ends no later, and one that ends earlier starts the count."""
    problem = any_order(8, 2)
    known = Earliest(problem, SearchLimits())
    assert known.place()
    assert known.improver is not None
    search, rng = Reorder(known.instance), random.Random(3)
    search.begin(turns_in(known.instance, known.improver.best)[0], known.end_s)
    gains = 0
    for _ in range(40):
        before_s, stale = search.end_s, search.stale
        gained = search.step(rng)
        assert (search.end_s < before_s) == gained
        assert search.end_s <= before_s
        assert search.stale == (0 if gained else stale + 1)
        gains += gained
    assert gains
