"""Better orders close to a plan's: the layered search with most moves kept in order.

A placed part keeps its times, so placement rarely finds a plan in which a part waits at its first
place for another to go first. Here the times are free and most of the order is fixed: only a few
parts, a stretch of the plan, or moves a few positions apart change it. It proves nothing.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from math import inf

from benchtimer.plan.exact_search import Found, Rank, Search
from benchtimer.plan.hours_ahead import Due, Near
from benchtimer.plan.instance import Instance
from benchtimer.plan.network import OrderedMove
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.search_state import SearchState, candidates, root
from benchtimer.plan.timing import turns_of

WIDTH = 5
"""States kept in a layer."""
STRETCH = (6, 12)
"""Shortest and longest stretch, in moves, that may take any order."""
MOST_FREE = 3
"""Number of parts whose moves may come anywhere."""
SLACKS = (2, 4)
"""Smallest and largest shift in position for moves close together."""


class Reorder(Search):
    """Steps from one order to others close to it.

    Args:
        instance: the problem in numbers.

    Attributes:
        turns: the order it is at.
        end_s: when that ends.
        stale: steps since it began or last ended earlier.
    """

    def __init__(self, instance: Instance) -> None:
        super().__init__(instance, SearchLimits())
        self.turns: Sequence[OrderedMove] = ()
        self.end_s, self.stale = inf, 0
        self.weighs_work = False
        self.near = Near((), {}, 0)
        self.first: dict[tuple[int, int], float] = {}
        """The place of each move, or of the same move of the next part that keeps its order."""
        self._of_part = {
            part: (line.first_m, n) for line in instance.lines for n, part in enumerate(line.parts)
        }

    def begin(self, turns: Sequence[OrderedMove], end_s: float) -> None:
        """Go on from an order.

        Args:
            turns: the order.
            end_s: its end.
        """
        self.turns, self.end_s, self.stale = turns, end_s, 0

    def step(self, rng: random.Random) -> bool:
        """Go to an order that ends no later, if one is found. Returns whether it ends earlier."""
        found = self.better(self.turns, self.end_s + self.instance.unit_s, rng)
        before_s = self.end_s
        if found is not None:
            self.end_s, self.turns = found
        self.stale = 0 if self.end_s < before_s else self.stale + 1
        return self.stale == 0

    def better(
        self, turns: Sequence[OrderedMove], limit_s: float, rng: random.Random
    ) -> tuple[float, list[OrderedMove]] | None:
        """A random neighbor of an order as (end, order); None if none ends before the limit.

        Args:
            turns: the order.
            limit_s: the neighbor must end before this.
            rng: the random generator.
        """

        def rank(state: SearchState) -> Rank:
            return state.rank_s, rng.random(), 0, 0

        self.near = self._drawn(turns, rng)
        self.first = {}
        for m, n in sorted(self.near.order, reverse=True):
            behind = self.first.get((m, n + 1), inf)
            self.first[m, n] = self.near.places.get((m, n), behind)
        self.due = Due(self.instance, limit_s - self.instance.unit_s, self.near)
        self.found = Found(limit_s)
        next(self._sweep(root(self.instance), WIDTH, rank), None)
        path = self.found.path
        return None if path is None else (self.found.end_s, turns_of(self.instance, path))

    def _drawn(self, turns: Sequence[OrderedMove], rng: random.Random) -> Near:
        """The moves that keep their order: all but a stretch, a few parts, or close moves."""
        order = []
        for turn in turns:
            first_m, n = self._of_part[turn.part]
            order.append((first_m + turn.move, n))
        places = {key: place for place, key in enumerate(order)}
        parts = sorted({turn.part for turn in turns})
        kind = rng.randrange(3)
        if kind == 0:
            begin = rng.randrange(len(order))
            stretch = order[begin : begin + rng.randint(*STRETCH)]
            return Near(order, places | dict.fromkeys(stretch, begin), 0)
        if kind == 1:
            free = rng.sample(parts, min(len(parts), rng.randint(1, MOST_FREE)))
            slack = rng.choice((0, 0, 1))
        else:
            free, slack = rng.sample(parts, rng.randint(0, 1)), rng.randint(*SLACKS)
        for turn, key in zip(turns, order, strict=True):
            if turn.part in free:
                del places[key]
        return Near(order, places, slack)

    def _next(self, state: SearchState) -> list[int]:
        places, counts = self.near.places, state.counts
        last = self.near.slack + min(self.first.get(key, inf) for key in enumerate(counts))
        found = candidates(self.instance, state)
        return [m for m in found if places.get((m, counts[m]), -1) <= last]

    def _due(self) -> Due | None:
        return self.due

    def _bound(self, state: SearchState) -> float:
        return state.rows[0][-1]  # the kept order is the tighter limit
