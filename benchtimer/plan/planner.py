"""The planner's front door: a problem in, a typed outcome out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf

from benchtimer.plan.crew import Crew
from benchtimer.plan.explain import at_once, explain, least_bad, proven
from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import (
    Feasible,
    Infeasible,
    Optimal,
    Outcome,
    Plan,
    Undecided,
    Witness,
)
from benchtimer.plan.problem import ENDLESS_S, Problem, validate
from benchtimer.plan.search import Found, Limits, Search, replay
from benchtimer.plan.timing import time_order, turns_of
from benchtimer.plan.words import span

FAST_MOVES = 200
"""Dwells of a plan with more moves come closest to their aim only while the budget lasts."""
ALONE_NODES = 10_000
"""States opened at most for the plan that several pairs of hands begin from."""
LOOK_ON = "what may find one: a longer search, fewer parts at once, a part held back, other hours"
"""What to do where no plan was found and none was ruled out."""


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
    rescue: bool = False,
) -> Outcome:
    """Plan all remaining moves so that the last one ends as early as possible.

    ``clock`` is a monotonic clock in seconds; it is read only to keep the budget of
    ``seconds`` and to fill in ``elapsed_s``. ``stop`` is asked now and then whether to give
    up. ``nodes`` limits the states opened. ``previous`` is a plan whose order is tried
    first. ``rescue`` asks for the least bad plan where none keeps every limit. Whatever
    ends the search, the best plan so far is in the outcome.

    Raises ``ProblemError`` where the problem contradicts itself.
    """
    validate(problem)
    return _in_sight(
        problem, _solve(problem, Limits(seconds, clock, stop, nodes), previous, rescue)
    )


def _in_sight(problem: Problem, outcome: Outcome) -> Outcome:
    """The outcome without a plan that goes on behind an away window that has no end."""
    plan = outcome.least_bad if isinstance(outcome, Infeasible) else outcome.plan
    endless = any(away.to_s >= ENDLESS_S for away in problem.away)
    if not endless or plan is None or all(move.end_s < ENDLESS_S for move in plan.moves):
        return outcome
    why = ("the hours present in the days looked ahead are too short for this work",)
    if isinstance(outcome, Infeasible):
        return replace(outcome, least_bad=None, why=(*outcome.why, *why))
    if isinstance(outcome, Optimal) or (outcome.bound_s or 0) >= ENDLESS_S:
        names = tuple(part.name for part in problem.parts if not part.is_done)
        witness = Witness(why, names, (), None, None, ())
        return Infeasible(outcome.nodes, outcome.elapsed_s, None, why, witness)
    past = "a plan was found, but it goes on after the days looked ahead"
    return Undecided(outcome.nodes, outcome.elapsed_s, outcome.bound_s, (past, LOOK_ON))


def _solve(problem: Problem, limits: Limits, previous: Plan | None, rescue: bool) -> Outcome:
    instance = Instance(problem)
    if not instance.has_work:
        return Optimal(bound_s=problem.now_s, why=("no part has a move left to make",))
    witness = at_once(instance)
    if witness is not None:
        return _infeasible(problem, limits, lambda: proven(witness, problem, limits), rescue)
    if problem.hands > 1:
        return _with_crew(instance, limits)
    search = Search(instance, limits)
    known = None if previous is None else replay(search, previous)
    found = search.run(known=known)
    return _outcome(search, found, rescue)


def _alone(problem: Problem, limits: Limits) -> Plan | None:
    """A plan for one pair of hands: it is one for more, with the others idle."""
    one = replace(problem, hands=1)
    if sum(part.moving_s is not None and not part.is_done for part in one.parts) > 1:
        return None
    attempt = Limits(limits.seconds / 4, limits.clock, limits.stop, ALONE_NODES)
    search = Search(Instance(one), attempt)
    found = search.run()
    limits.spent_nodes += attempt.spent_nodes
    if found.path is None:
        return None
    return time_order(search.instance, turns_of(search.instance, found.path))


def _with_crew(instance: Instance, limits: Limits) -> Outcome:
    crew = Crew(instance, limits)
    crew.offer(_alone(instance.problem, limits))
    plan, bound_s = crew.run()
    spent, elapsed_s = limits.spent_nodes, limits.elapsed_s
    if plan is None:
        why = (
            "with more than one pair of hands the search can't prove that there is none",
            LOOK_ON,
        )
        return Undecided(spent, elapsed_s, int(bound_s), why)
    if plan.end_s is not None and plan.end_s <= bound_s:
        return Optimal(spent, elapsed_s, int(bound_s), (), plan)
    return Feasible(spent, elapsed_s, int(bound_s), (_gap(instance.problem, plan, bound_s),), plan)


def _outcome(search: Search, found: Found, rescue: bool) -> Outcome:
    limits = search.limits
    bound_s = None if found.bound_s == inf else int(found.bound_s)
    if found.path is None and not found.closed:
        return Undecided(limits.spent_nodes, limits.elapsed_s, bound_s, (LOOK_ON,))
    if found.path is None:
        return _infeasible(search.instance.problem, limits, lambda: explain(search, found), rescue)
    turns = turns_of(search.instance, found.path)
    hurry = limits.over if len(turns) > FAST_MOVES else limits.stop
    plan = time_order(search.instance, turns, over=hurry)
    kind = Optimal if found.closed else Feasible
    notes = () if found.closed else (_gap(search.instance.problem, plan, found.bound_s),)
    return kind(limits.spent_nodes, limits.elapsed_s, bound_s, notes, plan)


def _infeasible(
    problem: Problem, limits: Limits, tell: Callable[[], Witness], rescue: bool
) -> Infeasible:
    # The way out comes before the words: what is left of the budget explains.
    plan = least_bad(problem, limits) if rescue else None
    witness = tell()
    why = [*witness.sentences, *(f"what would free it: {c.words}" for c in witness.changes)]
    for dwell in () if plan is None else plan.dwells:
        if dwell.overstay_s:
            why.append(
                f"least bad: {dwell.part} stays {span(dwell.overstay_s)} too long "
                f"in {dwell.station}"
            )
    return Infeasible(limits.spent_nodes, limits.elapsed_s, None, tuple(why), witness, plan)


def replan(
    problem: Problem,
    previous: Plan | None = None,
    *,
    seconds: float = inf,
    clock: Callable[[], float] = no_clock,
    stop: Callable[[], bool] = never,
    nodes: float = inf,
) -> Outcome:
    """Plan a bench in mid-run again: ``solve`` that starts from the order of the last plan.

    Where no plan keeps every limit any more, the outcome carries the least bad one.
    """
    return solve(
        problem,
        seconds=seconds,
        clock=clock,
        stop=stop,
        nodes=nodes,
        previous=previous,
        rescue=True,
    )


def _gap(problem: Problem, plan: Plan, bound_s: float) -> str:
    takes_s, least_s = (plan.end_s or 0) - problem.now_s, int(bound_s) - problem.now_s
    return f"takes {span(takes_s)}; no plan can take less than {span(least_s)}"
