"""Checklist, record and list of runs, pressed by a pilot."""

from __future__ import annotations

from typing import TypeVar

import pytest

from benchtimer.bench.writer import drive
from benchtimer.run import commands as c
from benchtimer.run.run_state import RunPhase
from benchtimer.store.log import RunLine
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.recordpage import EndPage, RecordScreen
from benchtimer.tui.row_page import RowPage
from benchtimer.tui.runs_page import RunsScreen
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import over, press, said, shown

T = TypeVar("T", bound=RowPage)


async def test_ticks_are_kept_with_the_run(shop: Shop) -> None:
    """SPACE ticks, T ticks with words, U takes back, and a new program shows the ticks."""
    app = shop.set_up("bolster", started=False).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "k space t a t space 6 5 enter")
        page = shown(app, PrepareScreen)
        assert said(page, "lead").startswith(" 2 of ")
        assert "at 65" in page.rows.text
        await press(pilot, "u")
        assert said(page, "lead").startswith(" 1 of ")
        await press(pilot, "full_stop up up space")
        assert said(page, "lead").startswith(" 0 of ")
        await press(pilot, "r")
    shop.driver.close()
    shop.driver = drive(shop.folder, shop.clock)
    assert not shop.driver.state(shop.name).bench.prepared
    found = [line.text for line in shop.driver.record(shop.name).lines]
    assert sum(text.startswith("prepared: Gear: gloves") for text in found) == 1
    assert sum(text.startswith("not ready after all") for text in found) == 1


async def test_the_last_press_of_a_run_can_be_taken_back_on_its_record(shop: Shop) -> None:
    """U on the record of a finished run takes the last press back and returns to the board."""
    shop.set_up("bolster")
    shop.press(c.Scrap("bolster", "cracked"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "space")
        assert "U undoes: the end of the run" in said(shown(app, EndPage), "lead")
        await press(pilot, "t o k enter u u")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name).bench.phase is RunPhase.RUNNING


async def test_the_record_is_searched_and_trouble_is_a_key_away(shop: Shop) -> None:
    """A dot jumps to the next trouble and / searches words; nothing changes."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 10 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, "l full_stop full_stop")
        page = shown(app, RecordScreen)
        assert said(page).startswith("trouble 2 of")
        assert page.rows.scroll_offset.y > 0
        await press(pilot, "slash t a n k enter")
        assert said(page).startswith('"tank" 1 of')
        await press(pilot, "slash enter")
        assert said(page).startswith('"tank" 2 of')
        await press(pilot, "slash q q q enter")
        assert "no" in said(page)
        await press(pilot, "end home escape")
        assert isinstance(app.screen, BoardScreen)


async def test_the_place_in_a_record_survives_another_size_and_an_undo(shop: Shop) -> None:
    """The same line stays highlighted and in sight, wherever it is now."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 10 * MINUTE)
    shop.press(c.Note("first mark"))
    shop.press(c.Note("last mark"))
    app = shop.app()
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, "l slash m a r k enter" + 3 * " slash enter")
        page = shown(app, RecordScreen)
        assert said(page).startswith('"mark" 4 of 4')
        for size in ((200, 60), (60, 20)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
            (hit,) = [row for row in page.make_rows() if row.look == "hit"]
            assert "last mark" in " ".join(hit.lines)
            strips = app.screen._compositor.render_strips()
            assert any("last mark" in strip.text for strip in strips)
        await press(pilot, "u")
        (hit,) = [row for row in page.make_rows() if row.look == "hit"]
        assert "[note: last mark] taken back" in " ".join(hit.lines)


async def test_the_list_of_runs_filters(shop: Shop) -> None:
    """One key filters the list by part, verdict, state, words and date."""
    over(shop, "bolster")
    shop.press(c.Judge("bolster", "rework", 4))
    shop.press(c.Note("the tang was dark"))
    over(shop, "petty knife")
    shop.set_up("ferrule")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h slash")
        page = shown(app, RunsScreen)
        assert said(page, "lead") == " 3 runs"
        for keys, there in (
            ("2 p e t asterisk enter", "petty knife"), ("4 3", "bolster"), ("5 2", "ferrule"),
            ("6 t a n g enter", "bolster"),
        ):  # fmt: skip
            await press(pilot, f"slash {keys}")
            assert said(page, "lead").startswith(" 1 run with"), keys
            assert there in page.rows.text
            await press(pilot, "slash 1")
        await press(pilot, "slash 7 1 9 9 9 enter")
        assert "No runs match" in page.rows.text
        await press(pilot, "slash 1 end space")
        assert type(app.screen).__name__ == "RecordScreen"
        await press(pilot, "escape home tab")
        assert type(app.screen).__name__ == "BoardScreen"


async def test_a_long_list_is_loaded_as_you_scroll(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of ten thousand runs the newest load first, and more as you near the end."""
    lines = [RunLine(f"r{n}", "complete", "Old", ("a",), 0, 0) for n in range(10_000)]
    asked: list[int] = []

    def recent(limit: int = 20) -> list[RunLine]:
        asked.append(limit)
        return lines[:limit]

    monkeypatch.setattr(shop.driver, "recent", recent)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        asked.clear()
        await press(pilot, "slash")
        assert asked
        assert max(asked) == 100
        assert "more below" in said(shown(app, RunsScreen), "lead")
        await press(pilot, "end")
        assert max(asked) == 200
        assert "r199" in shown(app, RunsScreen).rows.text
