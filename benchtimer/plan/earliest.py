"""The earliest end of a problem with fixed shortest times: place, improve, prove.

First a plan is placed, which takes milliseconds. Then decisions between precedences, which find
earlier ends and prove that there are none, take turns with improvement. Whenever it stops, the best
plan so far is the answer.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cached_property
from math import inf

from benchtimer.plan.at_cadence import plan_at_cadence
from benchtimer.plan.decisions import PrecedenceSearch
from benchtimer.plan.fixpoint import earliest_starts
from benchtimer.plan.improve import Improver
from benchtimer.plan.instance import FAR_S, Instance, progress
from benchtimer.plan.network import OrderedMove
from benchtimer.plan.outcome import Plan
from benchtimer.plan.placement import Placer
from benchtimer.plan.precedences import Precedences
from benchtimer.plan.problem import Problem
from benchtimer.plan.refit import rebuilt, to_the_left
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.timetable import Timetable
from benchtimer.values import dataclass, replace

SEED = 20
"""The seed of all random draws in the planner, so the same problem gives the same plan."""
FEW_TRIES = 3
"""How many orders are placed before the decisions start."""
FEW_SECTIONS = 200
"""With more sections, the first plan is not moved earlier."""
NEIGHBORS = 30
"""Neighbors in a round of improvement without a clock, times parts and five."""
SPELL = 100
"""Neighbors of the improver in a spell."""
HALF, TENTH = 0.5, 0.1
"""How much earlier the trial ends of decisions are: these shares of the way to the bound."""
EASY_CHOICES = 3000
"""With more choices, improvement comes first, and the first search has fewer conflicts."""
FIRST_S = 0.15
"""How long that improvement lasts."""
BOUND_TRIES = 7
"""Trial ends for the first bound."""
NEAR_TRIES, NEAR_CONFLICTS = 6, 30
"""Tries to change the order after a spell without a gain, and the conflicts in each."""
CONFLICTS, MORE = 20, 1.3
"""Conflicts in the first search by decisions, and how many times as many in the next."""


@dataclass(slots=True)
class Best:
    """What was found for fixed shortest times.

    Attributes:
        end_s: the end of the best plan, inf without one.
        turns: its order; None without one.
        starts: its times; None without one.
        bound_s: no plan ends before this; inf if there is no plan.
    """

    end_s: float = inf
    turns: list[OrderedMove] | None = None
    starts: list[int] | None = None
    bound_s: float = -inf

    @property
    def is_closed(self) -> bool:
        """Whether the search is settled: the plan is the earliest, or none exists."""
        return self.bound_s >= self.end_s or self.bound_s == inf


class Earliest:
    """The search for the earliest end of one problem.

    Args:
        problem: its dwells' ``min_s`` are the shortest time of each dwell.
        limits: when to stop.
    """

    def __init__(self, problem: Problem, limits: SearchLimits) -> None:
        self.problem, self.limits = problem, limits
        self.instance = Instance(problem)
        self.rng = random.Random(SEED)
        self.placer = Placer(self.instance, limits.over, limits.spend)
        self.improver: Improver | None = None
        self.bound_s = -inf
        self.conflicts = float(CONFLICTS)
        self.turn = 0
        self.refused = False
        """Whether a plan found by decisions had no room in the timetable."""

    @cached_property
    def orders(self) -> PrecedenceSearch:
        """The search by decisions."""
        return PrecedenceSearch(Precedences(self.instance), self._earlier_s, self.rng)

    @property
    def decides(self) -> bool:
        """Whether to look for plans by decisions."""
        return self.orders.rules.is_whole and not self.refused

    @property
    def end_s(self) -> float:
        """The end of the best plan, inf without one."""
        return inf if self.improver is None else self.improver.end_s

    @property
    def is_done(self) -> bool:
        """Whether everything is settled."""
        return self.bound_s >= self.end_s or self.bound_s == inf

    def take(self, table: Timetable | None) -> None:
        """Use a known plan if it ends earlier."""
        if self.improver is not None:
            self.improver.take(table)
        elif table is not None:
            self.improver = Improver(self.placer, table, self.rng, -inf, self.limits.over)

    def take_plan(self, plan: Plan) -> bool:
        """Use an earlier plan, with its own times or the earliest for its order.

        Returns whether it works.
        """
        turns, starts = moves_left(self.problem, plan)
        table = rebuilt(self.placer, turns, starts)
        if table is None:
            moved = earliest_starts(self.instance, turns, starts)
            table = None if moved is None else rebuilt(self.placer, turns, moved)
        self.take(table)
        return table is not None

    def place(self, tries: int = 12) -> bool:
        """Make the first plan. Returns whether there is one."""
        for table in (
            plan_at_cadence(self.placer, self.limits, self.rng),
            self.placer.first_plan(self.rng, tries),
        ):
            self.take(table)
            if table is not None and len(self.placer.sections) <= FEW_SECTIONS:
                self.take(to_the_left(self.placer, table.copy()))
        return self.improver is not None

    def run(self, first_plan: bool = False) -> Best:
        """Look for the earliest end.

        Args:
            first_plan: accept any plan.
        """
        if self.improver is None:
            self.place(FEW_TRIES)
        if not (first_plan and self.improver is not None):
            self._look(first_plan)
        return self.best()

    def again(self, limits: SearchLimits, first_plan: bool = False) -> Best:
        """Continue with new limits."""
        self.limits = limits
        self.placer.over, self.placer.spent = limits.over, limits.spend
        return self.run(first_plan)

    def _look(self, first_plan: bool) -> None:
        limits, tried = self.limits, 0
        size = len(self.orders.rules.choices) / EASY_CHOICES
        if size > 1:
            self._improve(limits.within(seconds=FIRST_S))
            self.conflicts = min(self.conflicts, CONFLICTS / size)
        self.find_bound()
        while not self.is_done and not limits.over():
            if self.bound_s == -inf:
                self.find_bound()
            begun_s = limits.elapsed_s
            if self.decides:
                self._decide()
            elif tried > NEIGHBORS * (5 + len(self.placer.sections)) and limits.seconds == inf:
                return
            if first_plan and self.end_s < inf:
                return
            if self.improver is None:
                self.place()
            # A conflict of many choices takes long, so improvement gets as much time.
            self._improve(limits, limits.elapsed_s - begun_s if size > 1 else 0.0)
            tried += SPELL
        if self.bound_s == -inf:
            self.find_bound()

    def is_ruled_out(self, end_s: int) -> bool:
        """Whether it is clear without a search that no plan ends by a moment."""
        return self.orders.is_ruled_out(end_s)

    def find_bound(self) -> None:
        """Find the first end that is not ruled out without a search."""
        if self.is_done:
            return
        if self.is_ruled_out(self._earlier_s):
            self.bound_s = self.end_s
        elif self.end_s < inf:
            unit_s, low, high = self.instance.unit_s, self.problem.now_s, self._earlier_s
            for _ in range(BOUND_TRIES):
                middle = low + (high - low) // 2 // unit_s * unit_s
                if self.is_ruled_out(middle):
                    low = middle + unit_s
                else:
                    high = middle
            self.bound_s = max(self.bound_s, low)

    def _improve(self, limits: SearchLimits, least_s: float = 0.0) -> None:
        """Try neighbors of the plan, and other orders close to its own.

        Args:
            limits: when to stop.
            least_s: how long to go on, if the limits allow it.
        """
        improver, until_s = self.improver, limits.elapsed_s + least_s
        while improver is not None and not self.is_done and not limits.over():
            improver.goal_s, improver.over = self.bound_s, limits.over
            improver.run(SPELL)
            for _ in range(NEAR_TRIES if self.decides else 0):
                if self.is_done or limits.over():
                    return
                self._follow(improver.best if self.rng.random() < 0.5 else improver.present)
                self._take_starts(self.orders.near(self._earlier_s, NEAR_CONFLICTS))
            if limits.elapsed_s >= until_s:
                return

    def _decide(self) -> None:
        """Look for earlier ends by decisions, until there are too many conflicts.

        Every other time, a trial end halfway to the bound is tried, free of the order of the plan:
        it gives a much earlier end or a better bound.
        """
        orders, unit_s = self.orders, self.instance.unit_s
        while not self.is_done and not self.limits.over():
            halfway = self.turn % 2 == 0
            end_s = self._trial_s(HALF if halfway else TENTH)
            if self.improver is not None and not halfway:
                self._follow(self.improver.best)
            else:
                orders.limits, orders.guide = self.limits, ()
            self.limits.spend()
            starts, is_closed = orders.earlier(end_s, int(self.conflicts))
            if is_closed:
                self.bound_s = self.end_s if end_s == self._earlier_s else end_s + unit_s
            elif starts is None:
                self.turn += 1
                self.conflicts *= MORE
                return
            elif not self._take_starts(starts):
                self.refused = True
                return

    def _follow(self, table: Timetable) -> None:
        """Let the decisions follow the order of a plan."""
        self.orders.limits = self.limits
        self.orders.guide = self.orders.rules.starts_of(*turns_in(self.instance, table))

    @property
    def _earlier_s(self) -> int:
        """The latest end that is an improvement, as a whole number of units from now."""
        now_s, unit_s = self.problem.now_s, self.instance.unit_s
        return now_s + (int(min(self.end_s, FAR_S)) - 1 - now_s) // unit_s * unit_s

    def _trial_s(self, share: float) -> int:
        """The latest end that improves the plan, or one this share of the way to the bound."""
        if self.bound_s == -inf or self.end_s == inf:
            return self._earlier_s
        unit_s = self.instance.unit_s
        return self._earlier_s - int((self._earlier_s - self.bound_s) // unit_s * share) * unit_s

    def _take_starts(self, starts: Sequence[int] | None) -> bool:
        """Use a plan found by decisions, also with its parts placed as early as they can be.

        Returns whether there is one.
        """
        turns = None if starts is None else self.orders.rules.turns_of(starts)
        table = None if turns is None else rebuilt(self.placer, *turns)
        self.take(table)
        if table is not None:
            self.take(to_the_left(self.placer, table.copy()))
        return table is not None

    def best(self) -> Best:
        """What is known now."""
        best = Best(self.end_s, None, None, self.bound_s)
        if self.improver is not None:
            best.turns, best.starts = turns_in(self.instance, self.improver.best)
        return best


def moves_left(problem: Problem, plan: Plan) -> tuple[list[OrderedMove], list[int]]:
    """The moves of a plan that remain, with its times."""
    index = {part.name: i for i, part in enumerate(problem.parts)}
    left = [
        move
        for move in plan.moves
        if move.part in index
        and progress(part := problem.parts[index[move.part]]) <= move.move < len(part.route.moves)
    ]
    turns = [OrderedMove(index[move.part], move.move, move.hands) for move in left]
    return turns, [move.start_s for move in left]


def turns_in(instance: Instance, table: Timetable) -> tuple[list[OrderedMove], list[int]]:
    """The order of a timetable, with its times."""
    pieces = sorted(
        (start, end, pair, a, b, part, number)
        for pair, moves in enumerate(table.pieces)
        for start, end, a, b, part, number in moves
    )
    turns = [OrderedMove(part, number, pair) for _, _, pair, _, _, part, number in pieces]
    return in_line(instance, turns), [piece[0] for piece in pieces]


def in_line(instance: Instance, turns: list[OrderedMove]) -> list[OrderedMove]:
    """The same moves with identical parts in order: first in, first out, in every place."""
    place = {(turn.part, turn.move): n for n, turn in enumerate(turns)}
    given = list(turns)
    for line in instance.lines:
        for move in range(len(line.route.moves)) if len(line.parts) > 1 else ():
            parts = [part for part in line.parts if (part, move) in place]
            slots = sorted(place[part, move] for part in parts)
            for part, n in zip(parts, slots, strict=True):
                given[n] = replace(turns[n], part=part)
    return given
