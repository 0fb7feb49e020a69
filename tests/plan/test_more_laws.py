"""Changes that don't affect a plan, and changes that can only help or only hurt."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, DwellLimits, PlanPart, Problem, Route
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.generate import KINDS, cut_at, rebased
from tests.plan.plan_check import check_plan

seeds = st.integers(0, 10**6)
kinds = st.sampled_from(["equal", "mixed", "tight", "walks", "releases", "away"])
some = settings(max_examples=10, deadline=None, derandomize=True)
NODES = 400


def _problem(kind: str, seed: int) -> Problem:
    return KINDS[kind](random.Random(f"more {kind}{seed}"))


def _bounds(problem: Problem) -> tuple[float, float]:
    """(lower bound of any plan's end, end of a known plan)."""
    outcome = solve(problem, nodes=NODES, hurry=True)
    end_s = None if outcome.plan is None else outcome.plan.end_s
    none = inf if outcome.status == "infeasible" else problem.now_s
    bound_s = none if outcome.bound_s is None else outcome.bound_s
    return bound_s, inf if end_s is None else end_s


def _each_dwell(problem: Problem, change: Callable[[DwellLimits], DwellLimits]) -> Problem:
    def changed(route: Route) -> Route:
        return replace(route, dwells=tuple(change(dwell) for dwell in route.dwells))

    return replace(
        problem, parts=tuple(replace(part, route=changed(part.route)) for part in problem.parts)
    )


def _each_part(problem: Problem, change: Callable[[PlanPart], PlanPart]) -> Problem:
    return replace(problem, parts=tuple(change(part) for part in problem.parts))


def _scaled(problem: Problem, by: int) -> Problem:
    """The same problem on a clock that counts ``by`` ticks a second."""

    def dwell(d: DwellLimits) -> DwellLimits:
        max_s = None if d.max_s is None else by * d.max_s
        target_s = None if d.target_s is None else by * d.target_s
        return replace(d, min_s=by * d.min_s, max_s=max_s, target_s=target_s)

    def part(p: PlanPart) -> PlanPart:
        moves = tuple(replace(m, hands_s=by * m.hands_s) for m in p.route.moves)
        return replace(p, release_s=by * p.release_s, route=replace(p.route, moves=moves))

    return replace(
        _each_part(_each_dwell(problem, dwell), part),
        walks=tuple(replace(w, walk_s=by * w.walk_s) for w in problem.walks),
        away=tuple(AwayTime(by * a.from_s, by * a.to_s) for a in problem.away),
        now_s=by * problem.now_s,
    )


def _renamed(problem: Problem) -> Problem:
    """The same problem with other names for parts, routes and stations."""

    def renamed(name: str | None) -> str | None:
        return None if name is None else f"number {name}"

    def part(p: PlanPart) -> PlanPart:
        dwells = tuple(replace(d, station=f"number {d.station}") for d in p.route.dwells)
        return replace(p, name=f"x {p.name}", route=replace(p.route, name="any", dwells=dwells))

    return replace(
        _each_part(problem, part),
        stations=tuple(replace(s, name=f"number {s.name}") for s in problem.stations),
        walks=tuple(
            replace(w, from_station=f"number {w.from_station}", to_station=f"number {w.to_station}")
            for w in problem.walks
        ),
        hands_at=renamed(problem.hands_at),
    )


@some
@given(kinds, seeds, st.integers(2, 60))
def test_the_unit_of_time_does_not_matter(kind: str, seed: int, by: int) -> None:
    """Multiplying all times by a factor multiplies plan and bound by it.

    Around hours a search that stops early may stop elsewhere: there, no bound may pass a plan.
    """
    problem = _problem(kind, seed)
    low, high = _bounds(problem)
    scaled_low, scaled_high = _bounds(_scaled(problem, by))
    assert by * low <= scaled_high
    assert scaled_low <= by * high
    if kind != "away":
        assert (scaled_low, scaled_high) == (by * low, by * high)


@some
@given(kinds, seeds)
def test_names_do_not_affect_the_plan(kind: str, seed: int) -> None:
    """Renaming everything leaves all planned times unchanged."""
    problem = _problem(kind, seed)
    one, two = (solve(p, nodes=NODES, hurry=True) for p in (problem, _renamed(problem)))
    assert (one.status, one.bound_s, one.nodes) == (two.status, two.bound_s, two.nodes)
    moves = [] if one.plan is None else one.plan.moves
    others = [] if two.plan is None else two.plan.moves
    assert [(m.start_s, m.end_s) for m in moves] == [(m.start_s, m.end_s) for m in others]


@some
@given(kinds, seeds)
def test_a_target_costs_no_time(kind: str, seed: int) -> None:
    """In a hurry, a dwell's target doesn't change the earliest end."""
    problem = _problem(kind, seed)
    least = _each_dwell(problem, lambda d: replace(d, target_s=None))
    low, high = _bounds(problem)
    other_low, other_high = _bounds(least)
    assert low <= other_high
    assert other_low <= high


EASIER: dict[str, Callable[[Problem], Problem]] = {
    "longer limits": lambda p: _each_dwell(
        p, lambda d: replace(d, max_s=None if d.max_s is None else d.max_s + 60)
    ),
    "no limits": lambda p: _each_dwell(p, lambda d: replace(d, max_s=None)),
    "shorter leasts": lambda p: _each_dwell(p, lambda d: replace(d, min_s=d.min_s * 4 // 5)),
    "parts there from the beginning": lambda p: _each_part(p, lambda q: replace(q, release_s=0)),
    "nobody ever away": lambda p: replace(p, away=()),
    "the first hours away dropped": lambda p: replace(p, away=p.away[1:]),
    "another pair of hands": lambda p: replace(p, hands=2, hands_at=None),
    "no walks": lambda p: replace(p, walks=(), hands_at=None),
}


@pytest.mark.parametrize("change", EASIER)
@settings(some, max_examples=5)
@given(kind=kinds, seed=seeds)
def test_what_can_only_help_never_ends_later(change: str, kind: str, seed: int) -> None:
    """A relaxed rule keeps every plan valid, so no bound may show a later end."""
    problem = _problem(kind, seed)
    assert _bounds(EASIER[change](problem))[0] <= _bounds(problem)[1]


def _same_end(problem: Problem, plan: Plan, now_s: int) -> None:
    cut = cut_at(problem, plan, now_s)
    again = solve(cut, previous=plan, rescue=True, nodes=NODES, hurry=True)
    assert again.plan is not None
    assert check_plan(cut, again.plan) == []
    if again.plan.moves:
        assert again.plan.end_s is not None
        assert plan.end_s is not None
        assert again.plan.end_s <= plan.end_s


@some
@given(kinds, seeds, st.floats(0.01, 0.99))
def test_a_plan_followed_so_far_can_be_followed_to_its_end(
    kind: str, seed: int, share: float
) -> None:
    """At any moment of a plan followed so far, another plan ends no later."""
    problem = _problem(kind, seed)
    plan = solve(problem, nodes=NODES, hurry=True).plan
    if plan is not None and plan.end_s is not None and kind != "walks":
        _same_end(problem, plan, int(share * plan.end_s))


@some
@given(seeds)
def test_the_zero_of_time_can_be_now(seed: int) -> None:
    """A bench in mid-run gives the same plan on its own clock as counted from now."""
    problem = KINDS["midrun"](random.Random(f"rebased {seed}"))
    low, high = _bounds(problem)
    now_low, now_high = _bounds(rebased(problem))
    assert (low, high) == (now_low + problem.now_s, now_high + problem.now_s)


@some
@given(kinds, seeds)
def test_more_nodes_never_make_it_worse(kind: str, seed: int) -> None:
    """A longer search ends no later, and its bound only rises."""
    problem = _problem(kind, seed)
    before: tuple[float, float] = (-inf, inf)
    for nodes in (0, 5, 50, 500):
        outcome = solve(problem, nodes=nodes, hurry=True)
        end_s = inf if outcome.plan is None else outcome.plan.end_s or 0
        bound_s = inf if outcome.bound_s is None else outcome.bound_s
        assert end_s <= before[1]
        assert bound_s >= before[0]
        before = (bound_s, end_s)


@some
@given(kinds, seeds)
def test_a_new_plan_is_never_worse_than_the_known_one(kind: str, seed: int) -> None:
    """The answer never ends later than an earlier plan whose order it was given."""
    problem = _problem(kind, seed)
    rough = solve(problem, nodes=60, hurry=True).plan
    if rough is not None:
        again = solve(problem, nodes=0, previous=rough, hurry=True)
        assert again.plan is not None
        assert (again.plan.end_s or 0) <= (rough.end_s or 0)
        assert check_plan(problem, again.plan) == []


def test_a_plan_of_another_bench_does_no_harm() -> None:
    """An earlier plan that no longer fits is ignored."""
    problem, other = _problem("mixed", 1), _problem("mixed", 2)
    alien = solve(other).plan
    assert solve(problem, previous=alien).plan == solve(problem).plan


@pytest.mark.parametrize(("seconds", "over"), [(10.0, False), (3.0, True), (0.0, True)])
def test_the_time_budget_follows_the_callers_clock(seconds: float, over: bool) -> None:
    """A time budget counts from the creation of the limits, on the caller's clock."""
    ticks = iter(range(100, 1000, 3))
    limits = SearchLimits(seconds=seconds, clock=lambda: float(next(ticks)))
    assert limits.over() is over


def test_the_time_spent_follows_the_callers_clock() -> None:
    """The outcome has the elapsed time by the caller's clock: none on a stopped clock."""
    ticks = iter(range(0, 10_000_000, 2))
    outcome = solve(_problem("equal", 3), clock=lambda: float(next(ticks)))
    assert outcome.elapsed_s > 0
    assert outcome.elapsed_s % 2 == 0
    assert solve(_problem("equal", 3)).elapsed_s == 0
