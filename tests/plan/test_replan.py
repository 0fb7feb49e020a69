"""Planning a bench in mid-run again, and the report when a limit can no longer be kept."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from benchtimer.plan.explain import has_plan
from benchtimer.plan.outcome import Infeasible
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.generate import KINDS, cut_at
from tests.plan.plan_check import check_plan


def _late(seed: int) -> tuple[Problem, Infeasible] | None:
    """A tight problem cut in mid-run and left alone for a minute or two, if that breaks it."""
    rng = random.Random(seed)
    problem = KINDS["tight"](rng)
    plan = solve(problem).plan
    if plan is None or plan.end_s is None:
        return None
    late = cut_at(problem, plan, rng.randrange(1, plan.end_s), rng.choice([30, 60, 120]))
    outcome = solve(late, previous=plan, rescue=True)
    return (late, outcome) if isinstance(outcome, Infeasible) else None


def test_a_kept_plan_keeps_its_end() -> None:
    """A plan followed so far and cut anywhere is planned again to the same earliest end."""
    for seed in range(12):
        rng = random.Random(f"kept {seed}")
        problem = KINDS["mixed"](rng)
        plan = solve(problem).plan
        assert plan is not None
        assert plan.end_s is not None
        cut = cut_at(problem, plan, rng.randrange(1, plan.end_s))
        again = solve(cut, previous=plan, rescue=True)
        assert again.status == "optimal"
        if again.plan is not None and again.plan.moves:
            assert again.plan.end_s == plan.end_s
            assert check_plan(cut, again.plan) == []


def test_the_last_plan_is_the_answer_when_time_is_up() -> None:
    """With a budget of no nodes, the planner still returns the last plan's end."""
    problem = KINDS["mixed"](random.Random("known"))
    plan = solve(problem).plan
    again = solve(problem, previous=plan, rescue=True, nodes=0)
    assert plan is not None
    assert again.plan is not None
    assert again.plan.end_s == plan.end_s


@pytest.fixture(scope="module", name="broken")
def _broken() -> list[tuple[Problem, Infeasible]]:
    found = [late for seed in range(80) if (late := _late(seed)) is not None]
    assert len(found) >= 10
    return found


def test_every_change_offered_has_a_plan(broken: list[tuple[Problem, Infeasible]]) -> None:
    """Each change offered for an infeasible bench gives it a plan."""
    for _, outcome in broken:
        assert outcome.witness.changes
        for change in outcome.witness.changes:
            assert has_plan(change.problem, SearchLimits()) is True, change.words


def test_a_witness_names_parts_and_a_time(broken: list[tuple[Problem, Infeasible]]) -> None:
    """The sentences name every part of the conflict, which can't be planned by itself."""
    for problem, outcome in broken:
        witness = outcome.witness
        assert witness.parts
        assert all(name in " ".join(witness.sentences) for name in witness.parts)
        assert witness.at_s is not None
        core = replace(problem, parts=tuple(p for p in problem.parts if p.name in witness.parts))
        assert has_plan(core, SearchLimits()) is False


def test_the_least_bad_plan_breaks_only_limits(
    broken: list[tuple[Problem, Infeasible]],
) -> None:
    """The least bad plan breaks no rule except the max of some dwells."""
    for problem, outcome in broken:
        plan = outcome.least_bad
        assert plan is not None
        faults = check_plan(problem, plan)
        assert faults
        assert all("most is" in fault for fault in faults)
        assert max(dwell.overrun_s for dwell in plan.dwells) > 0
        assert any(line.startswith("least bad:") for line in outcome.why)
