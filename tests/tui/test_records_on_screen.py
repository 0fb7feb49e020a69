"""The end of a run on the screen: its record, the judgement, and what differed."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widgets import Static

from benchtimer.run import commands as c
from benchtimer.run.events import Judged
from benchtimer.tui.dialogs import ChoicePage, TextPage
from benchtimer.tui.judging import EndPage
from benchtimer.tui.menu import RATINGS, offers
from tests.support import MINUTE
from tests.tui.conftest import Shop


async def _press(pilot: Pilot[None], keys: str) -> None:
    for key in keys.split():
        await pilot.press(key)
    await pilot.pause()


def _ended(shop: Shop) -> Shop:
    shop.lay_out("bolster", "ferrule")
    shop.press(c.Scrap("bolster", "cracked"))
    shop.press(c.Scrap("ferrule", "cracked"))
    return shop


def _judged(shop: Shop) -> list[tuple[str, str, int | None]]:
    record = shop.driver.record(shop.name)
    return [(j["part"], j["verdict"], j.get("rating")) for j in record.judgements]


@pytest.mark.parametrize("size", [(60, 20), (120, 40)])
async def test_one_key_judges_the_parts_in_turn(shop: Shop, size: tuple[int, int]) -> None:
    """At the end J asks for each part's verdict and rating, and both go into the log."""
    app = _ended(shop).app()
    async with app.run_test(size=size) as pilot:
        await _press(pilot, "space")
        assert isinstance(app.screen, EndPage)
        assert "J judges" in str(app.screen.query_one(".hint", Static).content)
        await _press(pilot, "j")
        assert isinstance(app.screen, ChoicePage)
        await _press(pilot, "1 4 3 6")
        assert isinstance(app.screen, EndPage)
        told = " ".join(str(line.content) for line in app.screen.query(Static))
        assert "bolster: scrapped, accepted (rating 4 of 5)" in told
    assert _judged(shop) == [("bolster", "accepted", 4), ("ferrule", "rejected", None)]


async def test_a_part_can_be_passed_over(shop: Shop) -> None:
    """ESC judges nothing and goes on to the next part."""
    app = _ended(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "space j escape 2 1")
        assert isinstance(app.screen, EndPage)
    assert _judged(shop) == [("ferrule", "rework", 1)]


async def test_a_judgement_can_be_taken_back_on_the_board(shop: Shop) -> None:
    """The last judgement is a press like any other: U takes it back, the run stays over."""
    app = _ended(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "space j 1 5 escape escape u")
    assert shop.driver.state(shop.name).bench.phase.value == "complete"
    assert _judged(shop) == []


def test_the_menu_judges_a_part_that_is_out(shop: Shop) -> None:
    """A part that is done or scrapped is judged from the menu while the run goes on."""
    shop.lay_out("bolster", "ferrule")
    shop.press(c.Scrap("bolster", "cracked"))
    bench = shop.driver.state(shop.name).bench
    first = offers(bench, bench.parts["bolster"])[0]
    assert first.text == "Judge bolster"
    rated = first.choices[0].choices
    assert [offer.text for offer in rated] == list(RATINGS)
    assert rated[4].command == c.Judge("bolster", "accepted", 5)
    assert rated[5].command == c.Judge("bolster", "accepted", None)
    events = shop.driver.press(shop.name, c.Judge("bolster", "accepted", 5))
    assert isinstance(events[0], Judged)


async def test_w_shows_what_differed(shop: Shop) -> None:
    """After a part was sent back W sets its attempts side by side, hostile names and all."""
    shop.lay_out("[red]bolster")
    shop.to_tank("[red]bolster")
    shop.press(c.Begin("[red]bolster"), 5 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "w")
        assert "one attempt so far" in _page(app.screen)
        await _press(pilot, "escape")
        shop.press(c.SendBack("[red]bolster", "prepare"))
        shop.to_tank("[red]bolster")
        await _press(pilot, "w")
        text = _page(app.screen)
    assert "What differed between 2 attempts" in text
    assert ":[red]bolster#1" in text


def _page(screen: object) -> str:
    assert isinstance(screen, TextPage)
    return " ".join(str(line.content) for line in screen.query(Static))
