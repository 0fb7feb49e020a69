"""Keys typed ahead of a page set nothing up and tick nothing; home names a kept plan."""

from __future__ import annotations

from asyncio import current_task
from dataclasses import replace

import pytest
from textual.events import Key
from textual.message import Message
from textual.pilot import Pilot
from textual.widgets import Input, Static

from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import ChoicePage, LinePage
from benchtimer.tui.front import AHEAD_S, FrontPage
from benchtimer.tui.home_page import HomeScreen
from benchtimer.tui.planning import PlanScreen
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.rows import Rows
from benchtimer.view.draft import Draft
from tests.support import small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import said, shown


async def seen(pilot: Pilot[None]) -> None:
    """Wait until the front page has been drawn and shown long enough."""
    await pilot.pause(2 * AHEAD_S)
    while not isinstance(page := pilot.app.screen, FrontPage) or page.is_ahead(
        "enter", Message().time
    ):
        await pilot.pause(AHEAD_S)
    await pilot.pause()


def home_with_a_plan(shop: Shop) -> BenchApp:
    """Home, with a kept plan of a bolster."""
    app = BenchApp(shop.driver)
    app.kept_draft = Draft().add(small_recipe(), "bolster")
    return app


async def test_a_kept_plan_is_named_on_home_and_has_its_key(shop: Shop) -> None:
    """Home names the parts of the plan, and 0 opens it."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(60, 20)) as pilot:
        await seen(pilot)
        shown(app, HomeScreen)
        assert "SAVED PLAN, 1 part. 0 continues it" in app.screen.query_one(Rows).text
        await pilot.press("0")
        await seen(pilot)
        parts = shown(app, PlanScreen).draft.parts
        assert [part.name for part in parts] == ["bolster"]


@pytest.mark.parametrize("burst", [("0", "space"), ("0", "enter"), ("0", "1", "space", "enter")])
async def test_a_burst_of_keys_sets_nothing_up(shop: Shop, burst: tuple[str, ...]) -> None:
    """A confirming key is dropped until the plan could be seen; then it counts."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        for key in burst:
            app.simulate_key(key)
        await seen(pilot)
        assert shop.driver.names == []
        await pilot.press("space")
        await seen(pilot)
        assert shop.driver.names == ["2026-02-02-1"]


async def test_a_digit_typed_before_the_menu_is_reported(shop: Shop) -> None:
    """Digits that came before the menu do nothing, and the menu says so."""
    shop.set_up("bolster").to_tank("bolster")
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        presses = shop.driver.state(shop.name).presses
        for key in ("m", "1", "2"):
            app.simulate_key(key)
        await seen(pilot)
        menu, board = app.screen, app.screen_stack[1]
        assert isinstance(menu, ChoicePage)
        assert isinstance(board, BoardScreen)
        assert shop.driver.state(shop.name).presses == presses
        assert "Too soon: press 2 again" in str(menu.query_one(".wrong", Static).render())
        await pilot.press("1")
        await seen(pilot)
        assert app.screen is not menu
        assert board.desk.picked is None


async def test_a_note_typed_in_a_burst_is_a_note(shop: Shop) -> None:
    """After T in one burst, the words go into the note and none acts on the board."""
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        presses = shop.driver.state(shop.name).presses
        for key in ("t", "u", "2", "y"):
            app.simulate_key(key)
        await seen(pilot)
        assert isinstance(app.screen, LinePage)
        assert app.screen.query_one(Input).value == "u2y"
        assert shop.driver.state(shop.name).presses == presses


async def test_home_says_that_a_key_came_too_early(shop: Shop) -> None:
    """Home says when it dropped a key, and later clears the message."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        for key in ("0", "space"):
            app.simulate_key(key)
        await seen(pilot)
        assert "Too soon: press SPACE again" in said(shown(app, PlanScreen), "message")


async def test_a_burst_of_keys_ticks_nothing(shop: Shop) -> None:
    """On the checklist the first SPACE counts only once the list could be seen."""
    shop.set_up("bolster", started=False)
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        presses = shop.driver.state(shop.name).presses
        for key in ("k", "space"):
            app.simulate_key(key)
        await seen(pilot)
        assert isinstance(app.screen, PrepareScreen)
        assert shop.driver.state(shop.name).presses == presses
        await pilot.press("space")
        await seen(pilot)
        assert shop.driver.state(shop.name).presses == presses + 1


async def test_keys_behind_a_page_go_to_the_app(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The application takes these keys, since a page could wait for its own end and freeze."""
    shop.set_up("bolster").to_tank("bolster")
    app = BenchApp(shop.driver, shop.name)
    takers: list[bool] = []
    take = app._take_behind

    async def watched(event: Key) -> None:
        takers.append(current_task() in {page._task for page in app.screen_stack})
        await take(event)

    monkeypatch.setattr(app, "_take_behind", watched)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        unused = Key("m", "m")
        unused._set_forwarded()  # no page wanted it, so it came back to the app
        app._opening = unused
        await app.on_event(unused)
        await seen(pilot)
    assert takers == [False]


async def test_a_closed_page_does_not_report_early_keys(shop: Shop) -> None:
    """A key noted on a page that closes before the next drawing shows nothing."""
    shop.set_up("bolster").to_tank("bolster")
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        page = ChoicePage("What next?", ["one", "two"])
        page.note_early("1", Message().time)
        await pilot.pause()
        await app.push_screen(page)
        await app.pop_screen()
        page.note_early("1", Message().time)
        page._say_early_if_there("1")
        await pilot.pause()
        assert isinstance(app.screen, BoardScreen)


async def test_a_key_that_comes_back_does_not_act_on_a_page_without_rows(shop: Shop) -> None:
    """A key unused by one page returns while the next page is not yet composed."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        returned = Key("down", None)
        returned._set_forwarded()
        opening = app.push_screen(PlanScreen(Draft()))
        assert not app.screen.is_mounted
        await app.on_event(returned)
        await opening
        await pilot.pause()
        assert any(isinstance(page, PlanScreen) for page in app.screen_stack)


async def test_a_row_can_change_before_the_lines_are_laid_out(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a new width has no lines yet, a changed row waits for the next drawing."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(80, 24)) as pilot:
        await seen(pilot)
        rows = shown(app, HomeScreen).rows
        before = list(rows._drawn[0])
        after = [replace(before[0], lines=tuple(f"{line}!" for line in before[0].lines))]
        with monkeypatch.context() as patch:
            patch.setattr(Rows, "_index_to_line", {})
            rows.show([*after, *before[1:]])
        assert after[0].lines[0] in rows.text
        await pilot.pause()
