"""Planning problems as data files, each with its earliest end and a limit on search states."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

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
from tests.plan.plan_check import check_plan
from tests.plan.reference import solve_reference

CASES = tomllib.loads((Path(__file__).parent / "cases" / "plans.toml").read_text())["case"]


def _problem(case: dict[str, Any]) -> Problem:
    routes = {
        name: Route(
            name,
            tuple(Move(seconds) for seconds in found["hands"]),
            tuple(
                DwellLimits(station, least, most or None)
                for station, least, most in found["dwells"]
            ),
        )
        for name, found in case["routes"].items()
    }
    parts = []
    for found in case["parts"]:
        for number in range(found.get("count", 1)):
            parts.append(
                PlanPart(
                    found.get("name", f"part {number + 1}"),
                    routes[found["route"]],
                    moves_made=found.get("moves_made", 0),
                    entered_s=found.get("entered_s"),
                )
            )
    stations = tuple(PlanStation(name, holds) for name, holds in case["stations"].items())
    away = tuple(AwayTime(a, b) for a, b in case.get("away", []))
    return Problem(stations, tuple(parts), away=away)


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["name"]))
def test_the_earliest_end_is_found_within_few_states(case: dict[str, Any]) -> None:
    """The plan is clean and ends as early as possible, within the allowed number of states."""
    problem = _problem(case)
    outcome = solve(problem)
    assert outcome.nodes <= case["nodes"]
    if case.get("infeasible"):
        assert outcome.status == "infeasible"
    else:
        assert outcome.status == "optimal"
        assert outcome.plan is not None
        assert outcome.plan.end_s == case["end_s"]
        assert check_plan(problem, outcome.plan) == []
    if case.get("reference", True):
        assert solve_reference(problem).end_s == case.get("end_s")
