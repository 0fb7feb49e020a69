"""The field for a recipe and its parts takes text, not commands."""

from __future__ import annotations

from textual.widgets import Input, OptionList, Static

from benchtimer.tui.orderpage import OrderPage
from benchtimer.tui.planning import PlanScreen
from tests.tui.conftest import Shop


async def _open(pilot: object, app: object) -> OrderPage:
    await pilot.press("p")  # type: ignore[attr-defined]
    await pilot.pause()  # type: ignore[attr-defined]
    page = app.screen  # type: ignore[attr-defined]
    assert isinstance(page, OrderPage)
    return page


async def test_typed_letters_never_become_commands(shop: Shop) -> None:
    """Q, U and digits are letters in the field; TAB completes; ENTER plans."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _open(pilot, app)
        await pilot.press(*"qu1")
        assert page.query_one(Input).value == "qu1"
        page.query_one(Input).value = ""
        await pilot.press(*"hot-b", "tab")
        assert page.query_one(Input).value == "hot-black "
        await pilot.press(*"bolster, pin", "enter")
        await pilot.pause()
        assert isinstance(app.screen, PlanScreen)
        assert [part.name for part in app.screen.draft.parts] == ["bolster", "pin"]


async def test_an_empty_line_says_what_is_missing(shop: Shop) -> None:
    """ENTER on an incomplete line says what is missing."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _open(pilot, app)
        await pilot.press("enter")
        assert "Type a recipe" in str(page.query_one(".hint", Static).render())
        assert app.screen is page


async def test_a_touch_writes_the_recipe_into_the_field(shop: Shop) -> None:
    """Touching a recipe leaves the cursor where you type the parts."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _open(pilot, app)
        page.query_one(OptionList).focus()
        await pilot.press("down", "enter")
        await pilot.pause()
        assert page.query_one(Input).value.endswith(" ")
        assert page.focused is page.query_one(Input)
