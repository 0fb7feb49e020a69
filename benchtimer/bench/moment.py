"""One value for each press and each tick: the time, the shop, the plan and what comes next.

It is made once and passed on, so that drawing, alarms and decisions all use the same moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from benchtimer.bench.own_units import check_in
from benchtimer.bench.plans import NO_ADVICE, Advice, MoveAhead
from benchtimer.run.actions import NO_PLAN, Action, PlanTimes
from benchtimer.run.run_state import Bench
from benchtimer.shop.shop_agenda import part_action, shop_agenda
from benchtimer.shop.shop_state import Shop
from benchtimer.store.log import Stamp
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class Moment:
    """The bench at one moment.

    Attributes:
        stamp: the time.
        shop: every run that is not over, and what they share.
        advice: the planner's latest answer.
        actions: the agenda over all runs, most urgent first.
        unit: the unit of all temperatures; empty for the recipes' own.
    """

    stamp: Stamp
    shop: Shop
    advice: Advice
    actions: Sequence[Action]
    unit: str = ""

    @property
    def now_ms(self) -> int:
        """Bench time."""
        return self.stamp.noted_ms

    @property
    def first(self) -> Action | None:
        """The most urgent action of the shop."""
        return next(iter(self.actions), None)

    def first_of(self, run: str) -> Action | None:
        """The most urgent action of one run."""
        return next((action for action in self.actions if action.run == run), None)

    def of_part(self, run: str, part: str) -> Action | None:
        """What you can do with one part now."""
        if run not in self.shop.states:
            return None
        action = part_action(self.shop, run, part, self.now_ms)
        return check_in(action, self.unit) if action is not None else self.first_of(run)

    def bench_of(self, action: Action) -> Bench:
        """The run that an action is about, with what other runs mean for it."""
        return self.shop.bench(action.run)

    def moves(self, run: str) -> tuple[MoveAhead, ...]:
        """The planned moves of a run's parts, as far as they are still valid."""
        return _moves(self.advice, self.shop).get(run, ())

    def times(self, run: str) -> PlanTimes:
        """The planner's times for a run, as far as they are still valid."""
        return _times(self.advice, self.shop).get(run, NO_PLAN)


@lru_cache(maxsize=2)
def _moves(advice: Advice, shop: Shop) -> dict[str, tuple[MoveAhead, ...]]:
    """Each run's planned moves, computed once and kept until the next press or plan. At most two
    shops are cached, because each holds the presses that can be taken back.
    """
    return {run: advice.moves_of(run, shop.bench(run), shop.real) for run in shop.runs}


@lru_cache(maxsize=2)
def _times(advice: Advice, shop: Shop) -> dict[str, PlanTimes]:
    """The planner's times for each run, cached the same way."""
    return {run: advice.times(run, shop.bench(run)) for run in shop.runs}


def moment_of(stamp: Stamp, shop: Shop, advice: Advice = NO_ADVICE, unit: str = "") -> Moment:
    """The moment of a shop; its agenda is computed only here.

    Args:
        stamp: the time.
        shop: the runs on the bench.
        advice: the planner's latest answer.
        unit: the unit of all temperatures; empty for the recipes' own.
    """
    times = _times(advice, shop)
    actions = shop_agenda(shop, stamp.noted_ms, times.__getitem__)
    if unit:
        actions = tuple(check_in(action, unit) for action in actions)
    return Moment(stamp, shop, advice, actions, unit)
