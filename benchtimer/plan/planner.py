"""The planner's entry point: a problem in, a typed outcome out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import inf

from benchtimer.plan.busy import busy_spans
from benchtimer.plan.explain import at_once, explain, least_bad, proven
from benchtimer.plan.heating import fits, heated, needs_heat, ready_times, with_closings
from benchtimer.plan.instance import Instance
from benchtimer.plan.nearest import nearest
from benchtimer.plan.outcome import (
    Closing,
    Feasible,
    Infeasible,
    Optimal,
    Outcome,
    Plan,
    Undecided,
    Witness,
)
from benchtimer.plan.plan_words import Say
from benchtimer.plan.problem import ENDLESS_S, Problem
from benchtimer.plan.problem_check import validate
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.targets import real_dwells, settle
from benchtimer.times import duration
from benchtimer.values import dataclass, replace

SPARE_S, SPARE_NODES = 0.5, 3000
"""The budget for the least bad plan after the main budget is spent."""
SEARCH_SHARE = 0.9
"""The share of the budget for the end; the rest is for times near the targets."""
HEAT_SHARE = 0.4
"""The share of the budget for a plan before make-ups are known."""
LOOK_ON = "a longer search, fewer parts at once, a part held back or other hours may find one"
"""What to do if no plan was found and none was ruled out."""


def no_clock() -> float:
    """The clock of a caller without one: no time passes, and only node limits count."""
    return 0.0


def never() -> bool:
    """The stop function of a caller that never stops."""
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
    hurry: bool = False,
    say: Say = duration,
) -> Outcome:
    """Plan all remaining moves so that the last one ends as early as possible.

    No dwell ends before its target unless nothing else keeps a window, it saves a day, or
    ``hurry`` is set. However the search ends, the best plan so far is in the outcome.

    Args:
        problem: the problem.
        seconds: the budget, on ``clock``.
        clock: a monotonic clock in seconds, read only for the budget and ``elapsed_s``.
        stop: called now and then; True means give up.
        nodes: the most conflicts, searches and parts placed.
        previous: an earlier plan, with the same zero; it is kept where possible.
        rescue: also find the least bad plan if none keeps every limit.
        hurry: dwells may end at their min.
        say: writes a time of the plan, for the sentences of the outcome.

    Raises:
        ProblemError: the problem contradicts itself.
    """
    validate(problem)
    limits = SearchLimits(seconds, clock, stop, nodes)
    plan = _hot if needs_heat(problem) else _solve
    return _in_sight(problem, plan(problem, limits, SolveOptions(previous, rescue, hurry, say)))


@dataclass(frozen=True, slots=True)
class SolveOptions:
    """The other arguments of ``solve``."""

    previous: Plan | None
    rescue: bool
    hurry: bool
    say: Say
    explain: bool = True


def _hot(problem: Problem, limits: SearchLimits, asked: SolveOptions) -> Outcome:
    """A plan around the heating and the make-ups of its places."""
    soonest, closings = heated(problem)
    trial = replace(asked, rescue=False, explain=False)
    first = _solve(soonest, limits.within(HEAT_SHARE), trial)
    if not isinstance(first, Feasible):
        none = "no plan can" if isinstance(first, Infeasible) else "no plan was found that can"
        why = (f"{none} wait until every place is hot: heat now",)
        if asked.rescue and any(part.is_under_way for part in problem.parts):
            late = least_bad(soonest, _spare(limits))
            if late is not None:  # a cold bath takes no part, so say which one will be late
                return _late(limits, late, first, why)
        bare = _solve(with_closings(problem, ()), limits, asked)
        return bare if bare.plan is None else replace(bare, why=(*bare.why, *why))
    around, shut = heated(problem, ready_times(problem, first.plan))
    if fits(around, first.plan):
        return _with_closings(first, closings, asked.say)
    second = _solve(around, limits, replace(trial, previous=first.plan))
    if not isinstance(second, Feasible):  # a make-up can be put off, a window can't
        put_off = "no plan leaves time for the make-ups: put them off, or run fewer parts"
        return _with_closings(replace(first, why=(*first.why, put_off)), closings, asked.say)
    # With its make-ups at other times a plan might end earlier, but never earlier than without any.
    is_proven = second.cuts == first.cuts and second.plan.end_s == first.bound_s
    kind = Optimal if is_proven else Feasible
    second = kind(
        second.nodes, second.elapsed_s, first.bound_s, second.why, second.plan, cuts=second.cuts
    )
    return _with_closings(second, shut, asked.say)


def _late(limits: SearchLimits, plan: Plan, tried: Outcome, why: tuple[str, ...]) -> Outcome:
    """The least bad plan as an outcome: feasible if nothing overruns in it after all."""
    over = _overruns(plan)
    if over and isinstance(tried, Infeasible):
        return replace(tried, least_bad=plan, why=(*tried.why, *over, *why))
    if over:
        why = (LOOK_ON, *over, *why)
        return Undecided(limits.spent_nodes, limits.elapsed_s, why=why, least_bad=plan)
    return Feasible(limits.spent_nodes, limits.elapsed_s, None, why, plan)


def _with_closings(outcome: Feasible, closings: tuple[Closing, ...], say: Say) -> Feasible:
    """The outcome, with the times in its plan and words when places are made up."""
    plan = outcome.plan
    last_in: dict[str, int] = {}
    for dwell in plan.dwells:
        last_in[dwell.station] = max(dwell.in_s, last_in.get(dwell.station, dwell.in_s))
    kept = tuple(c for c in closings if c.from_s < last_in.get(c.place, plan.end_s or 0))
    why = [f"{c.place} has its make-up at {say(c.from_s)}, takes parts again at {say(c.to_s)}"
           for c in kept if c.why == "made up"]  # fmt: skip
    return replace(outcome, plan=replace(plan, closings=kept), why=(*outcome.why, *why))


def _too_short(problem: Problem, plan: Plan) -> str:
    """Why work doesn't fit into the hours: there are none, or all are too short."""
    begins = [0, *(away.to_s for away in problem.away)]
    spans = [away.from_s - begin for begin, away in zip(begins, problem.away, strict=False)]
    longest_s = max(spans, default=0)
    if longest_s <= 0:
        return "you have no working hours in the days the planner looks ahead"
    busy_s = max(end_s - start_s for start_s, end_s in busy_spans(plan.moves))
    if busy_s <= longest_s:
        return "your hours in the days the planner looks ahead are too short for this work"
    return (
        f"your hours are too short: the work takes {duration(busy_s)} without a break, "
        f"and your longest hours are {duration(longest_s)}"
    )


