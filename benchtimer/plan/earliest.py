"""The earliest end of a problem with fixed shortest times: place, improve, prove.

First a plan is placed, which takes milliseconds. Then take turns: the layered search, for one pair
of hands; decisions between precedences, for a proof; and improvement. However it ends, the best
plan so far is the answer.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cached_property
from math import inf

from benchtimer.plan.decisions import PrecedenceSearch
from benchtimer.plan.exact_search import NARROW, WIDE, Search
from benchtimer.plan.fixpoint import earliest_starts, stretch_of
from benchtimer.plan.hours_ahead import is_hopeless, least_end
from benchtimer.plan.improve import Improver
from benchtimer.plan.instance import FAR_S, Instance, progress
from benchtimer.plan.network import OrderedMove
from benchtimer.plan.outcome import Plan
from benchtimer.plan.placement import Placer
from benchtimer.plan.precedences import Precedences, covers
from benchtimer.plan.problem import Problem
from benchtimer.plan.refit import rebuilt, to_the_left
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.search_state import Dead, Path
from benchtimer.plan.timetable import Timetable
from benchtimer.plan.timing import turns_of
from benchtimer.values import dataclass, replace

SEED = 20
"""The seed of all random draws in the planner, so the same problem gives the same plan."""
NARROW_SHARE, IMPROVE_SHARE, WIDE_SHARE = 0.7, 0.8, 0.5
"""Shares of the remaining budget: narrow passes, improvement, wide passes."""
IMPROVE_S = 0.7
"""Improvement and wide passes take turns. A turn of improvement lasts no longer than this."""
FIRST_NODES = 20_000
"""How many states the narrow passes can open."""
FEW_TRIES = 3
"""How many orders are placed before the search for a proof starts."""
FEW_SECTIONS = 200
"""With more sections, the first plan is not moved earlier."""
GLANCE_SHARE = 0.1
"""The share of narrow passes if the problem has hours."""
NEIGHBORS = 30
"""Neighbors in a round of improvement without a clock, times parts and five."""
SPELL = 100
"""Neighbors of the improver in a spell."""
NEAR_TRIES, NEAR_NODES = 6, 100
"""Tries to change the order after a spell without a gain, and the decisions in each."""
DECISIONS, MORE, RESTARTS = 200, 1.2, 20
"""Decisions in the first search for a proof, how many times as many in the next, and how many
searches per turn.
"""
DECIDE_SHARE = 0.2
"""The share of the remaining budget for such searches."""
MOST_DECIDED = 80
"""With more moves left, decisions take too long."""
MOST_PROVABLE = 4000
"""With more moves times spans of the hours, the search doesn't look for a proof."""


