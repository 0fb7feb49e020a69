"""Chances of an overrun match closed forms of the log-normal law, and advice is correct."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache, partial
from itertools import pairwise
from math import exp, log, sqrt
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.plan.outcome import Outcome, Plan, Undecided
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
    Walk,
)
from benchtimer.plan.risk import Batch, Earlier, Risk, assess, largest_batch
from benchtimer.plan.risk_words import batch_lines
from tests.plan.build import route, tight
from tests.plan.generate import KINDS
from tests.plan.plan_check import check_plan

NORMAL = NormalDist()
TRIALS = 3000


def _planned(problem: Problem) -> tuple[Problem, Plan]:
    plan = solve(problem).plan
    assert plan is not None
    return problem, plan


def _solved(problem: Problem) -> tuple[Problem, Outcome]:
    return problem, solve(problem)


def _waiting(max_s: int, *work_s: int) -> Problem:
    """Part a is in the tank and waits until the hands finish other work."""
    soak = Route("soak", (Move(0), Move(0)), (DwellLimits("tank", sum(work_s), max_s),))
    others = tuple(
        PlanPart(f"b{n}", Route(f"w{n}", (Move(hands_s),), ())) for n, hands_s in enumerate(work_s)
    )
    parts = (PlanPart("a", soak, moves_made=1, entered_s=0), *others)
    return Problem((PlanStation("tank"),), parts)


def _risk(problem: Problem, **asked: float) -> Risk:
    planned, plan = _planned(problem)
    first = [*plan.moves]
    # The waiting part is pulled last, whatever order the planner found.
    first.sort(key=lambda m: (m.part == "a", m.part))
    times, moves = 0, []
    for move in first:
        hands_s = move.end_s - move.start_s
        moves.append(replace(move, start_s=times, end_s=times + hands_s))
        times += hands_s
    dwell = replace(plan.dwells[0], out_s=times)
    return assess(planned, Plan(tuple(moves), (dwell,)), trials=TRIALS, **asked)  # type: ignore[arg-type]


@pytest.mark.parametrize("spread", [0.1, 0.25, 0.5])
@pytest.mark.parametrize("max_s", [110, 130, 170])
def test_one_slow_move_has_the_calculated_chance_and_delay(spread: float, max_s: int) -> None:
    """Log-normal, closed form: P(X > m), and E[X - m | X > m] = e^(s2/2) P(Z < s - k)/P - m."""
    risk = _risk(_waiting(max_s, 100), spread=spread)
    k = log(max_s / 100) / spread
    chance = 1 - NORMAL.cdf(k)
    mean = 100 * exp(spread**2 / 2) * NORMAL.cdf(spread - k) / chance - max_s
    result = sum(dwell.chance for dwell in risk.dwells)
    assert result == pytest.approx(chance, abs=4 * sqrt(chance * (1 - chance) / TRIALS) + 0.002)
    assert risk.any_overrun == result
    if chance > 0.05:
        assert risk.dwells[0].mean_overrun_s == pytest.approx(mean, rel=0.15)


def test_two_moves_add_up_as_independent_times() -> None:
    """The chance for a sum of two moves is between no move and one move of double length."""
    both = _risk(_waiting(250, 100, 100), spread=0.3).any_overrun
    double = 1 - NORMAL.cdf(log(1.25) / 0.3)
    mean, variance = 200 * exp(0.045), 2 * 100**2 * exp(0.09) * (exp(0.09) - 1)
    near = 1 - NormalDist(mean, sqrt(variance)).cdf(250)
    assert both < double
    assert both == pytest.approx(near, abs=0.03)


def test_the_end_times_are_the_10th_50th_and_90th_percentiles() -> None:
    """The three ends are the 10%, 50% and 90% points of the distribution."""
    problem = Problem((), (PlanPart("blade", Route("file", (Move(1000),), ())),))
    risk = assess(*_planned(problem), trials=TRIALS, spread=0.25)
    low, middle, high = (
        1000 * exp(0.25 * z) for z in (NORMAL.inv_cdf(0.1), 0, -NORMAL.inv_cdf(0.1))
    )
    assert risk.ends_s[0] == pytest.approx(low, rel=0.03)
    assert risk.ends_s[1] == pytest.approx(middle, rel=0.02)
    assert risk.ends_s[2] == pytest.approx(high, rel=0.03)
    assert (risk.dwells, risk.any_overrun, risk.earlier) == ((), 0.0, None)


def test_waiting_for_hands_includes_the_walk() -> None:
    """A walk before the pull adds to every trial, as if the limit were that much nearer."""
    near = _waiting(130, 100)
    stations = (*near.stations, PlanStation("door"))
    away = replace(near.parts[1], route=Route("w", (Move(100, to_station="door"),), ()))
    walk = replace(
        near, stations=stations, parts=(near.parts[0], away), walks=(Walk("door", "tank", 20),)
    )
    result = _risk(walk, spread=0.25).any_overrun
    assert result == _risk(_waiting(110, 100), spread=0.25).any_overrun


@cache
def _tight(seed: int) -> tuple[Problem, Plan]:
    return _planned(tight(4, seed))


@settings(max_examples=15, deadline=None)
@given(st.sampled_from([1, 2, 3]), st.integers(0, 99))
def test_chances_are_shares_and_the_worst_comes_first(seed: int, draw: int) -> None:
    """Chances are shares, sorted downward, and none exceeds the chance of any overrun."""
    risk = assess(*_tight(seed), seed=draw, trials=200)
    chance = [dwell.chance for dwell in risk.dwells]
    assert chance == sorted(chance, reverse=True)
    assert all(0 <= share <= risk.any_overrun <= 1 for share in chance)
    assert sum(chance) >= risk.any_overrun - 1e-9
    assert list(risk.ends_s) == sorted(risk.ends_s)
    assert all((dwell.mean_overrun_s > 0) == (dwell.chance > 0) for dwell in risk.dwells)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_steadier_hands_are_late_less_often(seed: int) -> None:
    """In the same trials, a smaller spread overruns no more often."""
    shares = [assess(*_tight(seed), spread=s, advise=False).any_overrun for s in (0, 0.1, 0.3)]
    assert shares == sorted(shares)
    assert shares[0] == 0


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_wider_limits_are_broken_less_often(seed: int) -> None:
    """The same plan with limits a minute longer has lower chances everywhere."""
    problem, plan = _tight(seed)
    wider = tuple(replace(d, max_s=None if d.max_s is None else d.max_s + 60) for d in plan.dwells)
    before = assess(problem, plan, advise=False)
    after = assess(problem, replace(plan, dwells=wider), advise=False)
    assert after.any_overrun < before.any_overrun


def _room() -> Problem:
    """A long wait before the last pull leaves room to begin the earlier work sooner."""
    soak = Route("soak", (Move(10), Move(10)), (DwellLimits("tank", 100, 500, 500),))
    long = Route("long", (Move(60), Move(60)), (DwellLimits("rack", 600),))
    return Problem(
        (PlanStation("tank"), PlanStation("rack")), (PlanPart("a", soak), PlanPart("b", long))
    )


def test_advice_names_a_free_time_and_its_real_gain() -> None:
    """A move begun as advised overlaps nothing, and the chances match the advice."""
    problem, plan = _planned(_room())
    risk = assess(problem, plan, spread=0.5)
    tip = risk.earlier
    assert tip is not None
    assert tip.chance_before == risk.any_overrun
    moves = tuple(
        replace(m, start_s=m.start_s - tip.by_s, end_s=m.end_s - tip.by_s)
        if (m.part, m.move) == (tip.part, tip.move)
        else m
        for m in plan.moves
    )
    assert all(a.end_s <= b.start_s for a, b in pairwise(moves))
    again = assess(problem, replace(plan, moves=moves), spread=0.5, advise=False)
    assert again.any_overrun == tip.chance_after


def test_a_slow_move_delays_the_parts_next_move() -> None:
    """Loaded late, a lone part is pulled late: the end is the move plus the dwell."""
    soak = route("soak", [1000, 0], [("tank", 10, None)])
    problem, plan = _planned(Problem((PlanStation("tank"),), (PlanPart("a", soak),)))
    risk = assess(problem, plan, trials=TRIALS, spread=0.25)
    slow = 1000 * exp(0.25 * NORMAL.inv_cdf(0.9)) + 10
    assert risk.ends_s[0] == 1010
    assert risk.ends_s[1] == pytest.approx(1010, abs=20)
    assert risk.ends_s[2] == pytest.approx(slow, rel=0.03)


def _tips() -> list[tuple[Problem, Plan, Earlier]]:
    """Advice for generated plans that wait longer than necessary."""
    found = []
    for kind in ("releases", "walks", "away", "mixed"):
        for seed in range(8):
            problem = KINDS[kind](random.Random(f"tip {kind}{seed}"))
            plan = solve(problem, nodes=500).plan
            tip = None if plan is None else assess(problem, plan, trials=60, spread=0.6).earlier
            if plan is not None and tip is not None:
                found.append((problem, plan, tip))
    return found


def test_advice_breaks_only_the_limit_it_names() -> None:
    """Advice never starts a part before it is available or overlaps hands or hours away."""
    tips = _tips()
    assert len(tips) >= 5
    for problem, plan, tip in tips:
        assert tip.chance_after < tip.chance_before
        assert tip.by_s > 0
        moves = tuple(
            replace(m, start_s=m.start_s - tip.by_s, end_s=m.end_s - tip.by_s)
            if (m.part, m.move) == (tip.part, tip.move)
            else m
            for m in plan.moves
        )
        at = {(m.part, m.move): m for m in moves}
        dwells = tuple(
            replace(d, in_s=at[d.part, d.dwell].end_s, out_s=at[d.part, d.dwell + 1].start_s)
            for d in plan.dwells
        )
        faults = check_plan(problem, replace(plan, moves=moves, dwells=dwells))
        assert all("most is" in fault for fault in faults), faults


def test_no_advice_asks_you_to_work_while_away() -> None:
    """With hours away right before a move, there is no advice to begin it earlier."""
    problem, plan = _planned(_room())
    tip = assess(problem, plan, spread=0.5).earlier
    assert tip is not None
    move = next(m for m in plan.moves if (m.part, m.move) == (tip.part, tip.move))
    away = replace(problem, away=(AwayTime(0, move.start_s),))
    result = assess(away, plan, spread=0.5).earlier
    assert result is None or (result.part, result.move) != (tip.part, tip.move)


def test_a_certain_plan_gets_no_advice() -> None:
    """A plan that can't overrun gets no advice."""
    endless = route("cure", [60, 60], [("rack", 600, None)])
    problem = Problem((PlanStation("rack"),), (PlanPart("a", endless),))
    risk = assess(*_planned(problem), spread=0.5)
    assert (risk.any_overrun, risk.dwells, risk.earlier) == (0.0, (), None)
    assert risk.as_dict()["earlier"] is None


