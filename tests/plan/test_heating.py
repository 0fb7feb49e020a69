"""Heated places: nothing goes in cold, and loads fit between make-ups."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.plan.heating import heated, needs_heat, ready_times, sessions, with_closings
from benchtimer.plan.outcome import Feasible, Infeasible, Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Heating,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from tests.plan.judge import faults

SALTS = Heating(heat_up_s=3600, after_s=2100, cool_s=3600, hands_s=300)
BLACK = Route("black", (Move(60), Move(60)), (DwellLimits("salts", 500, 1200, 600, "black"),))


def _bench(count: int, heating: Heating = SALTS, **more: object) -> Problem:
    parts = tuple(PlanPart(f"p{n}", BLACK) for n in range(count))
    problem = Problem((PlanStation("salts", heating=heating),), parts)
    return replace(problem, **more)  # type: ignore[arg-type]


def _planned(problem: Problem) -> Plan:
    outcome = solve(problem)
    assert isinstance(outcome, Feasible)
    shut = with_closings(problem, outcome.plan.closings)
    assert faults(shut, outcome.plan, targets=True) == []
    return outcome.plan


def test_nothing_goes_in_before_it_is_hot() -> None:
    """A part leaves for cold salts only when they reach heat an hour later, as proved."""
    outcome = solve(_bench(1))
    assert outcome.status == "optimal"
    assert outcome.plan is not None
    assert outcome.plan.moves[0].start_s == 3600
    assert outcome.plan.end_s == 3600 + 60 + 600 + 60


def test_loads_that_fit_before_the_make_up_need_none() -> None:
    """Three loads of ten minutes fit into the 35 minutes at heat."""
    plan = _planned(_bench(3))
    assert [c.why for c in plan.closings] == ["heats up"]


def test_loads_fit_between_make_ups() -> None:
    """Two of five loads wait until after the make-up, none go in during it, and its times show."""
    outcome = solve(_bench(5))
    plan = _planned(_bench(5))
    made = [c for c in plan.closings if c.why == "made up"]
    (closing,) = made
    assert closing.from_s == plan.moves[0].start_s + 2100 == 3600 + 2100
    assert closing.to_s == closing.from_s + 3600 + 300 + 3600
    assert sum(d.in_s >= closing.to_s for d in plan.dwells) == 2
    assert any("salts has its make-up at" in why for why in outcome.why)
    assert closing.hands is not None
    assert all(m.end_s <= closing.hands[0] or m.start_s >= closing.hands[1] for m in plan.moves)


def test_make_ups_that_cost_no_time_leave_the_proof() -> None:
    """Make-ups during an overnight soak don't delay the proved end."""
    steps = (*BLACK.dwells, DwellLimits("oil", 20_000, None, 20_000))
    night = Route("night", (Move(60),) * 3, steps)
    parts = tuple(PlanPart(f"p{n}", night) for n in range(5))
    bench = _bench(0, away=(AwayTime(25_000, 80_000),))
    outcome = solve(replace(bench, stations=(*bench.stations, PlanStation("oil", 9)), parts=parts))
    assert outcome.status == "optimal"
    assert outcome.plan is not None
    assert any(c.why == "made up" for c in outcome.plan.closings)
    assert outcome.plan.end_s == outcome.bound_s == 80_000 + 4 * 60


def test_a_bath_that_is_hot_already_takes_parts_at_once() -> None:
    """A bath hot for half an hour with a make-up due in five minutes takes one load first."""
    hot = replace(SALTS, ready_s=0, due_s=900)
    plan = _planned(_bench(2, hot))
    assert plan.dwells[0].in_s == 60
    assert plan.dwells[1].in_s >= 900 + 3600 + 300 + 3600


def test_a_bath_is_cold_again_the_next_evening() -> None:
    """A part on the second evening waits until the salts are hot again."""
    soon = _bench(1, away=(AwayTime(3900, 80_000),))
    plan = _planned(soon)
    assert plan.dwells[0].in_s >= 80_000 + 3600
    assert [opens_s for opens_s, _ in sessions(soon)] == [0, 80_000]


def test_make_ups_that_leave_no_plan_are_put_off() -> None:
    """If a part is still in at make-up time, the make-up moves back, and the plan says so."""
    hot = replace(SALTS, ready_s=0, due_s=100)
    part = PlanPart("p", BLACK, moves_made=1, entered_s=0)
    outcome = solve(replace(_bench(0, hot), parts=(part,)))
    assert outcome.plan is not None
    assert any("put them off" in why for why in outcome.why)


def test_a_window_comes_before_the_heat() -> None:
    """A part due out before the next bath is hot moves on time, and the plan says to heat now."""
    boil = DwellLimits("boil", 60, 600, 100)
    route = Route("on", (Move(10),) * 3, (DwellLimits("salts", 500, 1200, 600), boil))
    part = PlanPart("p", route, moves_made=1, entered_s=0)
    stations = (PlanStation("salts"), PlanStation("boil", heating=Heating(3600)))
    outcome = solve(Problem(stations, (part,)))
    assert outcome.plan is not None
    assert outcome.plan.moves[0].start_s == 600
    assert outcome.why[-1].endswith("heat now")


def test_a_part_on_its_way_to_a_heating_bath_is_shown_as_late() -> None:
    """A replan never sends it into the cold bath: it says how long the part stays too long."""
    way = Route("way", (Move(0), Move(60), Move(60)), (
        DwellLimits("cleaner", 300, 1200, 600, "cleaner"), BLACK.dwells[0],
    ))  # fmt: skip
    part = PlanPart("p", way, moves_made=1, entered_s=0)
    salts = PlanStation("salts", heating=replace(SALTS, ready_s=1800))
    outcome = solve(Problem((PlanStation("cleaner"), salts), (part,)), rescue=True)
    assert isinstance(outcome, Infeasible)
    assert outcome.least_bad is not None
    cleaner, black = outcome.least_bad.dwells
    assert cleaner.overrun_s == 1800 - 1200
    assert black.in_s >= 1800


def test_a_place_that_is_never_heated_changes_nothing() -> None:
    """Without heat nothing closes, and the problem stays unchanged."""
    cold = Problem((PlanStation("salts"),), (PlanPart("p", BLACK),))
    assert not needs_heat(cold)
    assert heated(cold) == (cold, ())
    plan = solve(cold).plan
    assert plan is not None
    assert ready_times(cold, plan) == {}


@pytest.mark.parametrize("hands", [1, 2])
def test_a_break_does_not_mean_heating_again(hands: int) -> None:
    """The salts stay hot over a break of a quarter of an hour."""
    plan = _planned(_bench(2, away=(AwayTime(4400, 5300),), hands=hands))
    assert [c.why for c in plan.closings] == ["heats up"]
