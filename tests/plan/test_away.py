"""Clock hours away become windows, and plans keep out of them."""

from __future__ import annotations

from dataclasses import replace

from benchtimer.plan.away import daily
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    ENDLESS_S,
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from tests.plan.plan_check import check_plan

H = 3600


def test_a_night_wraps_midnight() -> None:
    """22:00 to 06:30, seen from 08:00, means tonight and the following nights."""
    assert daily(22 * H, 6 * H + 1800, 8 * H, days=2) == (
        AwayTime(14 * H, 22 * H + 1800), AwayTime(38 * H, 46 * H + 1800),
    )  # fmt: skip


def test_a_night_already_begun_counts() -> None:
    """Seen from 23:00, the night away that starts at 22:00 began an hour ago."""
    assert daily(22 * H, 6 * H, 23 * H, days=1) == (AwayTime(-H, 7 * H),)


def test_a_noon_break_stays_in_its_day() -> None:
    """A break from 12:00 to 13:00, seen from 08:00, stays on its own day."""
    assert daily(12 * H, 13 * H, 8 * H, days=2) == (
        AwayTime(4 * H, 5 * H),
        AwayTime(28 * H, 29 * H),
    )


def test_long_soaks_over_several_nights() -> None:
    """Day-long soaks begin and end while someone is there."""
    route = Route(
        "cure", (Move(600),) * 3, (DwellLimits("rack", 7 * H, 12 * H), DwellLimits("oven", 20 * H))
    )
    parts = tuple(PlanPart(f"blade {n}", route) for n in range(3))
    problem = Problem((PlanStation("rack", 2), PlanStation("oven", 2)), parts)
    problem = replace(problem, away=daily(21 * H, 7 * H, 9 * H))
    outcome = solve(problem)
    assert outcome.status == "optimal"
    assert outcome.plan is not None
    assert check_plan(problem, outcome.plan) == []


def test_endless_away_hours_leave_no_plan() -> None:
    """Work longer than any working stretch gets an explanation, not a plan far in the future."""
    problem = Problem((), (PlanPart("blade", Route("file", (Move(2 * H),), ())),))
    problem = replace(problem, away=(AwayTime(H, 20 * H), AwayTime(21 * H, ENDLESS_S)))
    outcome = solve(problem)
    assert outcome.status == "infeasible"
    assert "too short" in " ".join(outcome.why)
