"""The screen itself, with a pilot."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from textual.widgets import Static

from benchtimer.run import commands as c
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.settings import Settings
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import ChoicePage, LinePage, TextPage
from benchtimer.tui.drawing import Drawing
from benchtimer.tui.home_page import HomeScreen
from benchtimer.tui.recordpage import EndPage, RecordScreen
from benchtimer.view.keys import KEYS
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import lane, picture, press_at, text

SIZES = [(60, 20), (80, 24), (120, 40), (200, 60)]


async def test_a_run_by_space_digits_and_letters(shop: Shop) -> None:
    """Single keys take one part from the start to the record."""
    app = shop.set_up("bolster", started=False).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press_at(pilot, shop, "space space 6 5 space space space space")
        part = shop.driver.state(shop.name).bench.parts["bolster"]
        assert part.phase is PartPhase.DWELLING
        shop.clock.advance(5 * MINUTE)
        await press_at(pilot, shop, "space y 2 5 space space")
        shop.clock.advance(120 * MINUTE)
        await press_at(pilot, shop, "space 1 space")
        assert isinstance(app.screen, LinePage)
        await press_at(pilot, shop, "f i n e enter space")
        assert isinstance(app.screen, EndPage)
    assert shop.driver.state(shop.name).bench.phase is RunPhase.COMPLETE


@pytest.mark.parametrize("size", SIZES)
async def test_the_board_fits_at_every_size(shop: Shop, size: tuple[int, int]) -> None:
    """At each size the next action, the lanes and the bottom line are on the screen."""
    names = ["bolster", "[red]ferrule", "butt cap 🔪", "刃" * 60]
    app = shop.set_up(*names).app()
    shop.to_tank("bolster")
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert "#1 bolster" in lane(app, 1) or ("#1 TANK" in lane(app, 1) and size[0] < 80)
        assert "not started: #2" in picture(app)
        assert app.screen.query_one("#next").region.height >= 7
        assert app.screen.query_one("#keys").region.bottom == size[1]


async def test_the_board_follows_the_clock(shop: Shop) -> None:
    """The countdown follows the clock alone."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        before = lane(app, 1)
        board.tick()
        assert lane(app, 1) == before
        shop.clock.advance(MINUTE)
        board.tick()
        assert " 3:59 " in lane(app, 1)


async def test_only_changes_are_redrawn(shop: Shop) -> None:
    """A tick without a change updates no widget."""
    shop.set_up("bolster", started=False)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        updated: list[str] = []
        for line in board.query(Static):
            line.refresh = lambda *_, line=line, **__: updated.append(str(line.id))  # type: ignore[method-assign,assignment]
        board.tick()
        assert updated == []
        shop.clock.advance(1000)
        board.tick()
        assert updated == ["header"]


