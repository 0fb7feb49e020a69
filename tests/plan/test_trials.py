"""Trials of a plan compared with a second-by-second simulation and closed forms."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from math import exp, log, sqrt
from statistics import NormalDist, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, PlanPart, PlanStation, Problem
from benchtimer.plan.risk import assess
from benchtimer.plan.trials import Replay
from benchtimer.recipe.places import put
from benchtimer.recipe.recipe_files import RecipeFiles
from tests.plan.build import any_order, route
from tests.plan.by_the_second import carried_out
from tests.plan.generate import KINDS

NORMAL = NormalDist()
HALF_PAST_TEN_S = 9600
"""22:30, counted from 19:50."""


@cache
def _drawn(kind: str, seed: int, hands: int) -> tuple[Problem, Plan] | None:
    """A generated problem with a plan; for two pairs of hands no station ever fills up."""
    problem = KINDS[kind](random.Random(f"trial {kind}{seed}"))
    if hands > 1:
        roomy = tuple(PlanStation(s.name, len(problem.parts)) for s in problem.stations)
        problem = replace(problem, stations=roomy, hands=hands, hands_at=None)
    plan = solve(problem, nodes=100).plan
    return None if plan is None else (problem, plan)


@given(
    st.sampled_from(["away", "away", "mixed", "walks", "releases", "midrun"]),
    st.integers(0, 7),
    st.sampled_from([1, 1, 2]),
    st.integers(0, 10_000),
)
def test_a_trial_agrees_with_a_check_of_every_second(
    kind: str, seed: int, hands: int, lengths_seed: int
) -> None:
    """For the same hands-on times, overruns, work past hours and end are the same."""
    drawn = _drawn(kind, seed, hands)
    if drawn is None:
        return
    problem, plan = drawn
    rng = random.Random(lengths_seed)
    lengths = [rng.randint(0, 3 * (m.end_s - m.start_s)) for m in plan.moves]
    starts = [m.start_s for m in plan.moves]
    tried = Replay(problem, plan, 1).run(starts, [[float(s)] for s in lengths])
    seen = carried_out(problem, plan, lengths)
    overruns = {
        (d.part, d.dwell): column[0]
        for d, column in zip(plan.dwells, tried.overruns, strict=True)
        if column and column[0]
    }
    assert overruns == seen.overruns
    assert {close: column[0] for close, column in tried.past_hours.items()} == seen.past_hours
    assert tried.ends == [seen.end_s]


@pytest.mark.parametrize("seed", [2, 19])
def test_two_people_can_exchange_two_parts(seed: int) -> None:
    """If each of two moves frees the slot of the other, the trial goes as planned."""
    problem = replace(any_order(2, seed, 0.15), hands=2)
    plan = solve(problem, nodes=300).plan
    assert plan is not None
    replay = Replay(problem, plan, 1)
    assert any(replay.freed_by.get(freeing) == move for move, freeing in replay.freed_by.items())
    lengths = [[float(m.end_s - m.start_s)] for m in plan.moves]
    tried = replay.run([m.start_s for m in plan.moves], lengths)
    assert tried.ends == [plan.end_s]
    assert not any(any(column) for column in tried.overruns)


def _evening() -> tuple[Problem, Plan]:
    """Three fittings to polish between 19:50 and 22:30; by plan they are done at 22:21:30."""
    recipe = RecipeFiles().find("fittings-polish")
    away = AwayTime(HALF_PAST_TEN_S, HALF_PAST_TEN_S + 30_600)
    problem = plan_problem(
        put({recipe.id: recipe}), [(name, recipe.id) for name in ("a", "b", "c")], away=[away]
    )
    plan = solve(problem).plan
    assert plan is not None
    return problem, plan


def test_an_evening_runs_past_its_hours_as_often_as_simulated() -> None:
    """The chance and length of work past 22:30 match 400 evenings simulated second by second."""
    problem, plan = _evening()
    assert plan.end_s is not None
    assert plan.end_s < HALF_PAST_TEN_S
    trials, evenings, spread = 4000, 400, 0.25
    risk = assess(problem, plan, trials=trials, spread=spread)
    rng = random.Random(3)
    route_of = {part.name: part.route for part in problem.parts}
    past = []
    for _ in range(evenings):
        lengths = [
            round(
                sum(
                    s * rng.lognormvariate(0, spread) for s in route_of[m.part].moves[m.move].step_s
                )
            )
            for m in plan.moves
        ]
        past.append(carried_out(problem, plan, lengths).past_hours.get(HALF_PAST_TEN_S, 0))
    share = sum(late > 0 for late in past) / evenings
    assert risk.past_hours is not None
    # Four standard errors of the difference of two shares.
    error = 4 * sqrt(share * (1 - share) * (1 / trials + 1 / evenings))
    assert abs(risk.past_hours - share) < error
    assert risk.past_hours > 0.2
    (closing,) = risk.closings
    assert (closing.closes_s, closing.chance) == (HALF_PAST_TEN_S, risk.past_hours)
    late = [s for s in past if s]
    mean_s = sum(late) / len(late)
    # Four standard errors of the evenings' mean, plus a tenth for those of the trials.
    assert abs(closing.mean_past_s - mean_s) < 4.4 * stdev(late) / sqrt(len(late))


@pytest.mark.parametrize("spread", [0.1, 0.25, 0.5])
def test_one_move_before_closing_has_the_calculated_chance(spread: float) -> None:
    """Log-normal, closed form: P(X > c), and E[X - c | X > c] = m e^(s2/2) P(Z < s - k)/P - c."""
    problem = Problem(
        (), (PlanPart("blade", route("file", [1000], [])),), away=(AwayTime(1200, 9000),)
    )
    plan = solve(problem).plan
    assert plan is not None
    trials = 4000
    risk = assess(problem, plan, trials=trials, spread=spread)
    k = log(1.2) / spread
    chance = 1 - NORMAL.cdf(k)
    mean_s = 1000 * exp(spread**2 / 2) * NORMAL.cdf(spread - k) / chance - 1200
    assert risk.past_hours == pytest.approx(chance, abs=4 * sqrt(chance * (1 - chance) / trials))
    (closing,) = risk.closings
    assert closing.mean_past_s == pytest.approx(mean_s, rel=0.15)
    assert (risk.any_overrun, risk.worst) == (0, risk.past_hours)


def test_a_pull_in_the_away_hours_waits_for_the_morning() -> None:
    """A part a minute late at closing stays in its tank all night and counts as such."""
    soak = route("soak", [0, 0], [("tank", 100, 400)])
    work = route("work", [100], [])
    parts = (PlanPart("a", soak, moves_made=1, entered_s=0), PlanPart("b", work))
    problem = Problem((PlanStation("tank"),), parts, away=(AwayTime(150, 5000),))
    plan = solve(problem).plan
    assert plan is not None
    assert [m.part for m in plan.moves] == ["b", "a"]
    starts = [m.start_s for m in plan.moves]
    tried = Replay(problem, plan, 3).run(starts, [[100.0, 150.0, 151.0], [0.0, 0.0, 0.0]])
    assert tried.overruns == [[0.0, 0.0, 5000 - 400]]
    assert tried.past_hours == {150: [0.0, 0.0, 1.0]}
    assert tried.ends == [100.0, 150.0, 5000.0]


def test_work_due_exactly_at_closing_waits() -> None:
    """A ten-second pull due at closing begins when the hours open again."""
    soak = route("soak", [0, 10], [("tank", 100, None)])
    work = route("work", [100], [])
    parts = (PlanPart("a", soak, moves_made=1, entered_s=0), PlanPart("b", work))
    problem = Problem((PlanStation("tank"),), parts, away=(AwayTime(150, 5000),))
    plan = solve(problem).plan
    assert plan is not None
    starts = [m.start_s for m in plan.moves]
    tried = Replay(problem, plan, 2).run(starts, [[149.0, 150.0], [10.0, 10.0]])
    assert tried.ends == [159.0, 5010.0]
    assert tried.past_hours == {150: [9.0, 0.0]}


def test_with_two_pairs_of_hands_a_full_tank_is_waited_for() -> None:
    """A part goes in only after the pull that frees its slot has begun."""
    soak = route("soak", [60, 60], [("tank", 100, 900)])
    parts = tuple(PlanPart(f"p{n}", soak) for n in range(2))
    problem = Problem((PlanStation("tank"),), parts, hands=2)
    plan = solve(problem).plan
    assert plan is not None
    into = [n for n, m in enumerate(plan.moves) if m.move == 0]
    out = next(n for n, m in enumerate(plan.moves) if m.move == 1)
    assert plan.moves[into[1]].end_s > plan.moves[out].start_s
    lengths = [[60.0]] * 4
    lengths[into[0]] = [500.0]
    ends = Replay(problem, plan, 1).run([m.start_s for m in plan.moves], lengths).ends
    # In by 500 s, out from 600 s on, the second in at 601 s at the earliest, out from 701 s on.
    assert ends[0] >= 761


@pytest.mark.parametrize("kind", ["away", "walks", "midrun", "tight"])
def test_hands_on_time_keep_every_limit_and_hour(kind: str) -> None:
    """With no spread a run matches its plan: no overrun, nothing past the hours."""
    for seed in range(8):
        drawn = _drawn(kind, seed, 1)
        if drawn is not None:
            problem, plan = drawn
            risk = assess(problem, plan, trials=3, spread=0)
            assert (risk.any_overrun, risk.past_hours or 0) == (0, 0)
            assert set(risk.ends_s) == {plan.end_s}
