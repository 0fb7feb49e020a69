"""Odds of an overstay beside closed forms of the log-normal law, and advice that is true."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import exp, log, sqrt
from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.plan.check import check_plan
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Away, Dwell, Move, Part, Problem, Route, Station, Walk
from benchtimer.plan.risk import Earlier, Risk, assess, largest_batch
from tests.plan.build import route, tight
from tests.plan.generate import KINDS

NORMAL = NormalDist()
DRAWS = 3000


def _planned(problem: Problem) -> tuple[Problem, Plan]:
    plan = solve(problem).plan
    assert plan is not None
    return problem, plan


def _waiting(most_s: int, *work_s: int) -> Problem:
    """Part a is in the tank and waits until the hands are through with other work."""
    soak = Route("soak", (Move(0), Move(0)), (Dwell("tank", sum(work_s), most_s),))
    others = tuple(
        Part(f"b{n}", Route(f"w{n}", (Move(hands_s),), ())) for n, hands_s in enumerate(work_s)
    )
    parts = (Part("a", soak, moves_made=1, entered_s=0), *others)
    return Problem((Station("tank"),), parts)


def _risk(problem: Problem, **asked: float) -> Risk:
    planned, plan = _planned(problem)
    first = [*plan.moves]
    # The waiting part is lifted last, whatever order the planner found.
    first.sort(key=lambda m: (m.part == "a", m.part))
    times, moves = 0, []
    for move in first:
        hands_s = move.end_s - move.start_s
        moves.append(replace(move, start_s=times, end_s=times + hands_s))
        times += hands_s
    dwell = replace(plan.dwells[0], out_s=times)
    return assess(planned, Plan(tuple(moves), (dwell,), plan.gaps), draws=DRAWS, **asked)  # type: ignore[arg-type]


@pytest.mark.parametrize("spread", [0.1, 0.25, 0.5])
@pytest.mark.parametrize("most_s", [110, 130, 170])
def test_one_slow_move_has_the_odds_and_the_delay_of_its_law(spread: float, most_s: int) -> None:
    """Log-normal, closed form: P(X > m), and E[X - m | X > m] = e^(s2/2) P(Z < s - k)/P - m."""
    risk = _risk(_waiting(most_s, 100), spread=spread)
    k = log(most_s / 100) / spread
    odds = 1 - NORMAL.cdf(k)
    mean = 100 * exp(spread**2 / 2) * NORMAL.cdf(spread - k) / odds - most_s
    (told,) = risk.dwells
    assert told.odds == pytest.approx(odds, abs=4 * sqrt(odds * (1 - odds) / DRAWS) + 0.002)
    assert risk.any_overstay == told.odds
    if odds > 0.05:
        assert told.mean_overstay_s == pytest.approx(mean, rel=0.15)


def test_two_moves_add_up_as_independent_times_do() -> None:
    """The odds of the sum lie between those of one move of double length and of none."""
    both = _risk(_waiting(250, 100, 100), spread=0.3).any_overstay
    double = 1 - NORMAL.cdf(log(1.25) / 0.3)
    mean, variance = 200 * exp(0.045), 2 * 100**2 * exp(0.09) * (exp(0.09) - 1)
    near = 1 - NormalDist(mean, sqrt(variance)).cdf(250)
    assert both < double
    assert both == pytest.approx(near, abs=0.03)


def test_the_ends_are_the_tenths_and_the_middle_of_the_law() -> None:
    """One run in ten ends before the first, one in ten after the last, half before the middle."""
    problem = Problem((), (Part("blade", Route("file", (Move(1000),), ())),))
    risk = assess(*_planned(problem), draws=DRAWS, spread=0.25)
    low, middle, high = (
        1000 * exp(0.25 * z) for z in (NORMAL.inv_cdf(0.1), 0, -NORMAL.inv_cdf(0.1))
    )
    assert risk.ends_s[0] == pytest.approx(low, rel=0.03)
    assert risk.ends_s[1] == pytest.approx(middle, rel=0.02)
    assert risk.ends_s[2] == pytest.approx(high, rel=0.03)
    assert (risk.dwells, risk.any_overstay, risk.earlier) == ((), 0.0, None)


def test_hands_are_waited_for_with_their_walk() -> None:
    """A walk before the lift is added to every draw: the odds are those of a nearer limit."""
    near = _waiting(130, 100)
    stations = (*near.stations, Station("door"))
    away = replace(near.parts[1], route=Route("w", (Move(100, to_station="door"),), ()))
    walk = replace(
        near, stations=stations, parts=(near.parts[0], away), walks=(Walk("door", "tank", 20),)
    )
    told = _risk(walk, spread=0.25).any_overstay
    assert told == _risk(_waiting(110, 100), spread=0.25).any_overstay


@cache
def _tight(seed: int) -> tuple[Problem, Plan]:
    return _planned(tight(4, seed))


@settings(max_examples=15, deadline=None)
@given(st.sampled_from([1, 2, 3]), st.integers(0, 99))
def test_odds_are_shares_and_the_worst_comes_first(seed: int, draw: int) -> None:
    """Each dwell's odds are a share, falling down the list, and none is above that of any."""
    risk = assess(*_tight(seed), seed=draw, draws=200)
    odds = [dwell.odds for dwell in risk.dwells]
    assert odds == sorted(odds, reverse=True)
    assert all(0 <= share <= risk.any_overstay <= 1 for share in odds)
    assert sum(odds) >= risk.any_overstay - 1e-9
    assert list(risk.ends_s) == sorted(risk.ends_s)
    assert all((dwell.mean_overstay_s > 0) == (dwell.odds > 0) for dwell in risk.dwells)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_steadier_hands_are_late_less_often(seed: int) -> None:
    """With the same draws, a smaller spread overstays no more often."""
    shares = [assess(*_tight(seed), spread=s, advise=False).any_overstay for s in (0, 0.1, 0.3)]
    assert shares == sorted(shares)
    assert shares[0] == 0


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_wider_limits_are_broken_less_often(seed: int) -> None:
    """The same plan with limits a minute longer has lower odds everywhere."""
    problem, plan = _tight(seed)
    wider = tuple(
        replace(d, most_s=None if d.most_s is None else d.most_s + 60) for d in plan.dwells
    )
    before = assess(problem, plan, advise=False)
    after = assess(problem, replace(plan, dwells=wider), advise=False)
    assert after.any_overstay < before.any_overstay


