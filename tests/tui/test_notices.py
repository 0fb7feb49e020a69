"""The board's first message about a run's baths."""

from __future__ import annotations

from textual.widgets import Static

from benchtimer.bath.bath_decide import MixBath
from benchtimer.run.run_state import Part
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import ChoicePage
from benchtimer.view.menu import offers
from tests.support import SMALL, small_recipe
from tests.tui.conftest import Shop

BREWED = SMALL.replace('title = "Tank"\n', 'title = "Tank"\nbath = "brew"\n', 1)


async def test_a_missing_bath_is_the_boards_first_message(shop: Shop) -> None:
    """A run without its bath in the book says so first, until the first press."""
    shop.set_up("bolster", recipe=small_recipe(BREWED), started=False)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BoardScreen)
        assert "not in the bath book: brew (tank)" in screen.desk.message
        await pilot.press("space")
        assert "bath book" not in screen.desk.message


async def test_a_bath_is_topped_up_from_the_board(shop: Shop) -> None:
    """The menu of a running bench tops a bath up, or reports the refusal."""
    shop.driver.write_bath("brew 1", MixBath("Brew", mix="brew"))
    shop.set_up("bolster", recipe=small_recipe(BREWED))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BoardScreen)
        assert screen.desk.message == ""
        for verb, words in (("1", "water"), ("2", "8.1 pH"), ("2", "8.1 kg")):
            screen.desk.picked = None
            await pilot.press("m")
            await pilot.pause()
            assert isinstance(app.screen, ChoicePage)
            at = [o.text for o in offers(screen.desk.state.bench, _part(screen))]
            book = next(
                n for n, found in enumerate(at, start=1) if found.startswith("The bath book")
            )
            await pilot.press(str(book), "1", verb)
            await pilot.pause()
            await pilot.press(*[_key(letter) for letter in words], "enter")
            await pilot.pause()
        assert "Enter a temperature" in str(app.screen.query_one(".wrong", Static).content)
    bath = shop.driver.writer.baths.history("brew 1").bath
    assert bath is not None
    assert [what for _, what in bath.top_ups] == ["water"]
    assert [str(r.quantity) for r in bath.readings] == ["8.1 pH"]


def _part(screen: BoardScreen) -> Part:
    return next(iter(screen.desk.state.bench.parts.values()))


def _key(letter: str) -> str:
    return {" ": "space", ".": "full_stop"}.get(letter, letter)
