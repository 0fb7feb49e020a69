"""Beginning a part early asks first where it costs a window, and only there."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event

import pytest
from textual.pilot import Pilot

from benchtimer.bench.asking import Stop
from benchtimer.bench.moment import Moment
from benchtimer.run import commands as c
from benchtimer.run.run_state import PartPhase
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import ChoicePage
from benchtimer.view.desk import HABIT_S
from tests.support import MINUTE, SMALL, small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import press

TWO = small_recipe(SMALL.replace("holds = 1", "holds = 2", 1))
"""The small recipe with room for both parts in its tank."""

BEGIN_S = 80
"""Its work up to the tank."""


def _planned(shop: Shop, left_s: int) -> None:
    """The bolster leaves the tank in this many seconds; the ferrule is planned behind it."""
    shop.set_up("bolster", "ferrule", recipe=TWO).to_tank("bolster")
    in_ms = shop.driver.state(shop.name).bench.parts["bolster"].since_ms
    shop.clock.advance(in_ms + 8 * MINUTE - left_s * 1000 - shop.driver.stamp().noted_ms)
    desk = shop.desk()
    advice = desk.asking.question(shop.driver.moment())(lambda: False)
    shop.driver.plans.keep(advice)


def _phase(shop: Shop) -> PartPhase:
    return shop.driver.state(shop.name).bench.parts["ferrule"].phase


async def _press_early(pilot: Pilot[None]) -> None:
    """Press SPACE on the picked ferrule and wait for the planner's answer."""
    await press(pilot, "2 space")
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


@pytest.mark.parametrize(("answer", "phase"), [
    ("1", PartPhase.WAITING), ("escape", PartPhase.WAITING), ("2", PartPhase.IN_HAND),
])  # fmt: skip
async def test_starting_early_at_the_cost_of_a_window_asks_first(
    shop: Shop, answer: str, phase: PartPhase
) -> None:
    """The question names the lost window; one answer waits, the other begins the part."""
    _planned(shop, BEGIN_S - 30)
    async with shop.app().run_test(size=(80, 24)) as pilot:
        await _press_early(pilot)
        page = pilot.app.screen
        assert isinstance(page, ChoicePage)
        assert "#1" in page._title
        assert "past max" in page._title
        assert _phase(shop) is PartPhase.WAITING
        await press(pilot, answer)
        assert isinstance(pilot.app.screen, BoardScreen)
        assert _phase(shop) is phase


async def test_nothing_is_asked_where_nothing_is_lost(shop: Shop) -> None:
    """With time for both parts the press begins the part."""
    _planned(shop, 8 * 60 - 10)
    assert shop.driver.moment().times(shop.name).begin_ms["ferrule"] > 0
    async with shop.app().run_test(size=(80, 24)) as pilot:
        await _press_early(pilot)
        assert isinstance(pilot.app.screen, BoardScreen)
        assert _phase(shop) is PartPhase.IN_HAND


async def test_another_press_meanwhile_takes_precedence(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A press while the planner thinks drops the question; the planner is asked once."""
    _planned(shop, BEGIN_S - 30)
    app: BenchApp = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        asked, go = [], Event()
        real = board.desk.asking.begun_now

        def slow(moment: Moment, run: str, command: c.Begin) -> Callable[[Stop], str]:
            asked.append(command)
            question = real(moment, run, command)
            return lambda stop: question(stop) if go.wait(20) else ""

        monkeypatch.setattr(board.desk.asking, "begun_now", slow)
        await press(pilot, "2 space")
        shop.press(c.Note("a note"))
        go.set()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert len(asked) == 1
        assert app.screen is board
        assert _phase(shop) is PartPhase.WAITING


async def test_a_space_out_of_habit_starts_nothing_early(shop: Shop) -> None:
    """A SPACE right after a reading that saved itself is no order to begin a part early."""
    _planned(shop, 8 * 60 - 10)
    async with shop.app().run_test(size=(80, 24)) as pilot:
        board = pilot.app.screen
        assert isinstance(board, BoardScreen)
        board.desk._saved_at = board.desk._monotonic()
        await _press_early(pilot)
        assert board.desk.message == "The reading is saved. SPACE again begins this early."
        assert _phase(shop) is PartPhase.WAITING
        board.desk._saved_at -= HABIT_S
        await _press_early(pilot)
        assert _phase(shop) is PartPhase.IN_HAND
