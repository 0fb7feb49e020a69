"""Long runs of equal parts are planned at their steady interval."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.plan.planner import solve
from benchtimer.plan.problem import DwellLimits, Move, PlanPart, PlanStation, Problem, Route, Walk
from tests.plan.build import equal_parts
from tests.plan.families import evenings
from tests.plan.judge import faults

PARTS = 60


def _etched() -> Problem:
    """Parts with a soak that time doesn't hurt between two short baths, and walks between them."""
    dwells = (DwellLimits("etch", 300, 400), DwellLimits("rack", 600), DwellLimits("oil", 200, 260))
    route = Route("etch and oil", (Move(40), Move(30), Move(30), Move(20)), dwells)
    stations = (PlanStation("etch", 1), PlanStation("rack", PARTS), PlanStation("oil", 1))
    names = [station.name for station in stations]
    walks = tuple(Walk(a, b, 5) for a in names for b in names if a != b)
    return Problem(stations, tuple(PlanPart(f"bolster {i}", route) for i in range(PARTS)), walks)


def _half_done() -> Problem:
    """A run in which one part is in each bath, and another is held in the salts."""
    problem = equal_parts(PARTS)
    first = [
        replace(part, moves_made=made, entered_s=-30 * made)
        for made, part in zip((3, 2, 2, 1), problem.parts, strict=False)
    ]
    first[2] = replace(first[2], held=True)
    return replace(problem, parts=(*first, *problem.parts[4:]))


RUNS = {
    "no break": equal_parts(PARTS),
    "evenings": replace(equal_parts(PARTS), away=evenings(14)),
    "a rest and walks": _etched(),
    "in mid-run": _half_done(),
}


@pytest.mark.parametrize("name", RUNS)
def test_a_long_run_of_equal_parts_ends_close_to_the_bound(name: str) -> None:
    """Sixty equal parts end at most 2% past the bound, after a few hundred placings."""
    problem = RUNS[name]
    outcome = solve(problem, nodes=500)
    assert outcome.plan is not None
    assert outcome.bound_s is not None
    assert faults(problem, outcome.plan) == []
    assert outcome.bound_s <= (outcome.plan.end_s or 0) <= 1.02 * outcome.bound_s


def test_an_earlier_plan_between_the_whole_units_is_improved_to_the_last_second() -> None:
    """A known plan that ends 7 s late, where times are multiples of 15 s, isn't called the best."""
    problem = equal_parts(4)
    best = solve(problem).plan
    assert best is not None
    later = [replace(move, start_s=move.start_s + 7, end_s=move.end_s + 7) for move in best.moves]
    known = replace(best, moves=tuple(later))
    outcome = solve(problem, previous=known)
    assert outcome.status == "optimal"
    assert outcome.plan is not None
    assert outcome.plan.end_s == outcome.bound_s == best.end_s
