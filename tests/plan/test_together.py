"""Several runs in one problem, recipes in sequence, and parts that wait for others."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    ProblemError,
    Route,
)
from benchtimer.plan.together import together
from tests.plan.build import at_target
from tests.plan.judge import faults
from tests.plan.reference import solve_reference

BLACK = Route("black", (Move(60), Move(60)), (DwellLimits("salts", 300, 600, 400),))
WAX = Route("wax", (Move(30), Move(30)), (DwellLimits("wax", 200, 900, 300),))
ONE = Problem(
    (PlanStation("salts", 2), PlanStation("wax")), (PlanPart("pin", BLACK), PlanPart("cap", BLACK))
)
TWO = Problem((PlanStation("salts", 1),), (PlanPart("pin", BLACK),))


def test_runs_share_hands_and_places() -> None:
    """Two runs in one problem share the hands, and a shared tank takes the smaller size."""
    both = together({"knife": ONE, "lamp": TWO})
    assert both.station("salts").holds == 1
    outcome = solve(both)
    assert outcome.plan is not None
    assert faults(both, outcome.plan, targets=True) == []
    assert outcome.plan.end_s == solve_reference(at_target(both)).end_s
    found: Any = outcome.as_dict()["moves"]
    assert {(move["run"], move["part"]) for move in found} == {
        ("knife", "pin"), ("knife", "cap"), ("lamp", "pin"),
    }  # fmt: skip


def test_a_part_on_hold_in_another_run_takes_its_slot() -> None:
    """A slot with a part on hold in another run stays taken."""
    held = PlanPart("pin", BLACK, moves_made=1, entered_s=-100, held=True)
    both = together({"knife": ONE, "lamp": replace(TWO, parts=(held,))})
    assert solve(both).status == "infeasible"
    wide = replace(both, stations=(PlanStation("salts", 2), PlanStation("wax")))
    plan = solve(wide).plan
    assert plan is not None
    assert faults(wide, plan, targets=True) == []


def test_runs_that_disagree_are_refused() -> None:
    """Runs with a different present or number of hands, or no runs at all, raise an error."""
    for other in (replace(TWO, now_s=5), replace(TWO, hands=2)):
        with pytest.raises(ProblemError, match="lamp"):
            together({"knife": ONE, "lamp": other})
    with pytest.raises(ProblemError, match="none"):
        together({})


@pytest.mark.parametrize(
    ("after", "words"), [(("pin", "cap"), "waits for itself"), (("lid",), "waits for 'lid'")]
)
def test_impossible_joins_are_refused(after: tuple[str, ...], words: str) -> None:
    """A cycle of joins, or a join with an unknown part, raises an error."""
    with pytest.raises(ProblemError, match=words):
        solve(replace(ONE, parts=(PlanPart("pin", BLACK), PlanPart("cap", BLACK, after=after))))


def test_waiting_for_a_held_part_says_what_to_do() -> None:
    """A part that waits for a held one can't begin, and the offer is to resume the held one."""
    held = PlanPart("pin", BLACK, moves_made=1, entered_s=-100, held=True)
    outcome = solve(replace(ONE, parts=(held, PlanPart("cap", WAX, after=("pin",)))))
    assert outcome.status == "infeasible"
    assert outcome.why == (
        "cap waits for pin, which is held", "what would free it: resume pin",
    )  # fmt: skip
