"""Chances of an overrun: laws, a closed form, and the largest batch under a limit."""

from __future__ import annotations

from functools import partial
from math import log
from statistics import NormalDist
from typing import Any

from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import DwellLimits, Move, PlanPart, PlanStation, Problem, Route
from benchtimer.plan.risk import assess, largest_batch
from tests.plan.build import tight


def _planned(problem: Problem) -> tuple[Problem, Plan]:
    plan = solve(problem).plan
    assert plan is not None
    return problem, plan


def test_no_spread_means_no_risk() -> None:
    """Hands that are always on time keep every limit and the planned end."""
    problem, plan = _planned(tight(5, 1))
    risk = assess(problem, plan, spread=0)
    assert risk.any_overrun == 0
    assert risk.ends_s == (plan.end_s,) * 3


def test_the_same_seed_gives_the_same_draws() -> None:
    """A seed fixes the answer; another seed changes it."""
    problem, plan = _planned(tight(5, 1))
    assert assess(problem, plan, seed=7) == assess(problem, plan, seed=7)
    assert assess(problem, plan, seed=7) != assess(problem, plan, seed=8)


def test_a_single_delay_has_the_chance_of_its_distribution() -> None:
    """One log-normal move before a limit has the chance of the normal distribution."""
    soak = Route("soak", (Move(0), Move(0)), (DwellLimits("tank", 100, 130),))
    work = Route("work", (Move(100), Move(0)), (DwellLimits("rack", 0),))
    # Part a is in the tank; b's first move of about 100 s begins at once, and a waits for it.
    parts = (PlanPart("a", soak, moves_made=1, entered_s=0), PlanPart("b", work))
    problem = Problem((PlanStation("tank"), PlanStation("rack")), parts)
    _, plan = _planned(problem)
    assert [m.part for m in plan.moves][:2] == ["b", "a"]
    risk = assess(problem, plan, spread=0.25, trials=4000)
    expected = 1 - NormalDist(0, 0.25).cdf(log(1.3))
    assert abs(risk.dwells[0].chance - expected) < 0.025
    assert risk.dwells[0].part == "a"


def test_advice_lowers_the_chance() -> None:
    """Where a planned wait leaves room, the advice names the step to begin earlier."""
    soak = Route("soak", (Move(10), Move(10)), (DwellLimits("tank", 100, 500, 500),))
    long = Route("long", (Move(60), Move(60)), (DwellLimits("rack", 600),))
    problem, plan = _planned(
        Problem(
            (PlanStation("tank"), PlanStation("rack")), (PlanPart("a", soak), PlanPart("b", long))
        )
    )
    risk = assess(problem, plan, spread=0.5)
    assert risk.any_overrun > 0
    assert risk.earlier is not None
    assert risk.earlier.chance_after < risk.earlier.chance_before
    found: Any = risk.as_dict()
    assert found["earlier"]["part"] == risk.earlier.part


def test_the_largest_batch_is_the_last_that_keeps_the_limit() -> None:
    """One part more than the largest batch breaks the limit on the chance."""

    judge = partial(assess, advise=False)
    batch = largest_batch(6, 0.2, lambda n: (tight(n, 2), solve(tight(n, 2))), judge)
    assert batch.risk is not None
    assert batch.risk.any_overrun <= 0.2
    assert 1 <= batch.count < 6
    assert batch.more == assess(*_planned(tight(batch.count + 1, 2)), advise=False)
    assert batch.more.any_overrun > 0.2
