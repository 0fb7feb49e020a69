"""No dwell ends before its target unless that breaks a window or costs a day; the plan says so."""

from __future__ import annotations

import random

import pytest

from benchtimer.plan.outcome import CutDwell, Feasible, Infeasible
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from tests.plan.build import at_target
from tests.plan.generate import KINDS
from tests.plan.judge import faults
from tests.plan.reference import solve_reference

H = 3600


def _cuts(problem: Problem) -> tuple[CutDwell, ...]:
    outcome = solve(problem)
    assert isinstance(outcome, Feasible)
    assert faults(problem, outcome.plan) == []
    for cut in outcome.cuts:
        assert cut.words in outcome.why
    return outcome.cuts


def test_a_plan_dwells_to_target_and_a_hurried_one_to_min() -> None:
    """Alone in its tank a part stays to its target; in a hurry it leaves at its min."""
    soak = Route("soak", (Move(10), Move(20)), (DwellLimits("tank", 100, 300, 200),))
    problem = Problem((PlanStation("tank"),), (PlanPart("a", soak),))
    for hurry, end_s in ((False, 230), (True, 130)):
        plan = solve(problem, hurry=hurry).plan
        assert plan is not None
        assert plan.end_s == end_s


def _soak(least_h: float, most_h: float | None, target_h: float) -> Problem:
    """A soak begun in a first session of 4 h; the next two start 20 h and 44 h later."""
    max_s = None if most_h is None else round(most_h * H)
    dwell = DwellLimits("tray", round(least_h * H), max_s, round(target_h * H), "soak")
    part = PlanPart("blade", Route("soak", (Move(600), Move(600)), (dwell,)))
    away = (AwayTime(4 * H, 20 * H), AwayTime(24 * H, 44 * H))
    return Problem((PlanStation("tray"),), (part,), away=away)


def test_a_soak_short_of_target_saves_a_day() -> None:
    """A soak ends at closing, over an hour short of target, instead of a day later, with a note."""
    (cut,) = _cuts(_soak(20, 60, 25))
    # In at 0:10; the last pull of 10 min ends at closing, 24:00: 23 h 40 min of 25 h.
    assert (cut.part, cut.place, cut.short_s, cut.otherwise) == ("blade", "tray", 4800, "")
    assert cut.words == "blade: soak 1 h 20 min under target, saves a day"


def test_a_known_plan_that_saves_a_day_is_kept() -> None:
    """A re-plan that knows the soak cut to its min does not end a day later."""
    problem = _soak(23 + 2 / 3, 60, 25)
    known = solve(problem).plan
    again = solve(problem, previous=known)
    assert known is not None
    assert again.plan is not None
    assert again.plan.end_s == known.end_s == 24 * H


def test_a_soak_that_cannot_be_cut_waits_a_day() -> None:
    """A soak whose min falls after closing lasts to its target."""
    assert _cuts(_soak(24, 60, 25)) == ()


def test_a_short_break_does_not_count_as_a_day() -> None:
    """No dwell is cut short for a break of a quarter of an hour."""
    dwell = DwellLimits("tray", 600, 3600, 1800, "soak")
    part = PlanPart("blade", Route("soak", (Move(60), Move(60)), (dwell,)))
    assert _cuts(Problem((PlanStation("tray"),), (part,), away=(AwayTime(1800, 2700),))) == ()


def test_a_dwell_is_cut_if_another_would_overrun() -> None:
    """When two pulls collide, the part that may leave early does, and the plan says why."""
    quick = Route("quick", (Move(10), Move(10)), (DwellLimits("rinse", 100, 110, 100),))
    slow = Route("slow", (Move(10), Move(60)), (DwellLimits("salts", 0, 65, 60),))
    parts = (
        PlanPart("bolster", quick, moves_made=1, entered_s=-40),
        PlanPart("ferrule", slow, moves_made=1, entered_s=0),
    )
    (cut,) = _cuts(Problem((PlanStation("rinse"), PlanStation("salts")), parts))
    assert cut.words == (
        "ferrule leaves salts 50 s before target: otherwise bolster overruns in rinse"
    )


def test_a_dwell_is_cut_where_the_hours_end() -> None:
    """A part that must leave before closing leaves before target, and the plan names the hours."""
    soak = Route("soak", (Move(10), Move(20)), (DwellLimits("tank", 50, 150, 120),))
    part = PlanPart("a", soak, moves_made=1, entered_s=0)
    (cut,) = _cuts(Problem((PlanStation("tank"),), (part,), away=(AwayTime(100, 400),)))
    assert cut.words == "a leaves tank 40 s before target: otherwise a misses the hours"


@pytest.mark.parametrize("kind", ["tight", "midrun", "away"])
def test_nothing_is_cut_without_need(kind: str) -> None:
    """No dwell is cut where CP-SAT keeps every target; elsewhere some are."""
    for seed in range(12):
        problem = KINDS[kind](random.Random(f"cut {kind} {seed}"))
        outcome = solve(problem)
        whole = solve_reference(at_target(problem)).end_s
        if isinstance(outcome, Infeasible):
            assert solve_reference(problem).end_s is None
        elif isinstance(outcome, Feasible):
            assert bool(outcome.cuts) == (whole is None)
            assert faults(problem, outcome.plan) == []
