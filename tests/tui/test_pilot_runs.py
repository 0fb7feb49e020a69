"""Several runs, none, practice and looking on, pressed by a pilot."""

from __future__ import annotations

import pytest

from benchtimer.bench.driver import Driver
from benchtimer.bench.watcher import Watcher
from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board import BoardScreen
from benchtimer.tui.dialogs import TextPage
from benchtimer.tui.home import HomeScreen
from tests.tui.conftest import Shop
from tests.tui.pilots import over, press, press_at, shown, text


async def test_two_runs_on_one_bench(shop: Shop) -> None:
    """With two runs open the header says so, and what is due there; TAB goes to the other."""
    shop.lay_out("blade")
    first = shop.name
    shop.lay_out("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "+1 MORE RUN (TAB) DUE: READ Tank" in text(app, "header")
        await press_at(pilot, shop, "tab")
        await pilot.pause()
        shown = app.screen
        assert isinstance(shown, BoardScreen)
        assert shown.desk.name == first


async def test_looking_on_changes_nothing_and_follows(shop: Shop) -> None:
    """The read-only board says what it is, has no changing keys, and follows every press."""
    shop.lay_out("bolster")
    watcher = Watcher(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    async with app.run_test(size=(60, 20)) as pilot:
        before = shop.driver.state(shop.name)
        await press_at(pilot, shop, "space u m t a 1 b y")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name) == before
        assert "LOOKING ON" in text(app, "header")
        shop.to_tank("bolster")
        app.screen.tick()
        assert "in Tank" in text(app, "lane-1")
    watcher.close()


async def test_an_empty_bench_lays_out_a_run(shop: Shop) -> None:
    """With no run home offers the recipes, takes part names, shows the plan, opens the board."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
        names = list(app.shelf.paths())
        await press_at(pilot, shop, f"space {names.index('hot-black') + 1}")
        await press_at(pilot, shop, "a comma b enter")
        assert type(app.screen).__name__ == "PlanScreen"
        await press_at(pilot, shop, "space")
        assert type(app.screen).__name__ == "BoardScreen"
    (name,) = shop.driver.names
    assert list(shop.driver.state(name).bench.parts) == ["a", "b"]


async def test_practice_is_marked_on_every_board(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A practice bench says PRACTICE in the first line of every screen."""
    from benchtimer.clock import ManualClock

    driver = Driver(tmp_path_factory.mktemp("bench"), ManualClock(10**12), speed=30)
    app = BenchApp(driver, guard_s=0)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "PRACTICE 30x" in text(app, "header")
    driver.close()


async def test_looking_on_at_an_empty_bench_shows_the_first_run(shop: Shop) -> None:
    """A watcher that began before any run follows it, alarms and all, once it is laid out."""
    watcher = Watcher(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    async with app.run_test(size=(60, 20)) as pilot:
        assert isinstance(app.screen, HomeScreen)
        shop.lay_out("bolster")
        watcher.refresh()
        app._show_first_run()
        await pilot.pause()
        assert type(app.screen).__name__ == "BoardScreen"
    watcher.close()


async def test_tab_leads_on_after_a_run_has_ended(shop: Shop) -> None:
    """When the run shown is over, TAB shows the one that is still open."""
    shop.lay_out("blade")
    first = shop.name
    shop.lay_out("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        shop.press(c.Abort("enough"))
        await press_at(pilot, shop, "down escape")
        await press_at(pilot, shop, "tab")
        await pilot.pause()
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.name == first


async def test_the_rates_are_one_page(shop: Shop) -> None:
    """M offers the rates of the shop; they are read in a thread and shown as one page."""
    over(shop, "bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.show_runs()
        await pilot.pause()
        await press(pilot, "m 1")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "HANDS-ON TIME" in shown(app, TextPage)._text
