"""A bath out of range or drifting there: what the board says, and the time left."""

from __future__ import annotations

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from benchtimer.run.setup import setup_pages
from benchtimer.shop.shop_state import alone
from benchtimer.store.log import Stamp
from benchtimer.tui.app import BenchApp
from benchtimer.tui.dialogs import TextPage
from benchtimer.tui.drawing import Drawing
from benchtimer.view.bathtrouble import (
    limits_ahead,
    remedies,
    sentences,
    slope_words,
    time_to_limit,
)
from benchtimer.view.stations import page_rows
from tests.support import MINUTE, SMALL, Hands, small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import press

NOON_MS = 1_770_033_600_000
SIZES = [(60, 20), (80, 24), (120, 40)]
REMEDIED = SMALL.replace(
    'title = "Tank"',
    'title = "Tank"\ntoo_hot = "Pull the parts. Turn off the heat. Wait. Read again."\n'
    'too_cold = "Put no part in."',
)


def _stamp(hands: Hands) -> Stamp:
    return Stamp(hands.now_ms, "b", hands.now_ms, NOON_MS, 0)


def _read(*readings: str, every_ms: int = 5 * MINUTE) -> Hands:
    """A tank with these readings, five minutes apart."""
    hands = Hands(("bolster",))
    for reading in readings:
        hands(c.Read("tank", reading), every_ms)
    return hands


def _said(hands: Hands, after_ms: int = 0) -> str:
    return time_to_limit(hands.state.bench.places["tank"], hands.now_ms + after_ms)


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        (("66 C", "67 C"), ""),  # two readings make no trend
        (("66 C", "67 C", "68 C"), "70 C in about 10 min"),
        (("64 C", "63 C", "62 C"), "60 C in about 10 min"),
        (("65 C", "65 C", "65 C"), ""),
        (("65 C", "65.1 C", "65.2 C"), ""),  # four hours left
        (("68 C", "69 C", "70.5 C"), ""),  # out of range already: the remedy covers it
    ],
)
def test_the_time_to_the_limit(readings: tuple[str, ...], expected: str) -> None:
    """Three readings make a trend, shown when its limit is less than an hour away."""
    assert _said(_read(*readings)) == expected


@pytest.mark.parametrize(
    ("after_ms", "expected"),
    [
        (MINUTE, "70 C in about 9 min"),
        (9 * MINUTE + 1, "70 C any minute"),
        (30 * MINUTE, "70 C any minute"),
        (60 * MINUTE, ""),
    ],
)
def test_the_estimate_counts_down_and_expires(after_ms: int, expected: str) -> None:
    """Minutes round down; an old trend disappears after an hour."""
    assert _said(_read("66 C", "67 C", "68 C"), after_ms) == expected


def test_stations_page_and_board_show_the_trend() -> None:
    """The stations page shows the slope, and the board warns while a part needs the bath."""
    hands = _read("66 C", "67 C", "68 C")
    bench, stamp = hands.state.bench, _stamp(hands)
    page = "\n".join(page_rows(alone(bench), stamp))
    assert "70 C in about 10 min" in page
    assert "rises 12 C an hour" in page
    assert limits_ahead(bench, hands.now_ms) == ["Tank: 70 C in about 10 min"]
    hands(c.Scrap("bolster"))
    assert limits_ahead(hands.state.bench, hands.now_ms) == []


def test_the_slope_is_in_the_unit_of_the_window() -> None:
    """A window in F has its slope in F: 1 F in 5 min is 12 F an hour."""
    recipe = small_recipe(
        SMALL.replace('min = "60 C", max = "70 C", ceiling = "80 C"',
                      'min = "140 F", max = "158 F", ceiling = "176 F"')
    )  # fmt: skip
    hands = Hands(("bolster",), recipe)
    for reading in ("150 F", "149 F", "148 F"):
        hands(c.Read("tank", reading), 5 * MINUTE)
    assert slope_words(hands.state.bench.places["tank"]) == "falls 12 F an hour"


def test_the_whole_remedy_is_one_order_to_a_line() -> None:
    """Each sentence of the remedy has its own line, below the reading and the range."""
    hands = Hands(("bolster",), small_recipe(REMEDIED))
    assert remedies(hands.state.bench) == ""
    hands(c.Read("tank", "75 C"))
    assert remedies(hands.state.bench).splitlines() == [
        "TANK READS 75 C, TOO HOT (range 60 C to 70 C)",
        "Pull the parts.", "Turn off the heat.", "Wait.", "Read again.",
    ]  # fmt: skip
    hands(c.Read("tank", "55 C"))
    assert remedies(hands.state.bench).splitlines()[1:] == ["Put no part in."]
    plain = Hands(("bolster",))
    plain(c.Read("tank", "75 C"))
    assert "says nothing about this" in remedies(plain.state.bench)


def _salts(shop: Shop) -> BenchApp:
    """A running recipe whose salts are too hot."""
    table = recipe_table(RecipeFiles().find("hot-black"))
    shop.name = shop.driver.set_up(
        NewRun("Salts", {"hot-black": table}, [("cap", "hot-black")], {})
    )
    for page in setup_pages(shop.driver.state(shop.name).bench):
        shop.press(c.Acknowledge(page.title))
    shop.press(c.Start())
    shop.press(c.Read("salts", "302 F"))
    return shop.app()


@pytest.mark.parametrize("size", SIZES)
async def test_a_remedy_is_whole_at_every_size(shop: Shop, size: tuple[int, int]) -> None:
    """The board shows the first order; W shows the whole remedy and scrolls to its end."""
    app = _salts(shop)
    async with app.run_test(size=size) as pilot:
        found = " ".join(" ".join(row.text for row in app.screen.query_one(Drawing).rows).split())
        assert "Pull the parts. Turn off the heat." in found
        assert "W: the rest" in found
        await press(pilot, "w")
        assert isinstance(app.screen, TextPage)
        remedy = RecipeFiles().find("hot-black").station_named("salts").too_hot or ""
        assert all(order in app.screen._text for order in sentences(remedy))
        await press(pilot, "end")
        await press(pilot, "escape")
        assert not isinstance(app.screen, TextPage)


async def test_w_shows_the_recipes_text_while_all_is_well(shop: Shop) -> None:
    """In range W shows the work as usual."""
    app = _salts(shop)
    async with app.run_test(size=(80, 24)) as pilot:
        shop.press(c.Read("salts", "290 F"))
        await press(pilot, "1 w")
        assert isinstance(app.screen, TextPage)
        assert "steel wire" in app.screen._text
