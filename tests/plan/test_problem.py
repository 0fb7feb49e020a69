"""Problems that contradict themselves get a clear error; unusual ones get a clear answer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    ProblemError,
    Route,
    Walk,
)
from tests.plan.build import equal_parts
from tests.plan.plan_check import check_plan

ROUTE = Route("r", (Move(10), Move(20)), (DwellLimits("tank", 100, 150),))
TANK = PlanStation("tank")
GOOD = Problem((TANK,), (PlanPart("a", ROUTE),))


def _with(part: PlanPart) -> Problem:
    return replace(GOOD, parts=(part,))


def _dwelling(*dwells: DwellLimits) -> Problem:
    return _with(PlanPart("a", Route("r", (Move(1),) * (len(dwells) + 1), dwells)))


BAD = {
    "two stations of one name": (replace(GOOD, stations=(TANK, TANK)), "named 2 times"),
    "two parts of one name": (replace(GOOD, parts=GOOD.parts * 2), "named 2 times"),
    "nobody": (replace(GOOD, hands=0), "at least one"),
    "no slot": (replace(GOOD, stations=(PlanStation("tank", 0),)), "holds 0"),
    "walk to nowhere": (replace(GOOD, walks=(Walk("tank", "river", 5),)), "'river'"),
    "walk back in time": (replace(GOOD, walks=(Walk("tank", "tank", -5),)), "-5 s"),
    "hands nowhere": (replace(GOOD, hands_at="river"), "'river'"),
    "empty away window": (replace(GOOD, away=(AwayTime(50, 50),)), "from 50 s to 50 s"),
    "unknown station": (_dwelling(DwellLimits("river", 1)), "'river'"),
    "least above max": (_dwelling(DwellLimits("tank", 9, 8)), "above max"),
    "aim outside": (_dwelling(DwellLimits("tank", 5, 8, 9)), "target 9 s"),
    "negative least": (_dwelling(DwellLimits("tank", -1)), "-1 s"),
    "too few moves": (_with(PlanPart("a", Route("r", (Move(1),), ROUTE.dwells))), "1 moves"),
    "negative move": (_with(PlanPart("a", Route("r", (Move(-1), Move(1)), ROUTE.dwells))), "-1 s"),
    "move names another tank": (
        replace(
            _with(
                PlanPart("a", Route("r", (Move(1, to_station="b"), Move(1)), ROUTE.dwells)),
            ),
            stations=(TANK, PlanStation("b")),
        ),
        "the dwell is at 'tank'",
    ),
    "too many moves made": (_with(PlanPart("a", ROUTE, moves_made=3)), "3 moves made"),
    "no entry time": (_with(PlanPart("a", ROUTE, moves_made=1)), "no entry time"),
    "in a dwell unmoved": (_with(PlanPart("a", ROUTE, entered_s=-5)), "before its first move"),
    "entry in the future": (_with(PlanPart("a", ROUTE, moves_made=1, entered_s=5)), "after now"),
    "held in the hands": (
        _with(PlanPart("a", ROUTE, moving_s=5, held=True)), "held and in the hands"
    ),
    "move of negative length": (_with(PlanPart("a", ROUTE, moving_s=-5)), "-5 s"),
    "two in one pair of hands": (
        replace(GOOD, parts=(PlanPart("a", ROUTE, moving_s=5), PlanPart("b", ROUTE, moving_s=5))),
        "2 parts in 1 pair",
    ),
    "overfull tank": (
        replace(
            GOOD,
            parts=(
                PlanPart("a", ROUTE, moves_made=1, entered_s=-5),
                PlanPart("b", ROUTE, moves_made=1, entered_s=-9),
            ),
        ),
        "a, b are in it",
    ),
    "more moves than any bench has": (
        replace(GOOD, parts=tuple(PlanPart(str(i), ROUTE) for i in range(10_001))), "20002 moves",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_contradiction_is_named(name: str) -> None:
    """Each bad problem raises an error that names what was found and what to do."""
    problem, found = BAD[name]
    with pytest.raises(ProblemError) as caught:
        solve(problem)
    assert found in str(caught.value)
    assert caught.value.way_out


def test_no_parts_means_an_empty_plan() -> None:
    """A problem without parts has an empty, optimal plan."""
    outcome = solve(replace(GOOD, parts=()))
    assert outcome.status == "optimal"
    assert outcome.plan is not None
    assert outcome.plan.moves == ()
    assert outcome.as_dict()["makespan_s"] is None


def test_five_hundred_parts_get_a_plan_within_a_budget_of_nodes() -> None:
    """Five hundred parts get a plan within a budget of nodes, at most 1% over the bound."""
    problem = equal_parts(500)
    outcome = solve(problem, nodes=4000)
    assert outcome.plan is not None
    assert outcome.bound_s is not None
    assert check_plan(problem, outcome.plan) == []
    assert outcome.bound_s <= (outcome.plan.end_s or 0) <= outcome.bound_s * 1.01


def test_a_day_away_moves_everything_after_it() -> None:
    """If the whole day is away, the plan begins the second someone is back."""
    plan = solve(replace(GOOD, away=(AwayTime(0, 86_400),))).plan
    assert plan is not None
    assert [move.start_s for move in plan.moves] == [86_400, 86_510]


def test_an_away_window_no_dwell_can_bridge() -> None:
    """A part whose limit falls into hours away has no plan, and the answer names the limit."""
    part = PlanPart("a", ROUTE, moves_made=1, entered_s=0)
    outcome = solve(replace(GOOD, parts=(part,), away=(AwayTime(50, 5000),), now_s=40))
    assert outcome.status == "infeasible"
    assert "a must leave tank by 2 min 30 s" in outcome.why[0]
    assert any("let a stay 1 h 20 min 50 s longer in tank" in line for line in outcome.why)


def test_a_station_out_of_service_is_the_witness() -> None:
    """A part that needs a shut station has no plan, and the offer is to reopen the station."""
    shut = replace(GOOD, stations=(PlanStation("tank", 1, in_service=False),))
    outcome = solve(shut, rescue=True)
    assert outcome.status == "infeasible"
    assert "tank" in outcome.why[0]
    assert "out of service" in outcome.why[0]


def test_a_held_part_keeps_its_slot() -> None:
    """A tank whose only slot has a held part is closed to other parts."""
    held = PlanPart("a", ROUTE, moves_made=1, entered_s=-500, held=True)
    outcome = solve(replace(GOOD, parts=(held, PlanPart("b", ROUTE))))
    assert outcome.status == "infeasible"
    assert outcome.why[-1].endswith("resume a") or "held" in outcome.why[0]
    roomy = replace(GOOD, stations=(PlanStation("tank", 2),), parts=(held, PlanPart("b", ROUTE)))
    plan = solve(roomy).plan
    assert plan is not None
    assert {move.part for move in plan.moves} == {"b"}
