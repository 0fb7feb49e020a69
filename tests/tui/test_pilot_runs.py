"""Several runs, none, practice and watching, with a pilot."""

from __future__ import annotations

import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.run import commands as c
from benchtimer.run.run_state import PartPhase
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.home_page import HomeScreen
from tests.tui.conftest import Shop
from tests.tui.pilots import lane, picture, press_at, text


async def test_two_runs_on_one_bench(shop: Shop) -> None:
    """One board shows the lanes of both runs in one numbering, and a digit picks any part."""
    shop.set_up("blade")
    first = shop.name
    shop.set_up("bolster")
    app = BenchApp(shop.driver, guard_s=0)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "2 RUNS" in text(app, "header")
        shown = app.screen
        assert isinstance(shown, BoardScreen)
        assert picture(app).count(" Test ") == 2  # a title above the parts of each run
        assert "#1 blade" in picture(app)
        assert "#2 bolster" in picture(app)
        assert shown.desk.name == first  # the reading that both want is asked for once
        await press_at(pilot, shop, "6 5 2 space")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND
        assert f"bolster ({shop.name})" not in text(app, "undo")
        assert text(app, "undo").endswith(f"(run {shop.name})")
        await press_at(pilot, shop, "u")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.WAITING
        assert f"(run {shop.name})" in text(app, "message")


async def test_a_watcher_changes_nothing_and_follows(shop: Shop) -> None:
    """The watcher's board says so, has no changing keys, and follows every press."""
    shop.set_up("bolster")
    watcher = look_on(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    async with app.run_test(size=(60, 20)) as pilot:
        before = shop.driver.state(shop.name)
        await press_at(pilot, shop, "space u m t a 1 b y")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name) == before
        assert "WATCHING" in text(app, "header")
        shop.to_tank("bolster")
        app.screen.tick()
        assert "TANK" in lane(app, 1)
    watcher.close()


async def test_an_empty_bench_sets_up_a_run(shop: Shop) -> None:
    """On an empty bench one line on home takes recipe and parts, plans them, opens the board."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
        await press_at(pilot, shop, "space")
        await press_at(pilot, shop, "h o t minus b l a c k space a comma b enter")
        assert type(app.screen).__name__ == "PlanScreen"
        await press_at(pilot, shop, "space")
        assert type(app.screen).__name__ == "BoardScreen"
    (name,) = shop.driver.names
    assert list(shop.driver.state(name).bench.parts) == ["a", "b"]


async def test_practice_is_marked_on_every_board(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A practice bench says PRACTICE in the first line of every screen."""
    from benchtimer.clock import ManualClock

    driver = drive(tmp_path_factory.mktemp("bench"), ManualClock(10**12), speed=30)
    app = BenchApp(driver, guard_s=0)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "PRACTICE 30x" in text(app, "header")
    driver.close()


async def test_watching_an_empty_bench_shows_the_first_run(shop: Shop) -> None:
    """A watcher on an empty bench follows the first run, alarms included, once it is set up."""
    watcher = look_on(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    async with app.run_test(size=(60, 20)) as pilot:
        assert isinstance(app.screen, HomeScreen)
        shop.set_up("bolster")
        watcher.refresh()
        app._show_first_run()
        await pilot.pause()
        assert type(app.screen).__name__ == "BoardScreen"
    watcher.close()


async def test_a_board_goes_on_after_one_of_its_runs_has_ended(shop: Shop) -> None:
    """When one run ends the board shows the other, and undo brings the first one back."""
    shop.set_up("blade")
    first = shop.name
    shop.set_up("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        shop.press(c.Abort("enough"))
        await press_at(pilot, shop, "down escape")
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.name == first
        assert "bolster" not in picture(app)
        await press_at(pilot, shop, "u")
        assert "bolster" in picture(app)


async def test_a_part_above_nine_is_picked_by_two_digits(shop: Shop) -> None:
    """1 and then 2 within a moment pick part 12; 1 alone picks part 1."""
    shop.set_up(*(f"pin {n}" for n in range(1, 9)))
    shop.press(c.Read("tank", "65 C"))
    shop.set_up(*(f"cap {n}" for n in range(1, 6)))
    app = shop.app()
    async with app.run_test(size=(120, 40)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await press_at(pilot, shop, "1")
        assert board.desk.picked is not None
        assert board.desk.picked[1] == "pin 1"
        await press_at(pilot, shop, "2")
        assert board.desk.picked == (shop.name, "cap 4")