@dataclass(slots=True)
class Best:
    """What was found for fixed shortest times.

    Attributes:
        end_s: the end of the best plan, inf without one.
        turns: its order; empty without one.
        starts: its times; None if the order is enough.
        bound_s: no plan ends before this; inf if there is no plan.
        dead: where the search got stuck.
    """

    end_s: float = inf
    turns: list[OrderedMove] | None = None
    starts: list[int] | None = None
    bound_s: float = -inf
    dead: Dead | None = None

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
        self.path: Path = None
        self.path_end_s = inf
        self.bound_s = -inf
        self.dead: Dead | None = None
        self.passes = [NARROW, WIDE]
        # A place that is closed now and opens later is a lower limit; later closings are more.
        always = tuple(
            replace(s, closed=tuple(c for c in s.closed if c[0] <= problem.now_s))
            for s in problem.stations
        )
        self.never_closed = always == problem.stations
        self.search: Search | None = None
        self.decisions = float(DECISIONS)
        size = self.instance.moves_left * len(self.instance.gaps)
        # Leave out places that close: what is proven without them is true with them.
        self.relaxed = self.instance if self.never_closed else Instance(
            replace(problem, stations=always)
        )  # fmt: skip
        if problem.hands == 1 and size <= MOST_PROVABLE:
            self.search = Search(self.relaxed, limits)

    @cached_property
    def orders(self) -> PrecedenceSearch | None:
        """The search by decisions, if it takes the problem."""
        if self.relaxed.moves_left > MOST_DECIDED or not covers(self.relaxed):
            return None
        return PrecedenceSearch(Precedences(self.relaxed), self.rng)

    @property
    def end_s(self) -> float:
        """The end of the best plan, inf without one."""
        return min(self.path_end_s, inf if self.improver is None else self.improver.end_s)

    @property
    def is_done(self) -> bool:
        """Whether everything is settled."""
        return self.bound_s >= self.end_s or self.bound_s == inf

    def take(self, table: Timetable | None) -> None:
        """Use a known plan if it ends earlier."""
        if table is None:
            return
        if self.improver is None:
            self.improver = Improver(self.placer, table, self.rng, -inf, self.limits.over)
        elif (score := self.improver.score_of(table)) < self.improver.score:
            self.improver.best, self.improver.score, self.improver.now = table, score, table

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
        table = self.placer.first_plan(self.rng, tries)
        if table is not None:
            self.take(table)
            if len(self.placer.sections) <= FEW_SECTIONS:
                self.take(to_the_left(self.placer, table.copy()))
        return table is not None

    def run(self, first_plan: bool = False) -> Best:
        """Look for the earliest end.

        Args:
            first_plan: accept any plan.
        """
        if self.improver is None:
            self.place(12 if self.search is None else FEW_TRIES)
        if not (first_plan and self.improver is not None):
            self._look(first_plan)
        return self.best()

    def again(self, limits: SearchLimits, first_plan: bool = False) -> Best:
        """Continue with new limits."""
        self.limits = limits
        self.placer.over, self.placer.spent = limits.over, limits.spend
        return self.run(first_plan)

    def _look(self, first_plan: bool) -> None:
        limits = self.limits
        self._bound()
        hours = len(self.instance.gaps) > 1 and self.improver is not None
        share = GLANCE_SHARE if hours else NARROW_SHARE
        nodes: float = FIRST_NODES
        while not self.is_done and not limits.over():
            self._search(limits.within(share, nodes), first_plan)
            if first_plan and self.end_s < inf:
                return
            if not self.is_done and self.improver is None:
                self.place()
            self._decide(limits.within(DECIDE_SHARE))
            if self.bound_s == -inf:
                self._bound()
            turns = self.search is not None or self.orders is not None
            turn = limits.within(IMPROVE_SHARE, inf, IMPROVE_S) if turns else limits
            self._improve(turn)
            if limits.seconds == inf and (self.search is None or nodes == inf):
                return
            share, nodes = WIDE_SHARE, inf

    def _bound(self) -> None:
        if self.end_s < inf:
            self.bound_s = max(self.bound_s, least_end(self.instance, int(self.end_s)))
        elif self.search is None and is_hopeless(self.instance):
            self.bound_s = inf

    def _improve(self, limits: SearchLimits) -> None:
        if self.improver is None:
            return
        improver = self.improver
        improver.goal_s, improver.over = self.bound_s, limits.over
        left = NEIGHBORS * (5 + len(self.placer.sections)) if self.limits.seconds == inf else inf
        while left > 0 and not self.is_done and not limits.over():
            before = improver.score
            improver.run(min(left, SPELL))
            left -= SPELL
            if improver.score == before:
                self._change_order(improver, limits)

    def _change_order(self, improver: Improver, limits: SearchLimits) -> None:
        """Look for plans that end earlier and keep most of the order of one."""
        orders = self.orders
        for _ in range(NEAR_TRIES if orders is not None else 0):
            if orders is None or self.is_done or limits.over():
                return
            base = improver.best if self.rng.random() < 0.5 else improver.present
            orders.limits = limits
            orders.guide = orders.rules.starts_of(*turns_in(self.instance, base))
            self._take_starts(orders.rules, orders.near(self._earlier_s, NEAR_NODES))

    def _decide(self, limits: SearchLimits) -> None:
        """Look for an earlier end by decisions, again from the start with more of them."""
        orders = self.orders
        for turn in range(RESTARTS):
            if orders is None or self.is_done or limits.over():
                return
            orders.limits, orders.guide = limits, ()
            if self.improver is not None and turn % 2:
                best = turns_in(self.instance, self.improver.best)
                orders.guide = orders.rules.starts_of(*best)
            starts, is_closed = orders.earlier(self._earlier_s, int(self.decisions))
            if is_closed:
                self.bound_s = self.end_s
            elif starts is None:
                self.decisions *= MORE
            else:
                self._take_starts(orders.rules, starts)

    @property
    def _earlier_s(self) -> int:
        """The latest end that is an improvement."""
        return int(min(self.end_s, FAR_S)) - self.instance.unit_s

    def _take_starts(self, rules: Precedences, starts: Sequence[int] | None) -> None:
        """Use a plan found by precedences, also with its parts placed as early as they can be."""
        table = None if starts is None else rebuilt(self.placer, *rules.turns_of(starts))
        self.take(table)
        if table is not None:
            self.take(to_the_left(self.placer, table.copy()))

    def _search(self, limits: SearchLimits, first_plan: bool) -> None:
        """Run passes of the search; a better order is used, and the bound applies to all plans."""
        search = self.search
        if search is None or not (search.passes or self.passes):
            return
        search.limits = limits
        widths = NARROW if search.passes else self.passes.pop(0)
        found = search.run(first_plan, self.end_s, widths)
        self.bound_s, self.dead = max(self.bound_s, found.bound_s), found.dead
        if found.path is None or found.end_s >= self.end_s:
            return
        turns = turns_of(search.instance, found.path)
        starts = earliest_starts(search.instance, turns)
        if starts is not None:
            self.take(rebuilt(self.placer, turns, starts))
        if self.never_closed:
            self.path, self.path_end_s = found.path, found.end_s

    def best(self) -> Best:
        """What is known now."""
        best = Best(self.end_s, None, None, self.bound_s, self.dead)
        if self.improver is not None and self.improver.end_s <= self.end_s:
            best.turns, best.starts = turns_in(self.instance, self.improver.best)
        elif self.path is not None and self.search is not None:
            best.turns = turns_of(self.search.instance, self.path)
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
    turns = [OrderedMove(index[move.part], move.move, 0, move.hands) for move in left]
    return turns, [move.start_s for move in left]


def turns_in(instance: Instance, table: Timetable) -> tuple[list[OrderedMove], list[int]]:
    """The order of a timetable, with its times and the spans of the hours it uses."""
    pieces = sorted(
        (start, end, pair, part, number)
        for pair, moves in enumerate(table.pieces)
        for start, end, _, _, part, number in moves
    )
    turns = [
        OrderedMove(part, number, stretch_of(instance, start, end - start), pair)
        for start, end, pair, part, number in pieces
    ]
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
