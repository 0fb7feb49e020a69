"""One agenda over every run on the bench: there is one pair of hands and one set of tanks."""

from __future__ import annotations

from collections.abc import Callable

from benchtimer.run.actions import NO_PLAN, Action, PlanTimes
from benchtimer.run.agenda import action_for, actions_of, in_order
from benchtimer.shop.shop_state import Shop
from benchtimer.values import replace


def no_plan(_run: str) -> PlanTimes:
    """The times of a planner that has not been asked."""
    return NO_PLAN


def shop_agenda(
    shop: Shop, now_ms: int, plan: Callable[[str], PlanTimes] = no_plan
) -> tuple[Action, ...]:
    """All open actions of all runs, the next one first; each names its run.

    Args:
        shop: the runs on the bench.
        now_ms: bench time.
        plan: the planner's times for the parts of a run.
    """
    found = [
        _of_run(shop, run, action)
        for run in shop.runs
        for action in actions_of(shop.bench(run), now_ms, plan(run))
    ]
    return in_order(found, now_ms)


def part_action(shop: Shop, run: str, part: str, now_ms: int) -> Action | None:
    """What you can do with one part now, apart from readings that are due.

    Args:
        shop: the runs on the bench.
        run: its run.
        part: its name.
        now_ms: bench time.
    """
    bench = shop.bench(run)
    action = action_for(bench, bench.parts[part], now_ms) if part in bench.parts else None
    return _of_run(shop, run, action) if action is not None else None


def _of_run(shop: Shop, run: str, action: Action) -> Action:
    place = shop.real.get((run, action.to_station or ""), "")
    return replace(action, run=run, place=place)
