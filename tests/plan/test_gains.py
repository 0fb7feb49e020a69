"""What would help: the bottleneck comes first, and its gain is real."""

from __future__ import annotations

from dataclasses import replace

from benchtimer.plan.gains import Helps, what_helps
from benchtimer.plan.outcome import Feasible, Optimal, Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import DwellLimits, Move, PlanPart, PlanStation, Problem, Route
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import equal_parts


def test_the_bottleneck_comes_first() -> None:
    """With one slot in the slow tank, a second slot there saves the most."""
    route = Route("r", (Move(10),) * 3, (DwellLimits("fast", 20), DwellLimits("slow", 500)))
    parts = tuple(PlanPart(f"p{n}", route) for n in range(4))
    problem = Problem((PlanStation("fast", 2), PlanStation("slow", 1)), parts)
    outcome = solve(problem)
    gains = what_helps(problem, outcome).gains
    assert gains[0].change.words == "one more slot in slow (2)"
    better = solve(gains[0].change.problem).plan
    assert outcome.plan is not None
    assert better is not None
    assert gains[0].saves_s == (outcome.plan.end_s or 0) - (better.end_s or 0)
    assert "earlier" in gains[0].words


def test_nothing_helps_when_nothing_is_tight() -> None:
    """More slots or hands don't help a part that is alone on the bench."""
    route = Route("r", (Move(10),) * 2, (DwellLimits("tank", 100),))
    problem = Problem((PlanStation("tank"),), (PlanPart("a", route),))
    helps = what_helps(problem, solve(problem))
    assert helps == Helps((), all_tried=True)
    assert helps.words == ["neither one more slot nor one more pair of hands"]


def test_what_was_not_searched_is_not_ruled_out() -> None:
    """When time runs out with nothing found, the answer is not "nothing helps"."""
    problem = equal_parts(4)
    for helps in (
        what_helps(problem, solve(problem), SearchLimits(0)),
        what_helps(problem, solve(problem), SearchLimits(stop=lambda: True)),
    ):
        assert helps == Helps((), all_tried=False)
        assert helps.words == ["nothing found; more slots and hands are not ruled out"]


def test_a_gain_over_an_unproven_plan_is_marked_uncertain() -> None:
    """For a late plan not proved optimal, the text says the gain may come from the search alone."""
    problem = equal_parts(4)
    outcome = solve(problem)
    assert isinstance(outcome, Optimal)
    plan = outcome.plan
    later = Plan(
        tuple(replace(m, start_s=m.start_s + 900, end_s=m.end_s + 900) for m in plan.moves), ()
    )
    found = what_helps(problem, Feasible(bound_s=0, plan=later)).gains
    assert found
    assert all(not gain.sure and "possible without" in gain.words for gain in found)
    sure = what_helps(problem, outcome).gains
    assert sure
    assert all(gain.sure and gain.words.endswith("earlier") for gain in sure)
