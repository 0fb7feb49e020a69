"""Pages in front of others: alarms stay in sight, and every choice has room."""

from __future__ import annotations

from typing import Any
from unittest.mock import patch

import pytest
from textual.app import App
from textual.geometry import Region
from textual.screen import ModalScreen
from textual.widgets import Static

from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.tui.dialogs import Calling, ChoicePage, LinePage, TextPage
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.marked_list import MarkedList
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import press

ROWS = Region(0, 0, 30, 6)
NINE = [f"choice {n}" for n in range(1, 10)]
PAGES = (
    lambda: TextPage("The title", "words"),
    lambda: ChoicePage("The title", NINE),
    lambda: LinePage("The title"),
)


def _calling(page: ModalScreen[Any]) -> str:
    line = page.query_one(Calling)
    return str(line.render()) if line.display and line.region.height else ""


@pytest.mark.parametrize("page", [make() for make in PAGES], ids=["text", "choice", "line"])
async def test_an_alarm_stays_in_sight(shop: Shop, page: ModalScreen[Any]) -> None:
    """A page says what comes next and when it is due or late, or not saved."""
    shop.set_up("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(60, 20)) as pilot:
        app.push_screen(page)
        await pilot.pause()
        assert _calling(page) == "NEXT: PULL #1  in 5:00   bolster   Tank → Rack"
        for after_ms, words in ((5 * MINUTE, "NOW"), (200_000, "LATE 0:2")):
            shop.clock.advance(after_ms)
            page.query_one(Calling).look()
            await pilot.pause()
            assert _calling(page).startswith(words)
            assert _calling(page).endswith(": PULL #1 bolster from Tank")
        shop.driver._log._db.execute("PRAGMA query_only = ON")
        shop.press(c.Note("words"))
        page.query_one(Calling).look()
        await pilot.pause()
        first, second = _calling(page).split("\n")
        assert first.startswith("NOT SAVED: 1 press since ")
        assert second.startswith("LATE 0:2")


async def test_the_alarm_line_is_redrawn_only_when_it_changes(shop: Shop) -> None:
    """A tick with the same words draws nothing."""
    shop.set_up("bolster").to_tank("bolster")
    app, page = shop.app(), TextPage("The title", "words")
    shop.clock.advance(5 * MINUTE)
    async with app.run_test(size=(60, 20)) as pilot:
        app.push_screen(page)
        await pilot.pause()
        with patch.object(Calling, "update") as drawn:
            page.query_one(Calling).look()
        assert not drawn.called


async def test_a_page_of_another_application_shows_no_alarm() -> None:
    """In an application without alarms, the alarm line takes no room."""
    app: App[None] = App()
    async with app.run_test(size=(60, 20)) as pilot:
        page = TextPage("The title", "words")
        app.push_screen(page)
        await pilot.pause()
        assert _calling(page) == ""


@pytest.mark.parametrize(("size", "height"), [((60, 20), 1), ((80, 24), 2), ((120, 40), 2)])
async def test_nine_choices_always_fit(shop: Shop, size: tuple[int, int], height: int) -> None:
    """Every choice and the hint fit the lowest screen, also with an alarm."""
    shop.set_up("bolster").to_tank("bolster")
    app, page = shop.app(), ChoicePage("The title", NINE)
    async with app.run_test(size=size) as pilot:
        app.push_screen(page)
        await pilot.pause()
        await pilot.pause()
        assert page.query_one(MarkedList).region.height == 9 * height
        _assert_in_sight(page, size[1])
        shop.clock.advance(12 * MINUTE)
        page.query_one(Calling).look()
        await pilot.pause()
        await pilot.pause()
        assert _calling(page).startswith("LATE 1 part, NOW 1 reading: ")
        _assert_in_sight(page, size[1])


def _assert_in_sight(page: ChoicePage, height: int) -> None:
    """Every line has its own rows above the last row of the frame."""
    choices = page.query_one(MarkedList)
    assert choices.region.height == choices.virtual_size.height
    foot = page.query_one(KeyFooter)
    lines = [choices, foot, *(line for line in page.query(Static) if line.display)]
    rows = [y for line in lines for y in range(line.region.y, line.region.bottom)]
    assert len(lines) >= 3
    assert len(rows) == len(set(rows))
    assert max(rows) < height - 1
    assert min(rows) >= 1


async def test_the_cursor_moves_and_enter_picks_its_row(shop: Shop) -> None:
    """Arrows move the mark, which is a character; ENTER chooses once."""
    app, page = shop.set_up("bolster").app(), ChoicePage("Which?", ["one", "two", "three"])
    chosen: list[int | None] = []
    async with app.run_test(size=(60, 20)) as pilot:
        app.push_screen(page, chosen.append)
        await press(pilot, "down down")
        lines = [strip.text for strip in page.query_one(MarkedList).render_lines(ROWS)]
        assert [line.strip() for line in lines if line.startswith(">")] == [">3  three"]
        await press(pilot, "enter enter")
        assert chosen == [2]


async def test_enter_typed_ahead_of_a_list_chooses_nothing(shop: Shop) -> None:
    """ENTER counts once the list could be seen; a digit counts at once."""
    shop.set_up("bolster").to_tank("bolster")
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause(0.7)
        await press(pilot, "1")
        for key in ("m", "enter"):
            app.simulate_key(key)
        await pilot.pause(0.7)
        assert "bolster: more" in str(app.screen.query_one(".title", Static).render())
        await press(pilot, "1")
        assert "Hold bolster" in str(app.screen.query_one(".title", Static).render())
