"""Better plans from a placed one: the orders in which its parts are placed, one after the other.

A slightly worse order is accepted now and then, to escape small dead ends. After many orders
without a gain, the search starts again from the best plan's order or from any. Nothing is proven
here.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from math import exp

from benchtimer.plan.order_search import OrderSearch, Score
from benchtimer.plan.placement import Placer
from benchtimer.plan.timetable import Timetable
from benchtimer.values import dataclass, field

PLACINGS = 3000
"""Without a gain in this many placings, the search starts again from another order."""
WEIGHT = 0.7
"""The weight of each part's end after the latest end."""


@dataclass(slots=True)
class Improver:
    """A search that starts from a placed plan.

    Attributes:
        placer: places numbers.
        best: the best plan so far.
        rng: the random generator.
        goal_s: an end that no plan beats.
        over: called before each order; True means stop.
    """

    placer: Placer
    best: Timetable
    rng: random.Random
    goal_s: float
    over: Callable[[], bool]
    score: Score = field(init=False)
    stale: int = field(init=False, default=0)
    orders: OrderSearch | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self.score = self.score_of(self.best)

    @property
    def end_s(self) -> int:
        """The end of the best plan."""
        return int(self.score[0]) + self.placer.instance.problem.now_s

    @property
    def present(self) -> Timetable:
        """The plan that the search is at."""
        return self.best if self.orders is None else self.orders.tables[-1]

    def score_of(self, table: Timetable) -> Score:
        """What makes one plan better than another."""
        now_s = self.placer.instance.problem.now_s
        ends = sorted((self.placer.end_s(table, p) for p in table.starts_of), reverse=True)
        total, weight = 0.0, 1.0
        for end in ends:
            total += weight * (end - now_s)
            weight *= WEIGHT
        return (ends[0] - now_s if ends else 0.0), total

    def run(self, tries: float) -> None:
        """Look for better plans.

        Args:
            tries: the most orders to try.
        """
        if self.orders is None:
            self._begin(self.placer.urgent_first())
        while tries > 0 and self.end_s > self.goal_s and not self.over():
            tries -= 1
            self.stale += 1
            if self.orders is not None and self.orders.step(self.rng):
                self.take(self.orders.best)
            if self.stale > PLACINGS / len(self.placer.sections):
                self._begin(self._another_order())

    def _another_order(self) -> list[int]:
        """The order of the best plan, or any that keeps the deadlines."""
        starts_of, sections = self.best.starts_of, self.placer.sections
        order = sorted(starts_of, key=starts_of.__getitem__)
        if self.rng.random() < 0.5:
            self.rng.shuffle(order)
            order.sort(key=lambda number: sections[number].deadline_s)
        return order

    def _begin(self, order: list[int]) -> None:
        self.stale = 0
        search = OrderSearch(self.placer, order, self.score_of, self._accepts)
        if search.best is not None and len(order) > 1:
            self.orders = search
            self.take(search.best)

    def _accepts(self, new: Score, old: Score) -> bool:
        """Whether to continue from a plan, now and then from a slightly worse one."""
        loss = 20 * (new[0] - old[0]) / max(1.0, old[0]) + 8 * (new[1] - old[1]) / max(1.0, old[1])
        return loss <= 0 or self.rng.random() < exp(-8 * loss)

    def take(self, table: Timetable | None) -> None:
        """Keep a plan if it is the best so far."""
        if table is not None and (score := self.score_of(table)) < self.score:
            self.best, self.score, self.stale = table, score, 0
