"""Input acts on the front page, and an answer counts once."""

from __future__ import annotations

import pytest
from textual import events
from textual.widgets import Input

from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import ChoicePage, LinePage
from tests.tui.conftest import Shop


def _post(app: BenchApp, keys: list[str]) -> None:
    """Press keys faster than the screen, without waiting."""
    for key in keys:
        app.post_message(events.Key(key, key if len(key) == 1 else None))


async def test_a_page_answers_once(shop: Shop) -> None:
    """The second answer of a page that was left is dropped and removes no other page."""
    shop.set_up("bolster", started=False)
    app = shop.app()
    found: list[int | None] = []
    async with app.run_test() as pilot:
        page = ChoicePage("Which?", ["a", "b"])
        await app.push_screen(page, found.append)
        page.dismiss(1)
        page.dismiss(0)
        page.action_leave()
        await pilot.pause()
        assert found == [1]
        assert isinstance(app.screen, BoardScreen)


@pytest.mark.parametrize("kind", ["enter", "message"])
async def test_pressing_enter_three_times_writes_a_note_once(shop: Shop, kind: str) -> None:
    """Three quick ENTERs in a note write it once."""
    shop.set_up("bolster", started=False)
    app = shop.app()
    async with app.run_test() as pilot:
        await pilot.press("t", "a")
        page = app.screen
        assert isinstance(page, LinePage)
        field = page.query_one(Input)
        for _ in range(3):
            if kind == "enter":
                _post(app, ["enter"])
            else:
                page.post_message(Input.Submitted(field, "a"))
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name).presses == 1


async def test_an_answer_to_a_closed_page_is_dropped(shop: Shop) -> None:
    """An answer to a page that is gone is dropped."""
    shop.set_up("bolster", started=False)
    app = shop.app()
    found: list[int | None] = []
    async with app.run_test() as pilot:
        asks, page = ChoicePage("Asks", ["a"]), ChoicePage("Which?", ["a", "b"])
        await app.push_screen(asks)
        await app.push_screen(page, found.append)
        page.dismiss(1)
        asks.dismiss(None)
        await pilot.pause()
        assert found == []
        assert isinstance(app.screen, BoardScreen)


async def test_the_same_key_does_not_open_two_pages(shop: Shop) -> None:
    """M four times in a moment opens one menu."""
    shop.set_up("bolster", started=False)
    app = shop.app()
    async with app.run_test() as pilot:
        _post(app, ["m", "m", "p", "p", "t", "t"])
        await pilot.pause()
        await pilot.pause()
        assert len(app.screen_stack) == 3


async def test_repeats_of_a_held_key_are_dropped(shop: Shop) -> None:
    """The first press of a held key counts, and the rest are dropped."""
    shop.set_up("bolster", started=False)
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(100, 60)) as pilot:
        await pilot.pause(0.1)
        _post(app, ["space"] * 20)
        await pilot.pause(0.3)
        assert shop.driver.state(shop.name).presses == 1
