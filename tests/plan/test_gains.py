"""What would help: the bottleneck is named first, and its gain is real."""

from __future__ import annotations

from benchtimer.plan.gains import what_helps
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Dwell, Move, Part, Problem, Route, Station


def test_the_bottleneck_comes_first() -> None:
    """With one slot in the slow tank, a second slot there saves most."""
    route = Route("r", (Move(10),) * 3, (Dwell("fast", 20), Dwell("slow", 500)))
    parts = tuple(Part(f"p{n}", route) for n in range(4))
    problem = Problem((Station("fast", 2), Station("slow", 1)), parts)
    outcome = solve(problem)
    gains = what_helps(problem, outcome)
    assert gains[0].change.words == "one more slot in slow (2)"
    better = solve(gains[0].change.problem).plan
    assert outcome.plan is not None
    assert better is not None
    assert gains[0].saves_s == (outcome.plan.end_s or 0) - (better.end_s or 0)
    assert "earlier" in gains[0].words


def test_nothing_helps_where_nothing_binds() -> None:
    """One part alone is not helped by slots or hands."""
    route = Route("r", (Move(10),) * 2, (Dwell("tank", 100),))
    problem = Problem((Station("tank"),), (Part("a", route),))
    assert what_helps(problem, solve(problem)) == []
