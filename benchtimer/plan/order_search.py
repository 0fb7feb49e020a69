"""Searches orders in which sections are placed one by one, each ending as early as possible.

Most good plans come from some order, and an order costs little to try, because everything placed
before the first change is kept.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from benchtimer.plan.instance import FAR_S
from benchtimer.plan.placement import Placer
from benchtimer.plan.timetable import Timetable

Score = tuple[float, float]
"""(the last end, the weighted sum of the ends), both from now on."""
LONGER = 1.1
"""How much later than the plan a neighbor's parts may end, as a share."""

LATE_SHARE = 0.3
"""How often a section is placed as late as possible within a drawn end, to leave others room."""

Late = tuple[int, int]
"""(number of a section, its latest end)."""
NONE_LATE: Late = (-1, 0)


class OrderSearch:
    """A search that starts from one order.

    Args:
        placer: places sections.
        order: the order to begin with.
        score_of: what makes one plan better than another.
        accepts: whether to continue from a plan with the first score after one with the second.

    Attributes:
        best: the best plan from any order; None if the first order has none.
        best_score: its score.
    """

    def __init__(
        self,
        placer: Placer,
        order: list[int],
        score_of: Callable[[Timetable], Score],
        accepts: Callable[[Score, Score], bool],
    ) -> None:
        self.placer, self.score_of, self.accepts = placer, score_of, accepts
        self.order = placer.with_feeders(order)
        tables = self._placed(self.order, [Timetable(placer.instance)], FAR_S)
        self.best = None
        if tables is not None:
            self.tables, self.best = tables, tables[-1]
            self.score = self.best_score = score_of(tables[-1])

    def _placed(
        self, order: list[int], tables: list[Timetable], limit_s: int, late: Late = NONE_LATE
    ) -> list[Timetable] | None:
        """The tables after each section, given the first ones; None if one has no time."""
        tables = tables[:]
        for number in order[len(tables) - 1 :]:
            table, is_late = tables[-1].copy(), number == late[0]
            if not self.placer.fits(table, number, late[1] if is_late else limit_s, late=is_late):
                return None
            tables.append(table)
        return tables

    def step(self, rng: random.Random) -> bool:
        """Try a slightly different order. Returns whether it gave the best plan so far."""
        order = self.order[:]
        for _ in range(rng.choice((1, 1, 2))):
            number = order.pop(rng.randrange(len(order)))
            order.insert(rng.randrange(len(order) + 1), number)
        order = self.placer.with_feeders(order)
        pairs = zip(order, self.order, strict=True)
        kept = next((k for k, (a, b) in enumerate(pairs) if a != b), None)
        if kept is None:
            return False
        now_s = self.placer.instance.problem.now_s
        limit_s = now_s + int(LONGER * self.score[0])
        late = NONE_LATE
        if rng.random() < LATE_SHARE:
            number = rng.choice(order[kept:])
            soonest_s = now_s + self.placer.sections[number].tail_s[0]
            late = (number, rng.randint(min(soonest_s, limit_s), limit_s))
        tables = self._placed(order, self.tables[: kept + 1], limit_s, late)
        if tables is None:
            return False
        score = self.score_of(tables[-1])
        if self.accepts(score, self.score):
            self.order, self.tables, self.score = order, tables, score
        if score >= self.best_score:
            return False
        self.best, self.best_score = tables[-1], score
        return True