def test_the_published_form_of_the_chances() -> None:
    """The chances have the documented names, in order, and only values JSON can hold."""
    result: Any = assess(*_planned(_room()), spread=0.5, trials=100).as_dict()
    assert list(result) == [
        "trials", "spread", "any_overrun", "dwells", "past_hours", "closings", "ends_s", "earlier",
        "checks_drawn", "put_back", "stopped", "late", "causes",
    ]  # fmt: skip
    assert list(result["dwells"][0]) == ["part", "step", "station", "chance", "mean_overrun_s"]
    assert list(result["earlier"]) == ["part", "step", "by_s", "chance_before", "chance_after"]
    assert (result["trials"], result["spread"], len(result["ends_s"])) == (100, 0.5, 3)


@pytest.mark.parametrize(("limit", "most"), [(0.0, 0), (1.0, 3)])
def test_a_batch_ends_at_its_limit_or_without_a_plan(limit: float, most: int) -> None:
    """With a chance of 0 no batch passes, and with any chance allowed the whole number passes."""
    judge = partial(assess, trials=100, spread=0.4, advise=False)
    batch = largest_batch(3, limit, lambda n: _solved(tight(n, 2)), judge)
    assert batch.count == most
    assert (batch.risk is None) == (most == 0)
    assert (batch.more is None) == (most == 3)


