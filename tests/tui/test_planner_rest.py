"""How often the planner is asked while nothing is pressed."""

from __future__ import annotations

import pytest

from benchtimer.bench.asking import ADVICE_S, LATE_REST_S, LONGEST_REST_S, Asking
from benchtimer.bench.plans import Advice, part_key
from benchtimer.run import commands as c
from tests.tui.conftest import Shop


@pytest.mark.parametrize(
    ("thought_s", "warnings", "rest_s"),
    [
        (0.0, (), ADVICE_S),
        (0.002, (), ADVICE_S),
        (0.05, (), 50.0),
        (1.0, (), LONGEST_REST_S),
        (0.35, ("an overrun",), 350.0),
        (1.0, ("an overrun",), LATE_REST_S),
    ],
)
def test_the_planner_pauses_in_proportion_to_its_work(
    shop: Shop, thought_s: float, warnings: tuple[str, ...], rest_s: float
) -> None:
    """A long answer means a long rest; a press ends every rest."""
    shop.set_up("bolster", started=False)
    now = [100.0]
    asking = Asking(shop.driver, monotonic=lambda: now[0])
    asking.question(shop.driver.moment())
    shop.driver.plans.keep(Advice(warnings=warnings))
    asking.thought_s = thought_s
    now[0] += rest_s - 0.1
    assert not asking.is_due(shop.driver.moment())
    now[0] += 0.2
    assert asking.is_due(shop.driver.moment())
    asking.question(shop.driver.moment())
    assert not asking.is_due(shop.driver.moment())
    shop.press(c.Note("x"))
    assert asking.is_due(shop.driver.moment())


def test_passing_a_limit_of_the_plan_asks_again(shop: Shop) -> None:
    """A move put off past its limit makes the plan invalid, so the planner is asked again."""
    shop.set_up("bolster", started=False)
    asking = Asking(shop.driver, monotonic=lambda: 100.0)
    asking.question(shop.driver.moment())
    limit_ms = shop.driver.stamp().noted_ms + 60_000
    shop.driver.plans.keep(Advice(latest_ms={part_key(shop.name, "bolster"): limit_ms}))
    shop.clock.advance(59_000)
    assert not asking.is_due(shop.driver.moment())
    shop.clock.advance(2_000)
    assert asking.is_due(shop.driver.moment())
    asking.question(shop.driver.moment())
    assert not asking.is_due(shop.driver.moment())
