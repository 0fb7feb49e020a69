"""Lower bounds are correct: compared with every set of jobs, and with real plans."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from itertools import combinations, permutations, product
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.plan.earliest import Earliest
from benchtimer.plan.instance import NOWHERE, Instance
from benchtimer.plan.loads import Load, loads_of
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.precedences import Shared, Use
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.generate import KINDS

times = st.integers(0, 30)
jobs_of = st.lists(st.tuples(times, st.integers(1, 12), times), min_size=1, max_size=6)
Job = tuple[int, int, int]
"""(earliest begin, length, seconds from the begin to the latest end)."""
BREAK = (10, 18)


def _worked_s(begin: int, end: int, away: tuple[int, int] | None) -> int:
    """Seconds between two moments, without a break."""
    return sum(away is None or not away[0] <= second < away[1] for second in range(begin, end))


def _is_overfull(jobs: list[Job], units: int, away: tuple[int, int] | None) -> bool:
    """Whether some set of jobs is more work than its earliest begin and latest end leave room for.

    For one unit: J. Carlier, EJOR 11, 1982.
    """
    return any(
        sum(work for _, work, _ in some)
        > units * _worked_s(min(b for b, _, _ in some), max(b + s for b, _, s in some), away)
        for size in range(1, len(jobs) + 1)
        for some in combinations(jobs, size)
    )


@given(jobs_of, st.integers(1, 3), st.booleans())
def test_a_load_is_refused_if_and_only_if_some_jobs_are_too_many(
    jobs: list[Job], units: int, has_break: bool
) -> None:
    """The jobs it names are too much work for the time between the limits it names."""
    away = BREAK if has_break else None
    works = [Use(2 * n + 1, 0, 2 * n + 2, 0, work) for n, (_, work, _) in enumerate(jobs)]
    least = [0, 0]
    for begin, _, span in jobs:
        least += [begin, -begin - span, begin, -begin - span]
    hours = [(0, BREAK[0]), (BREAK[1], 10**9)] if has_break else []
    facts = Load(Shared(units, works, hours)).clash(least)
    assert (facts is not None) == _is_overfull(jobs, units, away)
    if facts is not None:
        limits = dict(facts)
        assert all(least[bound] >= value for bound, value in facts)
        chosen = [(limits[2 * w.begin], w.least_s, -limits[2 * w.end + 1] - limits[2 * w.begin])
                  for w in works if 2 * w.begin in limits]  # fmt: skip
        begin, end = min(b for b, _, _ in chosen), max(b + s for b, _, s in chosen)
        assert sum(work for _, work, _ in chosen) > units * _worked_s(begin, end, away)


SPANS = [(0, 9), (14, 19), (24, 40)]


def _fit(jobs: list[Job], units: int) -> bool:
    """Whether all jobs can be done, each within one span."""
    return any(
        _done(zip(order, chosen, strict=True), units)
        for order in permutations(jobs)
        for chosen in product(range(units), repeat=len(jobs))
    )


def _done(order: Iterable[tuple[Job, int]], units: int) -> bool:
    """Whether jobs can be done in an order, each by its unit and as early as possible."""
    free = [0] * units
    for (begin, work, span), unit in order:
        starts = (max(free[unit], begin, opens) for opens, closes in SPANS
                  if max(free[unit], begin, opens) + work <= closes)  # fmt: skip
        start = next(starts, inf)
        if start + work > begin + span:
            return False
        free[unit] = int(start) + work
    return True


@given(
    st.lists(st.tuples(times, st.integers(2, 9), times), min_size=2, max_size=4), st.integers(1, 2)
)
def test_whole_pieces_leave_room_for_every_set_of_jobs_that_can_be_done(
    jobs: list[Job], units: int
) -> None:
    """Jobs that can be done without crossing a closing are not refused, in pieces of any length."""
    works = [Use(2 * n + 1, 0, 2 * n + 2, 0, work) for n, (_, work, _) in enumerate(jobs)]
    least = [0, 0]
    for begin, _, span in jobs:
        least += [begin, -begin - span, begin, -begin - span]
    loads = [Load(Shared(units, works, SPANS), piece_s).clash(least) for piece_s in range(1, 10)]
    if _fit(jobs, units):
        assert loads == [None] * 9


def test_stays_are_counted_in_whole_pieces() -> None:
    """Two evenings of five hours have room for two stays of three, not for three of them."""
    evenings = [(0, 5), (24, 29)]
    least = [0, 0] + [0, -29] * 6
    for count in (2, 3):
        works = [Use(2 * n + 1, 0, 2 * n + 2, 0, 3) for n in range(count)]
        found = [load.clash(least) for load in loads_of(Shared(1, works, evenings))]
        assert [facts is None for facts in found] == [True, count == 2]


ONE_PAIR = [(kind, seed, 1) for kind in KINDS for seed in range(4)]
TWO_PAIRS = [(kind, 9, 2) for kind in ("equal", "mixed", "walks", "away")]
one_pair = pytest.mark.parametrize("case", ONE_PAIR, ids=str)


@cache
def _solved(case: tuple[str, int, int]) -> tuple[Problem, Plan]:
    """A generated problem with moves to make, and its plan."""
    kind, seed, hands = case
    for again in range(20):
        problem = replace(KINDS[kind](random.Random(f"bound {kind}{seed}.{again}")), hands=hands)
        plan = solve(problem, nodes=300).plan
        if plan is not None and plan.moves:
            return problem, plan
    raise AssertionError(f"no plan for twenty problems like {case}")


@pytest.mark.parametrize("case", ONE_PAIR + TWO_PAIRS, ids=str)
def test_the_first_bound_never_exceeds_a_plan(case: tuple[str, int, int]) -> None:
    """No plan ends before the bound that is found without a search."""
    problem, plan = _solved(case)
    search = Earliest(problem, SearchLimits())
    search.take_plan(plan)
    search.find_bound()
    assert problem.now_s <= search.bound_s <= (plan.end_s or 0)


@one_pair
def test_ends_of_plans_are_multiples_of_the_unit(case: tuple[str, int, int]) -> None:
    """A plan ends a whole number of units from now, the unit to which bounds are rounded."""
    problem, plan = _solved(case)
    assert ((plan.end_s or 0) - problem.now_s) % Instance(problem).unit_s == 0


@pytest.mark.parametrize("seed", range(6))
def test_no_detour_is_shorter_than_the_direct_way(seed: int) -> None:
    """No detour by a third place is shorter, and no path is longer than the direct walk."""
    instance = Instance(KINDS["walks"](random.Random(f"way {seed}")))
    size = len(instance.way)
    assert size == len(instance.places) + 1
    for a in range(size):
        for b in range(size):
            assert instance.way[a][b] <= instance.walk[a][b]
            for c in range(size):
                assert instance.way[a][b] <= instance.way[a][c] + instance.way[c][b]
    assert all(instance.way[NOWHERE][b] == 0 for b in range(size))