async def test_the_bell_rings_when_something_falls_due(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bell is silent while all is in time and rings when a part is due."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    rung: list[int] = []
    monkeypatch.setattr(app, "bell", lambda: rung.append(1))
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        board.tick()
        assert not rung
        shop.clock.advance(6 * MINUTE)
        board.tick()
        assert len(rung) == 1


async def test_undo_and_back_date_by_key(shop: Shop) -> None:
    """U takes the last press back, R redoes it, and B and S put it earlier."""
    shop.set_up("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        since = shop.driver.state(shop.name).bench.parts["bolster"].since_ms
        await press_at(pilot, shop, "s")
        assert shop.driver.state(shop.name).bench.parts["bolster"].since_ms == since - 10_000
        await press_at(pilot, shop, "u")
        assert shop.driver.state(shop.name).bench.parts["bolster"].since_ms == since
        await press_at(pilot, shop, "u")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND
        await press_at(pilot, shop, "r")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.DWELLING


async def test_the_menu_holds_sends_back_and_aborts(shop: Shop) -> None:
    """Digits and a few words behind M hold, send back and abort."""
    shop.set_up("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press_at(pilot, shop, "1 m")
        assert type(app.screen).__name__ == "ChoicePage"
        await press_at(pilot, shop, "1 5 o d d enter")
        assert shop.driver.state(shop.name).bench.parts["bolster"].held == "odd"
        await press_at(pilot, shop, "1 m 1 1 m 1 1")
        assert shop.driver.state(shop.name).bench.parts["bolster"].held == "called away"
        await press_at(pilot, shop, "1 m 1")
        assert shop.driver.state(shop.name).bench.parts["bolster"].held is None
        await press_at(pilot, shop, "1 m 4 1 2")
        assert shop.driver.state(shop.name).bench.parts["bolster"].step == 0
        await press_at(pilot, shop, "m escape")
        assert type(app.screen).__name__ == "BoardScreen"
        await press_at(pilot, shop, "m 3 escape escape")  # a canceled change
        assert type(app.screen).__name__ == "BoardScreen"
        assert not shop.driver.state(shop.name).bench.parts["bolster"].is_out
        await press_at(pilot, shop, "m 9 3 o k enter")
        assert shop.driver.state(shop.name).bench.phase is RunPhase.ABORTED


async def test_a_note_and_another_part(shop: Shop) -> None:
    """T writes a note, and A adds a part."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press_at(pilot, shop, "t o k enter")
        assert "note: ok" in shop.driver.record(shop.name).lines[-1].text
        await press_at(pilot, shop, "a p i n enter")
        assert "pin" in shop.driver.state(shop.name).bench.parts
        assert "#2 pin" in picture(app)


async def test_pages_to_read_open_and_close(shop: Shop) -> None:
    """Record, hazards and keys open by one key, scroll, and close with ESC."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("l", "c", "question_mark"):
            await press_at(pilot, shop, key)
            assert isinstance(app.screen, TextPage | RecordScreen)
            await press_at(pilot, shop, "down pagedown end home escape")
            assert isinstance(app.screen, BoardScreen)


async def test_a_touch_confirms_picks_and_takes_back(shop: Shop) -> None:
    """The next action, a lane and the undo line work by touch."""
    shop.set_up("bolster", "ferrule")
    shop.press(c.Read("tank", "65"))
    shop.press(c.Hold("ferrule", "telephone"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        rows = app.screen.query_one("#picture", Drawing).rows
        at = next(y for y, row in enumerate(rows) if row.part == 2)
        await pilot.click("#picture", offset=(4, at))
        await pilot.click("#next")
        assert shop.driver.state(shop.name).bench.parts["ferrule"].held is None
        await pilot.click("#undo")
        assert shop.driver.state(shop.name).bench.parts["ferrule"].held == "telephone"


def test_keys_are_listed_once() -> None:
    """No key has two meanings."""
    keys = [key.key for key in KEYS]
    assert len(set(keys)) == len(keys)


async def test_long_lists_page_through(shop: Shop) -> None:
    """More than nine choices take several pages, with none left out."""
    app = shop.set_up("bolster").app()
    chosen: list[int | None] = []
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.pause()
        app.push_screen(ChoicePage("Which?", [f"choice {n}" for n in range(20)]), chosen.append)
        await press_at(pilot, shop, "9 9 2")
        app.push_screen(ChoicePage("Which?", [f"choice {n}" for n in range(20)]), chosen.append)
        await press_at(pilot, shop, "9 9 9 1")
    assert chosen == [17, 0]


async def test_the_alarm_command_runs_at_an_alarm(shop: Shop, tmp_path: Path) -> None:
    """The shop's command gets each alarm; if it fails, the board says so."""
    found = tmp_path / "told"
    write = f"import sys; open({str(found)!r}, 'a').write(sys.argv[1] + '\\n'); sys.exit(7)"
    shop.set_up("bolster").to_tank("bolster")
    shop.clock.advance(12 * MINUTE)
    settings = Settings.model_validate({"alarm": {"command": [sys.executable, "-c", write]}})
    app = BenchApp(shop.driver, shop.name, guard_s=0, settings=settings)
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        for _ in range(3):
            board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "exit code 7" in text(app, "message")
    (line,) = found.read_text().splitlines()
    assert line.startswith("LATE 1 part, NOW 1 reading: 1. PULL #1 bolster from Tank, 4:0")


async def test_capital_letters_work_too(shop: Shop) -> None:
    """With caps lock on, every key does the same."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press_at(pilot, shop, "G")
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.glance
        await press_at(pilot, shop, "L")
        assert type(app.screen).__name__ == "RecordScreen"
        await press_at(pilot, shop, "H")
        assert isinstance(app.screen, HomeScreen)