def _in_sight(problem: Problem, outcome: Outcome) -> Outcome:
    """The outcome without a plan that runs past an away window without an end."""
    plan = outcome.best
    endless = any(away.to_s >= ENDLESS_S for away in problem.away)
    if not endless or plan is None or all(move.end_s < ENDLESS_S for move in plan.moves):
        return outcome
    why = (_too_short(problem, plan),)
    if isinstance(outcome, Infeasible):
        return replace(outcome, least_bad=None, why=(*outcome.why, *why))
    if isinstance(outcome, Undecided):
        return replace(outcome, least_bad=None)
    if isinstance(outcome, Optimal) or (outcome.bound_s or 0) >= ENDLESS_S:
        return Infeasible(outcome.nodes, outcome.elapsed_s, why=why, witness=Witness(why))
    past = "a plan was found, but it runs past the days the planner looks ahead"
    return Undecided(outcome.nodes, outcome.elapsed_s, outcome.bound_s, (past, LOOK_ON))


def _solve(problem: Problem, limits: SearchLimits, asked: SolveOptions) -> Outcome:
    instance = Instance(problem)
    if not instance.has_work:
        return Optimal(bound_s=problem.now_s, why=("no part has any moves left",))
    witness = at_once(instance, asked.say)
    if witness is not None:
        tell = partial(proven, witness, problem, limits, asked.say)
        return _infeasible(problem, limits, asked, tell)
    found = settle(problem, limits.within(SEARCH_SHARE), asked.previous, hurry=asked.hurry)
    best = found.best
    if best.turns is None and best.is_closed:
        tell = partial(explain, problem, limits, asked.say)
        return _infeasible(problem, limits, asked, tell)
    bound_s = None if abs(best.bound_s) == inf else int(best.bound_s)
    if best.turns is None:
        late = least_bad(problem, _spare(limits)) if asked.rescue else None
        why = (LOOK_ON, *_overruns(late))
        return Undecided(limits.spent_nodes, limits.elapsed_s, bound_s, why, least_bad=late)
    plan, is_nearest = nearest(found.problem, best, limits)
    plan = real_dwells(plan, problem)
    cuts = [cut.words for cut in found.cuts]
    if not is_nearest:
        cuts.append(_past_target(plan))
    kind = Optimal if best.is_closed else Feasible
    if not best.is_closed:
        cuts.insert(0, _gap(problem, plan, best.bound_s))
    return kind(limits.spent_nodes, limits.elapsed_s, bound_s, tuple(cuts), plan, cuts=found.cuts)


def _infeasible(
    problem: Problem, limits: SearchLimits, asked: SolveOptions, tell: Callable[[], Witness]
) -> Infeasible:
    if not asked.explain:
        return Infeasible(limits.spent_nodes, limits.elapsed_s)
    # Find the way out before the words: the rest of the budget goes to the explanation.
    plan = least_bad(problem, _spare(limits)) if asked.rescue else None
    witness = tell()
    why = [*witness.sentences, *(f"what would free it: {c.words}" for c in witness.changes)]
    why += _overruns(plan)
    return Infeasible(
        limits.spent_nodes, limits.elapsed_s, why=tuple(why), witness=witness, least_bad=plan
    )


def _spare(limits: SearchLimits) -> SearchLimits:
    """The remaining budget, plus a little if it is spent, so a suggestion is always possible."""
    return SearchLimits(
        max(limits.left_s, SPARE_S),
        limits.clock,
        limits.stop,
        max(limits.nodes - limits.spent_nodes, SPARE_NODES),
    )


def _overruns(plan: Plan | None) -> list[str]:
    return [
        f"least bad: {dwell.part} stays {duration(dwell.overrun_s)} too long in {dwell.station}"
        for dwell in (() if plan is None else plan.dwells)
        if dwell.overrun_s
    ]


def _past_target(plan: Plan) -> str:
    """The dwell that uses most of its room past target, with a note that it is the nearest
    found.
    """
    worst = max(plan.dwells, key=lambda dwell: dwell.lateness)
    past_s = worst.out_s - worst.in_s - worst.target_s
    others = sum(dwell.lateness > 0 for dwell in plan.dwells) - 1
    more = f" and {others} more dwells" if others > 1 else " and 1 more dwell" if others else ""
    past = duration(past_s)
    return f"past target: {worst.part} by {past} in {worst.station}{more}; closest found"


def _gap(problem: Problem, plan: Plan, bound_s: float) -> str:
    takes_s, min_s = (plan.end_s or 0) - problem.now_s, int(bound_s) - problem.now_s
    return f"takes {duration(takes_s)}; no plan can take less than {duration(min_s)}"
