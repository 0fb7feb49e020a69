"""The list with a mark: keys before its first drawing."""

from __future__ import annotations

from textual.app import App, ComposeResult

from benchtimer.tui.dialogs import ChoicePage
from benchtimer.tui.marked_list import MarkedList


class _Listed(App[None]):
    def compose(self) -> ComposeResult:
        yield MarkedList("hold", "take out", "send back", id="list")


async def test_a_page_key_before_the_first_drawing_is_harmless() -> None:
    """With no room no row has a place: the mark stays and the program runs."""
    app = _Listed()
    async with app.run_test(size=(80, 24)) as pilot:
        rows = app.query_one("#list", MarkedList)
        rows.display = False
        rows.set_options(["hold", "take out", "send back"])
        rows.highlighted = 1
        rows._index_to_line.clear()
        rows.action_page_down()
        rows.action_page_up()
        await pilot.pause()
        assert rows.highlighted == 1


async def test_a_list_of_choices_without_its_rows_makes_no_room() -> None:
    """Asked to make room while it closes, a page without rows does nothing."""
    app = _Listed()
    async with app.run_test(size=(80, 24)) as pilot:
        page = ChoicePage("Which?", ["one", "two"])
        await app.push_screen(page)
        await pilot.pause()  # the page has made room once
        await page.query("*").remove()
        page.dismiss(None)
        await pilot.pause()
        page._gap = "other"
        page._fit()
        assert not page.is_there
