"""Among plans with the same end, the one with the least time past target.

For one order the times are exact (``timing``). Other orders are found by removing parts and placing
them again. A plan with no time past target is provably the nearest; any other is
the nearest found.
"""

from __future__ import annotations

import random
from math import inf

from benchtimer.plan.earliest import SEED, Best, in_line, moves_left, turns_in
from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import Plan
from benchtimer.plan.placement import Placer
from benchtimer.plan.problem import Problem
from benchtimer.plan.refit import rebuilt
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.timetable import Timetable
from benchtimer.plan.timing import time_order

NEIGHBORS = 4
"""Neighbors to try without a clock, times parts and five."""
MOST_OUT = 5
"""A neighbor places up to this many sections again, and those that wait for them."""
WITH_FOLLOWERS = 0.8
"""How often it does so for those, which would keep them late."""
FAST_MOVES = 200
"""Times of a plan with more moves are improved only while the budget lasts."""
MOST_MOVES = 800
"""A plan with more moves keeps the times from the search."""
MOST_S = 1.0
"""How long to look for other orders."""
SHARE = 0.5
"""The share of the budget left by the search for the earliest end."""


def lateness(plan: Plan) -> float:
    """Time past target as a share of the room up to max, summed over the dwells where it
    matters.
    """
    return sum(dwell.lateness for dwell in plan.dwells)


def nearest(problem: Problem, best: Best, limits: SearchLimits) -> tuple[Plan, bool]:
    """The plan with the best times found, and whether it is provably the nearest to target.

    Args:
        problem: with fixed shortest times.
        best: the earliest plan found for it.
        limits: when to stop.
    """
    instance = Instance(problem)
    turns = best.turns or []
    hurry = limits.over if len(turns) > FAST_MOVES else limits.stop
    if len(turns) > MOST_MOVES:
        return time_order(instance, turns, best.starts, over=lambda: True), False
    plan = time_order(instance, turns, best.starts, over=hurry)
    late = lateness(plan)
    if not late or plan.end_s is None:
        return plan, True
    placer = Placer(instance, limits.over, limits.spend)
    timed, starts = moves_left(problem, plan)
    table = rebuilt(placer, in_line(instance, timed), starts)
    if table is None:
        return plan, False
    spell = limits.within(SHARE, seconds=MOST_S)
    rng = random.Random(SEED)
    left = inf if limits.seconds < inf else NEIGHBORS * (5 + len(placer.sections))
    while late and left > 0 and not spell.over():
        left -= 1
        neighbor = _neighbor(placer, table, plan.end_s, rng)
        if neighbor is None:
            continue
        tried = time_order(instance, *turns_in(instance, neighbor), over=hurry)
        if tried.end_s is not None and tried.end_s <= plan.end_s and lateness(tried) < late - 1e-9:
            plan, late, left, table = tried, lateness(tried), left + 1, neighbor
    return plan, not late


def _neighbor(placer: Placer, table: Timetable, end_s: int, rng: random.Random) -> Timetable | None:
    """A plan with a few sections out and in again; None if one has no time then.

    Args:
        placer: for the problem.
        table: the plan.
        end_s: when it must have ended.
        rng: draws the sections.
    """
    table, numbers = table.copy(), list(table.starts_of)
    chosen = rng.sample(numbers, min(len(numbers), rng.randint(1, MOST_OUT)))
    if rng.random() < WITH_FOLLOWERS:
        for number in chosen:
            feeds = placer.sections[number].feeds
            chosen += [other for other, _ in feeds if other not in chosen]
    for number in chosen:
        placer.take_out(table, number)
    rng.shuffle(chosen)
    draws = rng if rng.random() < 0.5 else None
    for number in placer.with_feeders(chosen):
        if not placer.fits(table, number, end_s, draws):
            return None
    return table
