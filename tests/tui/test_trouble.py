"""The board in trouble: a disk that can't be written, a clock outside the calendar."""

from __future__ import annotations

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import look_on
from benchtimer.run import commands as c
from benchtimer.store.log import Stamp, StoreError
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.lines import CachedLine
from benchtimer.view.words import clock_time, wall_clock
from tests.support import small_recipe, table
from tests.tui.conftest import Shop

FOREVER_MS = 10**17


async def test_a_full_disk_found_by_a_clock_check_is_reported(shop: Shop) -> None:
    """With a full disk the board goes on, says what is wrong, and stops once it is over."""
    shop.set_up("bolster")
    app = shop.app()
    db = shop.driver._log._db
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BoardScreen)
        db.execute("PRAGMA query_only = ON")
        shop.clock.set_wall(shop.clock.wall_ms + 3_600_000)
        screen.tick()
        assert "readonly" in screen.desk.said_at(shop.driver.moment())
        assert "NOT SAVED" in str(screen.query_one("#message", CachedLine).render())
        db.execute("PRAGMA query_only = OFF")
        screen.tick()
        assert screen.desk.said_at(shop.driver.moment()) == ""
    lines = [line.text for line in shop.driver.record(shop.name).lines[-2:]]
    assert "the wall clock was set" in lines[0]
    assert "the entry before this was saved 0 s late" in lines[1]


async def test_a_watcher_reports_an_unreadable_log(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A watcher whose log can't be read gets a message and keeps the board."""
    shop.set_up("bolster")
    watcher = look_on(shop.folder, shop.clock)
    app = BenchApp(watcher, shop.name)

    def unreadable(_seq: int) -> None:
        raise StoreError(shop.folder, "disk I/O error", "Look at the disk")

    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BoardScreen)
        monkeypatch.setattr(watcher._log, "entries_after", unreadable)
        screen.tick()
        assert "disk I/O error" in screen.desk.message
    watcher.close()


async def test_unreadable_older_tries_are_reported(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """D over a damaged log of older runs shows a message and keeps the board."""
    new = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])
    app = BenchApp(shop.driver, shop.driver.set_up(new))

    def damaged(*_: object) -> None:
        raise StoreError(shop.folder, "entry 7: its checksum is wrong", "It was not changed")

    monkeypatch.setattr(shop.driver._log, "find", damaged)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("d")
        await pilot.pause()
        assert isinstance(app.screen, BoardScreen)
        assert "entry 7" in app.screen.desk.message


@pytest.mark.parametrize("wall_ms", [FOREVER_MS, -FOREVER_MS, 253_402_300_799_000])
def test_a_time_outside_the_calendar_is_left_blank(wall_ms: int) -> None:
    """A wall clock far off shows no time of day."""
    stamp = Stamp(noted_ms=0, boot=None, count_ms=0, wall_ms=wall_ms, offset_s=3600)
    assert wall_clock(stamp) == "--:--"
    assert clock_time(5000, stamp) == "--:--"


def test_the_last_day_of_the_calendar_has_a_time() -> None:
    """The last day of the calendar shows its time, though it has no tomorrow."""
    stamp = Stamp(noted_ms=0, boot=None, count_ms=0, wall_ms=253_402_290_000_000, offset_s=0)
    assert clock_time(60_000, stamp) == "21:01"


@pytest.mark.parametrize(
    "keys", ["q q", "ctrl+q ctrl+q", "h q q", "h ctrl+q ctrl+q", "h question_mark ctrl+q ctrl+q"]
)
async def test_every_way_out_asks_while_a_press_is_not_saved(shop: Shop, keys: str) -> None:
    """With an unsaved press, only the second press of any exit leaves."""
    app = shop.set_up("bolster").app()
    shop.driver._log._db.execute("PRAGMA query_only = ON")
    shop.press(c.Note("words"))
    *before, last = keys.split()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await pilot.press(*before)
        await pilot.pause()
        assert app._exit is False
        board = app.screen
        found = [notice.message for notice in app._notifications]
        found += [board.desk.message] if isinstance(board, BoardScreen) else []
        assert any(text.startswith("Not saved yet.") for text in found)
        await pilot.press(last)
        assert app._exit is True
