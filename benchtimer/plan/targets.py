"""Which dwells last to their target: all of them, unless that breaks a window or costs a day.

The planner first looks for a plan in which no dwell ends before target. Dwells are cut only if
there is none, or if a plan with shorter dwells ends on an earlier day: as few and by as little as
the search finds, never below their min. With ``hurry`` every dwell may end at its min.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

from benchtimer.plan.aim import Soft, closest
from benchtimer.plan.earliest import FEW_TRIES, Best, Earliest
from benchtimer.plan.instance import Instance
from benchtimer.plan.network import (
    ORIGIN,
    Edge,
    OrderedMove,
    PositiveCycleError,
    earliest,
    order_edges,
)
from benchtimer.plan.outcome import CutDwell, Plan
from benchtimer.plan.problem import DwellLimits, Problem
from benchtimer.plan.refit import rebuilt
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.timing import end_edges, stays_of
from benchtimer.values import dataclass, replace

DAY_GAP_S = 4 * 3600
"""A closing this long ends a day; a shorter one is a break."""
TARGET_SHARE = 0.6
"""The share of the budget for a plan with every dwell at its target."""
MOST_RESTORED = 24
"""How many cut dwells are tried again at their target."""

Key = tuple[int, int]
"""(index of the part, number of the dwell)."""


@dataclass(slots=True)
class Settled:
    """A problem with fixed shortest times, and what was found for it.

    Attributes:
        problem: each dwell's ``min_s`` is its shortest time.
        best: the best plan for it.
        cuts: dwells that end before their target.
    """

    problem: Problem
    best: Best
    cuts: tuple[CutDwell, ...] = ()


def settled(problem: Problem, least: Mapping[Key, int]) -> Problem:
    """The problem with other shortest times.

    Args:
        problem: the original.
        least: shortest times of the dwells that don't last to target.
    """
    at_target = problem.with_dwells(lambda dwell: replace(dwell, min_s=dwell.wished_s))
    parts = list(at_target.parts)
    for (index, number), min_s in least.items():
        route = parts[index].route
        cut = replace(route.dwells[number], min_s=min_s)
        parts[index] = replace(parts[index], route=route.with_dwell(number, cut))
    return replace(problem, parts=tuple(parts))


def settle(
    problem: Problem, limits: SearchLimits, known: Plan | None = None, *, hurry: bool = False
) -> Settled:
    """Find which dwells last to target, and the earliest end with them.

    Args:
        problem: the problem.
        limits: when to stop.
        known: an earlier plan.
        hurry: every dwell may end at its min.
    """
    at_target = settled(problem, {})
    if hurry or at_target == problem:
        return Settled(problem, _search(problem, limits, known).run())
    whole, fast = _search(at_target, limits, known), _search(problem, limits, known)
    if whole.improver is None:
        whole.place(FEW_TRIES)
    if whole.end_s < inf and not _could_save_a_day(fast, whole.end_s):
        return Settled(at_target, whole.run())
    best = whole.again(limits.within(TARGET_SHARE))
    if best.turns is not None and not _could_save_a_day(fast, best.end_s):
        return Settled(at_target, whole.again(limits))
    before_s = _day_before(problem, best.end_s)
    rushed = fast.again(limits.within(0.5), first_plan=best.turns is None)
    # Shorter dwells save a day only if there is time to find out which ones.
    if best.turns is not None and (rushed.end_s > before_s or limits.over()):
        return Settled(at_target, whole.again(limits))
    if rushed.turns is None:
        return Settled(problem, rushed)
    limit_s = _day_before(problem, best.end_s, rushed.end_s) if best.turns is not None else inf
    return _least_cut(problem, fast, rushed, limit_s, limits)


def _search(problem: Problem, limits: SearchLimits, known: Plan | None) -> Earliest:
    """A search that knows an earlier plan, if there is one."""
    search = Earliest(problem, limits)
    if known is not None:
        search.take_plan(known)
    return search


def _could_save_a_day(fast: Earliest, end_s: float) -> bool:
    """Whether the search with shorter dwells could end on an earlier day than a plan."""
    before_s = _day_before(fast.problem, end_s)
    if fast.end_s <= before_s:
        return True
    return before_s > -inf and not fast.is_ruled_out(int(before_s))


def _day_before(problem: Problem, end_s: float, found_s: float = -inf) -> float:
    """The end of the hours of the last day before the one that a plan ends on.

    Args:
        problem: with its hours.
        end_s: when that plan ends; inf without one.
        found_s: the end of a faster plan; if given, the result is the end of the hours of its day.
    """
    closings = [
        away.from_s
        for away in problem.away
        if away.to_s - away.from_s >= DAY_GAP_S and away.to_s < end_s and away.from_s >= found_s
    ]
    return (max if found_s == -inf else min)(closings, default=-inf)


def _least_cut(
    problem: Problem, fast: Earliest, rushed: Best, limit_s: float, limits: SearchLimits
) -> Settled:
    """Cut few dwells, each by little: from the order found, then try each at its target."""
    turns, starts = rushed.turns or [], rushed.starts or []
    stays, starts = _longest(fast.instance, turns, starts, limit_s)
    cut = _short(problem, stays)
    for key in sorted(cut, key=cut.__getitem__)[:MOST_RESTORED]:
        if limits.over() or key not in cut or (len(cut) == 1 and limit_s < inf):
            break
        low = {k: _dwell(problem, k).min_s for k in cut if k != key}
        trial = _from_order(settled(problem, low), limits.within(0.2), turns, starts)
        if trial.improver is None:
            trial.place()
        if trial.end_s <= limit_s and trial.end_s < inf:
            found = trial.best()
            turns = found.turns or []
            stays, starts = _longest(fast.instance, turns, found.starts or [], limit_s)
            cut = _short(problem, stays)
    last = _from_order(settled(problem, {key: stays[key] for key in cut}), limits, turns, starts)
    best = last.run()
    cuts = tuple(
        _cut(problem, fast.instance, (turns, starts), key, short, limit_s)
        for key, short in sorted(cut.items())
    )
    return Settled(last.problem, best, cuts)


def _from_order(
    problem: Problem, limits: SearchLimits, turns: list[OrderedMove], starts: list[int]
) -> Earliest:
    """A search that begins with an order and its times, if they keep the rules."""
    search = Earliest(problem, limits)
    search.take(rebuilt(search.placer, turns, starts))
    return search


def _dwell(problem: Problem, key: Key) -> DwellLimits:
    return problem.parts[key[0]].route.dwells[key[1]]


def _longest(
    instance: Instance, turns: Sequence[OrderedMove], starts: Sequence[int], limit_s: float
) -> tuple[dict[Key, int], list[int]]:
    """Stays with the smallest total time short of target for an order, and its times."""
    edges = order_edges(instance, turns, starts)
    if limit_s < inf:
        edges += end_edges(instance.problem, turns, int(limit_s))
    soft: list[Soft] = [
        (start, node, shift + dwell.wished_s, 1)
        for start, node, shift, dwell in stays_of(instance.problem, turns)
    ]
    times = closest([0, *starts], edges, soft)
    stays = {
        (turns[node - 1].part, turns[node - 1].move - 1): times[node] - times[start] - shift
        for start, node, shift, _ in stays_of(instance.problem, turns)
    }
    return stays, times[1:]


def _short(problem: Problem, stays: Mapping[Key, int]) -> dict[Key, int]:
    """Seconds short of target, by dwell, for those that end before it."""
    return {
        key: short_s
        for key, stay_s in stays.items()
        if (short_s := _dwell(problem, key).wished_s - stay_s) > 0
    }


def _cut(
    problem: Problem,
    instance: Instance,
    plan: tuple[Sequence[OrderedMove], Sequence[int]],
    key: Key,
    short_s: int,
    limit_s: float,
) -> CutDwell:
    """The cut, and what happens with this dwell at its target in the same order."""
    dwell, otherwise = _dwell(problem, key), ""
    if limit_s == inf:
        turns, starts = plan
        edges = order_edges(instance, turns, starts)
        for start, node, shift, _ in stays_of(problem, turns):
            if (turns[node - 1].part, turns[node - 1].move - 1) == key:
                edges.append(Edge(start, node, shift + dwell.wished_s, "target"))
        otherwise = _broken(problem, turns, edges)
    part, step = problem.parts[key[0]].name, dwell.step or dwell.station
    return CutDwell(part, step, dwell.station, short_s, otherwise)


def _broken(problem: Problem, turns: Sequence[OrderedMove], edges: Sequence[Edge]) -> str:
    """The rule that the edges of an order can't keep, in words."""
    ring: Sequence[Edge] = ()
    try:
        earliest(len(turns) + 1, edges)
    except PositiveCycleError as cycle:
        ring = cycle.edges
    for edge in ring:
        if edge.rule == "max":
            turn = turns[edge.before - 1]
            part = problem.parts[turn.part]
            return f"{part.name} overruns in {part.route.dwells[turn.move - 1].station}"
    for edge in ring:
        if edge.rule == "no later working time is known" and edge.before != ORIGIN:
            return f"{problem.parts[turns[edge.before - 1].part].name} misses the hours"
    return "no plan keeps every window"


def as_planned(problem: Problem, plan: Plan) -> Problem:
    """The problem with the shortest times of a plan: target, or the cut value."""
    index = {part.name: i for i, part in enumerate(problem.parts)}
    stays = {(index[d.part], d.dwell): d.out_s - d.in_s for d in plan.dwells}
    return settled(problem, {key: stays[key] for key in _short(problem, stays)})


def real_dwells(plan: Plan, problem: Problem) -> Plan:
    """The plan with the dwells' own min and max, not the fixed ones."""
    limits = {(p.name, number): d for p in problem.parts for number, d in enumerate(p.route.dwells)}
    own = [(dwell, limits[dwell.part, dwell.dwell]) for dwell in plan.dwells]
    dwells = tuple(replace(dwell, min_s=d.min_s, max_s=d.max_s) for dwell, d in own)
    return replace(plan, dwells=dwells)
