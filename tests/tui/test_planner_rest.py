"""How often the planner is asked while nothing is pressed."""

from __future__ import annotations

import pytest

from benchtimer.bench.advised import Advice
from benchtimer.run import commands as c
from benchtimer.view.desk import ADVICE_S, LATE_REST_S, LONGEST_REST_S, Desk
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
def test_the_planner_rests_in_proportion(
    shop: Shop, thought_s: float, warnings: tuple[str, ...], rest_s: float
) -> None:
    """A long answer is followed by a long rest; a press ends every rest."""
    shop.lay_out("bolster", started=False)
    now = [100.0]
    desk = Desk(shop.driver, shop.name, monotonic=lambda: now[0])
    desk.ask_planner()
    desk.heed(Advice(warnings=warnings))
    desk._thought_s = thought_s
    now[0] += rest_s - 0.1
    assert not desk.wants_advice()
    now[0] += 0.2
    assert desk.wants_advice()
    desk.ask_planner()
    assert not desk.wants_advice()
    shop.press(c.Note("x"))
    assert desk.wants_advice()


def test_a_passed_limit_of_the_plan_is_a_new_question(shop: Shop) -> None:
    """A move could be put off until then, and was: the plan does not hold any more."""
    shop.lay_out("bolster", started=False)
    desk = Desk(shop.driver, shop.name, monotonic=lambda: 100.0)
    desk.ask_planner()
    desk.heed(Advice(latest_ms={"bolster": shop.driver.stamp().noted_ms + 60_000}))
    shop.clock.advance(59_000)
    assert not desk.wants_advice()
    shop.clock.advance(2_000)
    assert desk.wants_advice()
    desk.ask_planner()
    assert not desk.wants_advice()
