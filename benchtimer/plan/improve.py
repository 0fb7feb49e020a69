"""Better plans from a placed one: other orders, and parts taken out and placed again.

Two searches take turns: one over the orders in which parts are placed, one that changes the
plan itself. A slightly worse neighbor is accepted now and then, to escape small dead ends. Nothing
is proven in this module.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from math import exp

from benchtimer.plan.order_search import LONGER, OrderSearch, Score
from benchtimer.plan.placement import Placer
from benchtimer.plan.timetable import Timetable
from benchtimer.values import dataclass, field

ORDERS, NEIGHBORS = 3000, 150
"""Without a gain in this many placings or neighbors, the other search takes over."""
MOST = 5
"""A neighbor places up to this many numbers again, and those that wait for them."""
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
        over: called before each neighbor; True means stop.
    """

    placer: Placer
    best: Timetable
    rng: random.Random
    goal_s: float
    over: Callable[[], bool]
    score: Score = field(init=False)
    now: Timetable = field(init=False)
    stale: int = field(init=False, default=0)
    orders: OrderSearch | None = field(init=False, default=None)
    has_begun: bool = field(init=False, default=False)

    def __post_init__(self) -> None:
        self.score = self.score_of(self.best)
        self.now = self.best

    @property
    def end_s(self) -> int:
        """The end of the best plan."""
        return int(self.score[0]) + self.placer.instance.problem.now_s

    @property
    def present(self) -> Timetable:
        """The plan that the search is at."""
        return self.now if self.orders is None else self.orders.tables[-1]

    def end_of(self, table: Timetable) -> int:
        """The end of a plan."""
        return max(self.placer.end_s(table, number) for number in table.starts_of)

    def score_of(self, table: Timetable) -> Score:
        """What makes one plan better than another."""
        now_s = self.placer.instance.problem.now_s
        ends = sorted((self.placer.end_s(table, p) for p in table.starts_of), reverse=True)
        total, weight = 0.0, 1.0
        for end in ends:
            total += weight * (end - now_s)
            weight *= WEIGHT
        return (ends[0] - now_s if ends else 0.0), total

    def run(self, neighbors: float) -> None:
        """Look for better plans.

        Args:
            neighbors: the most to try.
        """
        tried = 0
        if not self.has_begun:
            self.has_begun = True
            self._begin_orders(self.placer.urgent_first())
        while tried < neighbors and self.end_s > self.goal_s and not self.over():
            tried += 1
            self.stale += 1
            if self.orders is None:
                self._judge(self.neighbor())
            elif self.orders.step(self.rng):
                self._take(self.orders.best, self.orders.best_score)
            if self.stale > self._patience:
                self._other_search()

    @property
    def _patience(self) -> float:
        """How many tries without a gain the present search has left."""
        return NEIGHBORS if self.orders is None else ORDERS / len(self.placer.sections)

    def _other_search(self) -> None:
        """From orders to changes of their best plan, and back to the best order or any other."""
        self.stale = 0
        if self.orders is not None:
            self.now, self.orders = self.orders.best or self.best, None
            return
        starts_of, deadline_s = self.best.starts_of, self.placer.sections
        order = sorted(starts_of, key=starts_of.__getitem__)
        if self.rng.random() < 0.5:
            self.rng.shuffle(order)
            order.sort(key=lambda number: deadline_s[number].deadline_s)
        self.now = self.best
        self._begin_orders(order)

    def _begin_orders(self, order: list[int]) -> None:
        search = OrderSearch(self.placer, order, self.score_of, self._accepts)
        if search.best is not None and len(order) > 1:
            self.orders = search
            self._take(search.best, search.best_score)

    def _accepts(self, new: Score, old: Score) -> bool:
        """Whether to continue from a plan, now and then from a slightly worse one."""
        loss = 20 * (new[0] - old[0]) / max(1.0, old[0]) + 8 * (new[1] - old[1]) / max(1.0, old[1])
        return loss <= 0 or self.rng.random() < exp(-8 * loss)

    def _judge(self, neighbor: Timetable | None) -> None:
        if neighbor is not None:
            score = self.score_of(neighbor)
            if self._accepts(score, self.score_of(self.now)):
                self.now = neighbor
            self._take(neighbor, score)

    def _take(self, table: Timetable | None, score: Score) -> None:
        """Keep a plan if it is the best so far."""
        if table is not None and score < self.score:
            self.best, self.score, self.stale = table, score, 0

    def neighbor(self) -> Timetable | None:
        """The present plan with a few numbers out and in again; None if one has no time then."""
        rng, placer, table = self.rng, self.placer, self.now.copy()
        now_s = placer.instance.problem.now_s
        limit_s = now_s + int(LONGER * (self.end_of(table) - now_s))
        numbers = list(table.starts_of)
        chosen = self._with_followers(rng.sample(numbers, min(len(numbers), rng.randint(1, MOST))))
        for number in chosen:
            placer.take_out(table, number)
        rng.shuffle(chosen)
        draws = rng if rng.random() < 0.5 else None
        for number in placer.with_feeders(chosen):
            if not placer.fits(table, number, limit_s, draws):
                return None
        return table

    def _with_followers(self, numbers: list[int]) -> list[int]:
        """The numbers, usually with the ones that wait for them, which would keep them late."""
        if self.rng.random() < 0.2:
            return numbers
        sections, chosen = self.placer.sections, list(numbers)
        for number in chosen:
            chosen += [other for other, _ in sections[number].feeds if other not in chosen]
        return chosen
