"""The shortest steady interval: a published line, a constraint solver, and unusual lines."""

from __future__ import annotations

import pytest

from benchtimer.plan.cadence import cadence
from benchtimer.plan.network import OrderedMove
from benchtimer.plan.problem import DwellLimits, Move, PlanPart, PlanStation, Problem, Route
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.timing import make_plan
from tests.plan.cyclic import phillips_unger, reference_cadence, seeded
from tests.plan.plan_check import check_plan


def test_the_published_line_of_1976() -> None:
    """Phillips and Unger, AIIE Transactions 8(2): the shortest interval is 521 s."""
    line, published_s = phillips_unger()
    answer = cadence(*line)
    assert (answer.status, answer.cadence_s, answer.bound_s) == ("optimal", published_s, 521)
    assert answer.nodes <= 1500


@pytest.mark.parametrize("seed", range(30))
def test_the_interval_agrees_with_a_constraint_solver(seed: int) -> None:
    """OR-tools CP-SAT proves the same shortest interval on seeded lines."""
    line = seeded(seed)
    answer = cadence(*line)
    assert answer.status == "optimal"
    assert answer.cadence_s == reference_cadence(line)


@pytest.mark.parametrize("seed", range(0, 30, 3))
def test_a_steady_line_keeps_every_rule(seed: int) -> None:
    """Eight parts started at the interval pass the independent checker, move by move."""
    stations, route, walks = seeded(seed)
    answer = cadence(stations, route, walks)
    assert answer.cadence_s is not None
    parts = tuple(PlanPart(f"p{n}", route) for n in range(8))
    turns = sorted(
        (start + n * answer.cadence_s, n, i)
        for n in range(8)
        for i, start in enumerate(answer.starts_s)
    )
    problem = Problem(stations, parts, walks)
    moves = [OrderedMove(n, i) for _, n, i in turns]
    plan = make_plan(problem, moves, [start for start, _, _ in turns])
    assert check_plan(problem, plan) == []


def test_two_visits_share_one_slot() -> None:
    """A tank visited twice is busy for both dwells and the moves around them."""
    dwells = (DwellLimits("a", 100, 100), DwellLimits("b", 10), DwellLimits("a", 50, 50))
    route = Route("twice", (Move(10),) * 4, dwells)
    # (10 + 100 + 10) + (10 + 50 + 10) fill the slot of a without a gap if b can wait.
    roomy = cadence((PlanStation("a"), PlanStation("b", 2)), route)
    assert (roomy.status, roomy.cadence_s) == ("optimal", 190)
    # With one slot in b the part must leave within one interval, 20 s of moves included.
    assert cadence((PlanStation("a"), PlanStation("b")), route).cadence_s == 200


def test_two_slots_halve_the_interval() -> None:
    """With enough slots the interval drops to what the other rules allow."""
    route = Route("one", (Move(10), Move(10)), (DwellLimits("a", 100, 100),))
    one = cadence((PlanStation("a", 1),), route)
    two = cadence((PlanStation("a", 2),), route)
    assert one.cadence_s == 120
    assert two.cadence_s == 60
    assert two.parts_at_once == 2


def test_a_budget_gives_a_bound() -> None:
    """Stopped at once, the search returns an interval that works and a bound below the optimum."""
    line, published_s = phillips_unger()
    answer = cadence(*line, SearchLimits(nodes=1))
    assert answer.status == "feasible"
    assert answer.bound_s is not None
    assert answer.cadence_s is not None
    assert answer.bound_s <= published_s <= answer.cadence_s


def test_a_station_out_of_service_has_no_cadence() -> None:
    """A route through a station out of service has no interval, and the answer names it."""
    route = Route("one", (Move(10), Move(10)), (DwellLimits("a", 100),))
    answer = cadence((PlanStation("a", in_service=False),), route)
    assert answer.status == "infeasible"
    assert "a is out of service" in answer.why
