"""The page of rates, with a pilot."""

from __future__ import annotations

from benchtimer.run import commands as c
from benchtimer.tui.dialogs import TextPage
from tests.tui.conftest import Shop
from tests.tui.pilots import press


async def test_the_rates_fit_one_page(shop: Shop) -> None:
    """M offers the shop's rates; a thread reads them, and one page shows them."""
    shop.set_up("bolster")
    shop.press(c.Read("tank", "65 C"))
    shop.press(c.Begin("bolster"))
    shop.clock.advance(60_000)
    shop.press(c.Finish("bolster"))
    shop.press(c.Abort("enough"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.show_runs()
        await pilot.pause()
        await press(pilot, "m 1")
        await app.workers.wait_for_complete()
        await pilot.pause()
        page = app.screen
        assert isinstance(page, TextPage)
        assert "HANDS-ON TIME" in page._text
