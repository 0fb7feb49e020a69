"""The planner's front door: a problem in, a typed outcome out."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from benchtimer.plan.explain import at_once, explain
from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import (
    Feasible,
    Infeasible,
    Optimal,
    Outcome,
    Plan,
    Undecided,
)
from benchtimer.plan.problem import Problem, validate
from benchtimer.plan.search import Found, Limits, Search, replay
from benchtimer.plan.timing import time_order, turns_of


def no_clock() -> float:
    """The clock of a caller that has none: no time passes, only node limits count."""
    return 0.0


def never() -> bool:
    """The stop flag of a caller that never stops."""
    return False


def solve(
    problem: Problem,
    *,
    seconds: float = inf,
    clock: Callable[[], float] = no_clock,
    stop: Callable[[], bool] = never,
    nodes: float = inf,
    previous: Plan | None = None,
) -> Outcome:
    """Plan all remaining moves so that the last one ends as early as possible.

    ``clock`` is a monotonic clock in seconds; it is read only to keep the budget of
    ``seconds`` and to fill in ``elapsed_s``. ``stop`` is asked now and then whether to give
    up. ``nodes`` limits the states opened. ``previous`` is a plan whose order is tried
    first. Whatever ends the search, the best plan so far is in the outcome.

    Raises ``ProblemError`` where the problem contradicts itself.
    """
    validate(problem)
    limits = Limits(seconds, clock, stop, nodes)
    instance = Instance(problem)
    if not instance.moves:
        return Optimal(bound_s=problem.now_s, why=("no part has a move left to make",))
    witness = at_once(instance)
    if witness is not None:
        return Infeasible(elapsed_s=limits.elapsed_s, why=witness.sentences, witness=witness)
    search = Search(instance, limits)
    known = None if previous is None else replay(search, previous)
    found = search.run(known=known)
    return _outcome(search, found)


def _outcome(search: Search, found: Found) -> Outcome:
    limits = search.limits
    bound_s = None if found.bound_s == inf else int(found.bound_s)
    if found.path is None and not found.closed:
        why = ("the budget ended before a plan was found or proven impossible",)
        return Undecided(limits.spent_nodes, limits.elapsed_s, bound_s, why)
    if found.path is None:
        witness = explain(search, found)
        return Infeasible(
            limits.spent_nodes, limits.elapsed_s, None, witness.sentences, witness
        )
    plan = time_order(search.instance, turns_of(search.instance, found.path))
    kind = Optimal if found.closed else Feasible
    why = () if found.closed else (_gap(plan, found.bound_s),)
    return kind(limits.spent_nodes, limits.elapsed_s, bound_s, why, plan)


def _gap(plan: Plan, bound_s: float) -> str:
    end_s = plan.end_s or 0
    return f"not proven the best: no plan ends before {int(bound_s)} s, this one ends at {end_s} s"
