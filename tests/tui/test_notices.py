"""What the board says first of a run's baths."""

from __future__ import annotations

from benchtimer.tui.board import BoardScreen
from tests.support import SMALL, small_recipe
from tests.tui.conftest import Shop


async def test_a_missing_bath_is_the_boards_first_message(shop: Shop) -> None:
    """A run whose bath is in no book begins with saying so; the first press clears it."""
    recipe = small_recipe(SMALL.replace('title = "Tank"\n', 'title = "Tank"\nbath = "brew"\n', 1))
    shop.lay_out("bolster", recipe=recipe, started=False)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, BoardScreen)
        assert "not in the bath book: brew (tank)" in screen.desk.message
        await pilot.press("space")
        assert "bath book" not in screen.desk.message
