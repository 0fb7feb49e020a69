"""The board shows how long a step usually takes you, in any run."""

from __future__ import annotations

from benchtimer.run import commands as c
from tests.support import MINUTE
from tests.tui.conftest import Shop


def _timed(shop: Shop, runs: int) -> None:
    """Finished runs whose first step took two minutes each."""
    for _ in range(runs):
        shop.set_up("pin")
        shop.press(c.Read("tank", "65 C"))
        shop.press(c.Begin("pin"))
        shop.press(c.Finish("pin", "dip"), 2 * MINUTE)
        shop.press(c.Abort("enough"))


def _usual(shop: Shop) -> str:
    desk = shop.desk()
    moment = shop.driver.moment()
    shown = desk.shown(moment)
    assert shown is not None
    assert shown.part is not None
    return desk.look(shown, moment).usual


def test_a_step_shows_your_own_usual_time(shop: Shop) -> None:
    """After three runs of two minutes the step shows the time; after two it does not."""
    _timed(shop, 2)
    shop.set_up("bolster")
    shop.press(c.Read("tank", "65 C"))
    shop.press(c.Begin("bolster"))
    assert _usual(shop) == ""
    shop.press(c.Abort("enough"))
    _timed(shop, 1)
    shop.set_up("bolster")
    shop.press(c.Read("tank", "65 C"))
    shop.press(c.Begin("bolster"))
    assert _usual(shop) == "you: 1 min 35 s"


def test_a_step_of_another_run_uses_that_runs_times(shop: Shop) -> None:
    """With work in hand in another run, the board shows that run's time."""
    _timed(shop, 3)
    shop.set_up("bolster")
    first = shop.name
    shop.press(c.Read("tank", "65 C"))
    shop.press(c.Begin("bolster"))
    shop.set_up("ferrule", started=False)
    assert shop.name != first
    assert _usual(shop) == "you: 1 min 35 s"
