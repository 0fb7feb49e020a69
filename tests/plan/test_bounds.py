"""Lower bounds are correct: compared with formulas, with every schedule, and with real plans."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import combinations, permutations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from benchtimer.plan.bounds import Bounds
from benchtimer.plan.instance import NOWHERE, Instance
from benchtimer.plan.jackson import Jackson, Job, preemptive_end, shared_end
from benchtimer.plan.lookahead import Lookahead
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_state import root
from tests.plan.generate import KINDS

times = st.integers(0, 30)
jobs_of = st.lists(st.tuples(times, st.integers(0, 12), times), min_size=1, max_size=6)


def _carlier(jobs: list[Job]) -> float:
    """The largest of least head + all work + least tail over all sets of jobs."""
    return max(
        min(head for head, _, _ in some) + sum(w for _, w, _ in some) + min(t for _, _, t in some)
        for size in range(1, len(jobs) + 1)
        for some in combinations(jobs, size)
    )


@given(jobs_of)
@example([(0, 0, 0)])
@example([(0, 5, 0), (2, 1, 9), (2, 1, 9)])
def test_the_preemptive_end_is_the_worst_set_of_jobs(jobs: list[Job]) -> None:
    """J. Carlier, EJOR 11, 1982: the preemptive end is any job set's largest head + work + tail."""
    assert preemptive_end(list(jobs)) == _carlier(jobs)


def _best_of_all(jobs: list[Job], units: int) -> float:
    """The earliest end over all orders of the jobs, each given to the first free unit."""
    best = float("inf")
    for order in permutations(jobs):
        free = [0.0] * units
        end = 0.0
        for head, work, tail in order:
            unit = free.index(min(free))
            free[unit] = max(free[unit], head) + work
            end = max(end, free[unit] + tail)
        best = min(best, end)
    return best


@given(st.lists(st.tuples(times, st.integers(0, 12), times), min_size=1, max_size=5), st.data())
def test_no_schedule_of_several_units_ends_before_the_bound(
    jobs: list[Job], data: st.DataObject
) -> None:
    """The bound never exceeds the best schedule, and covers each job with its work shared out."""
    units = data.draw(st.integers(1, 3))
    bound = shared_end(list(jobs), units)
    assert bound <= _best_of_all(jobs, units)
    assert bound >= max(head + work / units + tail for head, work, tail in jobs) - 1e-9


@given(jobs_of, st.integers(1, 50))
def test_a_bound_moves_with_its_jobs(jobs: list[Job], by: int) -> None:
    """Shifting all heads shifts the bound by as much, and doubling all times doubles it."""
    end = preemptive_end(list(jobs))
    assert preemptive_end([(h + by, w, t) for h, w, t in jobs]) == end + by
    assert preemptive_end([(2 * h, 2 * w, 2 * t) for h, w, t in jobs]) == 2 * end


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


def _numbers(instance: Instance) -> dict[str, tuple[int, int]]:
    """Each part's first move number and its place in its line."""
    return {
        instance.problem.parts[index].name: (line.first_m, n)
        for line in instance.lines
        for n, index in enumerate(line.parts)
    }


@pytest.mark.parametrize("case", ONE_PAIR + TWO_PAIRS, ids=str)
def test_the_lower_bound_never_exceeds_a_plan(
    case: tuple[str, int, int],
) -> None:
    """From each move's start, a plan takes at least the tail of that move to its end."""
    problem, plan = _solved(case)
    instance = Instance(problem)
    tails, numbers = Bounds(instance).tail_s, _numbers(instance)
    for move in plan.moves:
        first, n = numbers[move.part]
        assert move.start_s + tails[first + move.move][n] <= (plan.end_s or 0)


@one_pair
def test_no_move_begins_before_its_earliest_time(case: tuple[str, int, int]) -> None:
    """No move starts before its head, and the bound of the bench never exceeds the end."""
    problem, plan = _solved(case)
    instance = Instance(problem)
    jackson = Jackson(instance, Bounds(instance))
    state = root(instance)
    heads, numbers = jackson.heads(state), _numbers(instance)
    for move in plan.moves:
        first, n = numbers[move.part]
        assert heads[first + move.move, n] <= move.start_s
    assert jackson.bound(state) <= (plan.end_s or 0)


@one_pair
def test_forced_gaps_between_entries_hold_in_plans(case: tuple[str, int, int]) -> None:
    """Parts in stations at the same time keep the gaps that the lookahead computes."""
    problem, plan = _solved(case)
    instance = Instance(problem)
    ahead, numbers = Lookahead(instance), _numbers(instance)
    for a, b in permutations(plan.dwells, 2):
        if a.part == b.part or a.in_s >= b.out_s or b.in_s >= a.out_s:
            continue
        (a_first, a_n), (b_first, b_n) = numbers[a.part], numbers[b.part]
        gap = b.in_s - a.in_s
        if a_first == b_first and a_n < b_n:
            assert gap >= ahead.forced(a_first + a.dwell, b_first + b.dwell, b_n - a_n)
        elif a_first != b_first:
            for first, second in ahead.either(a_first + a.dwell, b_first + b.dwell):
                assert gap >= first or -gap >= second


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