def test_a_batch_ends_where_the_planner_has_no_plan() -> None:
    """The batch search stops where the planner has no plan and keeps the planner's reason."""
    none = Undecided(elapsed_s=2.4)
    batch = largest_batch(
        9, 1.0, lambda n: (tight(n, 2), none) if n > 1 else _solved(tight(n, 2)), assess
    )
    assert (batch.count, batch.more) == (1, none)
    assert batch_lines(batch, 1.0)[-1] == "  2: no plan found in 2 s, none ruled out"
    assert largest_batch(0, 1.0, lambda n: _solved(tight(n, 2)), assess) == Batch(0, None, None)


def test_a_batch_keeps_to_the_hours() -> None:
    """A batch without overruns still fails when it runs past the hours too often."""
    file = route("file", [1000], [])

    def planned(count: int) -> tuple[Problem, Outcome]:
        parts = tuple(PlanPart(f"p{n}", file) for n in range(count))
        return _solved(Problem((), parts, away=(AwayTime(2100, 9000),)))

    batch = largest_batch(9, 0.05, planned, assess)
    assert batch.count == 1
    assert isinstance(batch.more, Risk)
    assert (batch.more.any_overrun, batch.more.worst) == (0, batch.more.past_hours)
    result = batch_lines(batch, 0.005)
    assert result[0] == "parts at once with a chance of 0.5% or less: 1"
    assert "past the hours" in result[-1]