def _room() -> Problem:
    """A long wait before the last lift leaves room to begin what comes before it sooner."""
    soak = Route("soak", (Move(10), Move(10)), (Dwell("tank", 100, 500, 500),))
    long = Route("long", (Move(60), Move(60)), (Dwell("rack", 600),))
    return Problem((Station("tank"), Station("rack")), (Part("a", soak), Part("b", long)))


def test_advice_is_a_time_that_is_free_and_is_worth_what_it_says() -> None:
    """Begun so much earlier the move overlaps nothing, and the odds are those told."""
    problem, plan = _planned(_room())
    risk = assess(problem, plan, spread=0.5)
    tip = risk.earlier
    assert tip is not None
    assert tip.odds_before == risk.any_overstay
    moves = tuple(
        replace(m, start_s=m.start_s - tip.by_s, end_s=m.end_s - tip.by_s)
        if (m.part, m.move) == (tip.part, tip.move)
        else m
        for m in plan.moves
    )
    assert all(a.end_s <= b.start_s for a, b in pairwise(moves))
    again = assess(problem, replace(plan, moves=moves), spread=0.5, advise=False)
    assert again.any_overstay == tip.odds_after


def test_a_slow_move_puts_off_the_same_parts_next_one() -> None:
    """Lowered late, a part alone is lifted late: the end is that of the move plus the dwell."""
    soak = route("soak", [1000, 0], [("tank", 10, None)])
    problem, plan = _planned(Problem((Station("tank"),), (Part("a", soak),)))
    risk = assess(problem, plan, draws=DRAWS, spread=0.25)
    slow = 1000 * exp(0.25 * NORMAL.inv_cdf(0.9)) + 10
    assert risk.ends_s[0] == 1010
    assert risk.ends_s[1] == pytest.approx(1010, abs=20)
    assert risk.ends_s[2] == pytest.approx(slow, rel=0.03)


def _tips() -> list[tuple[Problem, Plan, Earlier]]:
    """Advice for generated plans that wait longer than they must."""
    found = []
    for kind in ("releases", "walks", "away", "mixed"):
        for seed in range(8):
            problem = KINDS[kind](random.Random(f"tip {kind}{seed}"))
            plan = solve(problem, nodes=500).plan
            tip = None if plan is None else assess(problem, plan, draws=60, spread=0.6).earlier
            if plan is not None and tip is not None:
                found.append((problem, plan, tip))
    return found


def test_advice_breaks_nothing_but_what_it_is_about() -> None:
    """Begun as advised, no part is taken before it is there, nor hands or hours overlapped."""
    tips = _tips()
    assert len(tips) >= 5
    for problem, plan, tip in tips:
        assert tip.odds_after < tip.odds_before
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


def test_no_advice_is_to_work_while_nobody_is_there() -> None:
    """Hours away right before a move leave nothing to begin earlier."""
    problem, plan = _planned(_room())
    tip = assess(problem, plan, spread=0.5).earlier
    assert tip is not None
    move = next(m for m in plan.moves if (m.part, m.move) == (tip.part, tip.move))
    away = replace(problem, away=(Away(0, move.start_s),))
    told = assess(away, plan, spread=0.5).earlier
    assert told is None or (told.part, told.move) != (tip.part, tip.move)


def test_a_plan_that_is_sure_gets_no_advice() -> None:
    """Where no limit can be broken there is nothing to begin earlier."""
    endless = route("cure", [60, 60], [("rack", 600, None)])
    problem = Problem((Station("rack"),), (Part("a", endless),))
    risk = assess(*_planned(problem), spread=0.5)
    assert (risk.any_overstay, risk.dwells, risk.earlier) == (0.0, (), None)
    assert risk.as_dict()["earlier"] is None


def test_the_published_form_of_the_odds() -> None:
    """The documented names, in their order, and nothing that JSON can't carry."""
    told = assess(*_planned(_room()), spread=0.5, draws=100).as_dict()
    assert list(told) == ["draws", "spread", "any_overstay", "dwells", "ends_s", "earlier"]
    assert list(told["dwells"][0]) == ["part", "step", "station", "odds", "mean_overstay_s"]
    assert list(told["earlier"]) == ["part", "step", "by_s", "odds_before", "odds_after"]
    assert (told["draws"], told["spread"], len(told["ends_s"])) == (100, 0.5, 3)


@pytest.mark.parametrize(("limit", "most"), [(0.0, 0), (1.0, 3)])
def test_a_batch_ends_at_its_limit_or_where_no_plan_is(limit: float, most: int) -> None:
    """No batch keeps odds of nothing, and with any odds allowed the number asked for is the end."""
    count, risk = largest_batch(3, limit, lambda n: _planned(tight(n, 2)), draws=100, spread=0.4)
    assert count == most
    assert (risk is None) == (most == 0)
    assert largest_batch(3, 1.0, lambda n: None if n > 1 else _planned(tight(n, 2)))[0] == 1
    assert largest_batch(0, 1.0, lambda n: _planned(tight(n, 2))) == (0, None)
