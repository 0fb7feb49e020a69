"""The end of a run on the screen: record, verdict, and what differed."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot
from textual.widgets import Static

from benchtimer.run import commands as c
from benchtimer.tui.dialogs import ChoicePage, TextPage
from benchtimer.tui.recordpage import EndPage
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import foot


async def _press(pilot: Pilot[None], keys: str) -> None:
    for key in keys.split():
        await pilot.press(key)
    await pilot.pause()


def _ended(shop: Shop) -> Shop:
    shop.set_up("bolster", "ferrule")
    shop.press(c.Scrap("bolster", "cracked"))
    shop.press(c.Scrap("ferrule", "cracked"))
    return shop


def _judged(shop: Shop) -> list[tuple[str, str, int | None]]:
    record = shop.driver.record(shop.name)
    return [(j.part, j.verdict, j.rating) for j in record.judgements]


@pytest.mark.parametrize("size", [(60, 20), (120, 40)])
async def test_one_key_judges_the_parts_in_turn(shop: Shop, size: tuple[int, int]) -> None:
    """J asks for each part's verdict and rating, and the log gets both."""
    app = _ended(shop).app()
    async with app.run_test(size=size) as pilot:
        await _press(pilot, "space")
        assert isinstance(app.screen, EndPage)
        assert foot(app)["j"].description == "judge"
        await _press(pilot, "j")
        assert isinstance(app.screen, ChoicePage)
        await _press(pilot, "2 4 3 6")
        assert isinstance(app.screen, EndPage)
        assert "bolster: scrapped, rework, 4 of 5" in app.screen.rows.text
    assert _judged(shop) == [("bolster", "rework", 4), ("ferrule", "rejected", None)]


@pytest.mark.parametrize("size", [(60, 20), (120, 40)])
async def test_a_scrapped_part_is_asked_about_again(shop: Shop, size: tuple[int, int]) -> None:
    """ "Accepted" for a scrapped part is refused with a reason before any rating."""
    app = _ended(shop).app()
    async with app.run_test(size=size) as pilot:
        await _press(pilot, "space j 1")
        assert isinstance(app.screen, ChoicePage)
        found = " ".join(str(s.content) for s in app.screen.query(Static))
        assert "Can't judge bolster accepted: it was scrapped." in " ".join(found.split())
        assert _judged(shop) == []
        await _press(pilot, "3 1 escape")
        assert isinstance(app.screen, EndPage)
    assert _judged(shop) == [("bolster", "rejected", 1)]


async def test_judging_can_skip_a_part(shop: Shop) -> None:
    """ESC skips a part without a verdict."""
    app = _ended(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "space j escape 2 1")
        assert isinstance(app.screen, EndPage)
    assert _judged(shop) == [("ferrule", "rework", 1)]


async def test_a_judgment_can_be_undone_on_the_board(shop: Shop) -> None:
    """U takes the last verdict back, and the run stays complete."""
    app = _ended(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "space j 3 5 escape escape u")
    assert shop.driver.state(shop.name).bench.phase.value == "complete"
    assert _judged(shop) == []


async def test_j_judges_finished_parts_while_the_run_continues(shop: Shop) -> None:
    """On the board J asks about the finished parts, or the one you picked."""
    shop.set_up("bolster", "ferrule")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "j")
        assert "No part is done yet" in str(app.screen.query_one("#message", Static).content)
        shop.press(c.Scrap("bolster", "cracked"))
        await _press(pilot, "j 3 1 down down j 1 5")
    assert _judged(shop) == [("bolster", "rejected", 1), ("ferrule", "accepted", 5)]


async def test_d_shows_what_differed(shop: Shop) -> None:
    """After a send-back D sets the tries of a part side by side, hostile names included."""
    shop.set_up("[red]bolster")
    shop.to_tank("[red]bolster")
    shop.press(c.Begin("[red]bolster"), 5 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "d")
        assert "one try so far" in _page(app.screen)
        await _press(pilot, "escape")
        shop.press(c.SendBack("[red]bolster", "prepare"))
        shop.to_tank("[red]bolster")
        await _press(pilot, "d")
        text = _page(app.screen)
    assert "What differed between 2 tries" in text
    assert ":[red]bolster:1" in text


def _page(screen: object) -> str:
    assert isinstance(screen, TextPage)
    return " ".join(str(line.content) for line in screen.query(Static))
