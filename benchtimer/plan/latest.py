"""The latest time to start: when a day with hours away has no time to spare."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from functools import partial
from math import inf

from benchtimer.plan.decisions import PrecedenceSearch
from benchtimer.plan.earliest import Earliest
from benchtimer.plan.heating import heated, with_closings
from benchtimer.plan.instance import FAR_S, Instance
from benchtimer.plan.network import latest, order_edges
from benchtimer.plan.outcome import Plan
from benchtimer.plan.precedences import Precedences
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.targets import as_planned
from benchtimer.plan.timing import end_edges, plan_turns
from benchtimer.values import dataclass, replace

TRY_NODES = 1000


@dataclass(frozen=True, slots=True)
class LatestStart:
    """Latest starts of the first move of a part that has not started, in seconds."""

    keeps_end_s: int | None
    """... so that the plan's order still ends when it does now. None: nothing left to begin."""
    before_away_s: int | None
    """... so that everything ends before the next away window. None: impossible, or no window."""
    at_all_s: int | None
    """... before the next away window, so that some plan is left. None: no window or no plan."""

    def lines(self, at: Callable[[int], str]) -> list[str]:
        """By when to start for which end; ``at`` writes a time of the plan."""
        ends = (
            (self.keeps_end_s, "at the same time"),
            (self.before_away_s, "before the next hours away"),
        )
        return [f"by {at(by_s)} to end {when}" for by_s, when in ends if by_s is not None]


def latest_start(problem: Problem, plan: Plan, limits: SearchLimits | None = None) -> LatestStart:
    """How long you can put off starting.

    ``keeps_end_s`` is exact for the order of the plan. The other two are found by bisection over
    whole seconds; each trial has a limited number of steps, so on hard problems they may be too
    early, never too late.

    Args:
        problem: the planned problem.
        plan: its plan.
        limits: the budget of the search.
    """
    limits = limits or SearchLimits()
    problem = as_planned(problem, plan)
    keeps = _keeps_end(with_closings(problem, plan.closings), plan)
    problem, _ = heated(problem)
    window = Instance(problem).gaps[0][1]
    if keeps is None or window == inf:
        return LatestStart(keeps, None, None)
    away_s = int(window)
    before_away, at_all = (
        _last(problem.now_s, away_s, partial(_can_begin, problem, limits, away_s, end_too))
        for end_too in (True, False)
    )
    return LatestStart(keeps, before_away, at_all)


def latest_begins(problem: Problem, plan: Plan) -> dict[str, float]:
    """How long each part's next move can be put off, in seconds; inf if nothing limits it.

    Until then the plan's order still keeps every window of every part; the end may come
    later than planned. Moves in progress are left out. The plan must keep its windows.
    """
    instance = Instance(with_closings(problem, plan.closings))
    turns = plan_turns(problem, plan)
    edges = order_edges(instance, turns, [move.start_s for move in plan.moves])
    found: dict[str, float] = {}
    for node, turn in enumerate(turns, 1):
        part = problem.parts[turn.part]
        if part.name not in found:
            found[part.name] = latest(len(turns) + 1, edges, node)
    return found


def _keeps_end(problem: Problem, plan: Plan) -> int | None:
    instance = Instance(problem)
    turns = plan_turns(problem, plan)
    first = next((node for node, turn in enumerate(turns, 1) if not turn.move), None)
    if first is None or plan.end_s is None:
        return None
    starts = [move.start_s for move in plan.moves]
    edges = order_edges(instance, turns, starts) + end_edges(problem, turns, plan.end_s)
    return int(latest(len(turns) + 1, edges, first))


def _can_begin(
    problem: Problem, limits: SearchLimits, away_s: int, end_too: bool, start_s: int
) -> bool:
    """Whether there is a plan that begins before the next away window, and not before ``start_s``.

    Args:
        problem: the problem.
        limits: the budget.
        away_s: when that window begins.
        end_too: whether everything must end before it.
        start_s: the time.
    """
    parts = tuple(replace(p, release_s=max(p.release_s, start_s)) for p in problem.parts)
    if limits.over():
        return False
    limits = limits.within(nodes=TRY_NODES)
    search = Earliest(replace(problem, parts=parts), limits)
    if search.place() and search.improver is not None:
        starts_of, sections = search.improver.best.starts_of, search.placer.sections
        begins = [starts[0] for n, starts in starts_of.items() if not sections[n].first]
        if (search.end_s if end_too else min(begins, default=FAR_S)) <= away_s:
            return True
    end_s = away_s if end_too else FAR_S
    orders = PrecedenceSearch(Precedences(search.instance), end_s, search.rng)
    orders.limits = limits
    if not orders.rules.is_whole or not orders.begin_by(away_s):
        return False
    return orders.earlier(end_s, TRY_NODES)[0] is not None


def _last(low: int, high: int, works: Callable[[int], bool]) -> int | None:
    """The largest whole second in [low, high) that works, if all before it do."""
    if not works(low):
        return None
    return low + bisect_left(range(low + 1, high), True, key=lambda s: not works(s))
