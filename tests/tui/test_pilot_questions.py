"""Questions and hazards on the board, with a pilot: each press is for what was asked."""

from __future__ import annotations

import pytest
from textual.widgets import Static

from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import LinePage
from benchtimer.view.desk import Desk
from benchtimer.view.letters import half
from tests.support import MINUTE, SMALL, TEMPERED, small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import press_at, text

TWO_HAZARDS = SMALL.replace(
    "[[step]]",
    '[[hazard]]\nbefore = "tank"\ntitle = "Second"\ntext = "'
    + "Read this. " * 140
    + '"\nwear = ["apron"]\n[[step]]',
    1,
).replace('text = "It is hot."', 'text = "' + "It is very hot. " * 80 + '"')


BEFORE = pytest.mark.parametrize("before", ["tank", "dip"])
"""The page of a bath is read before the start, and the page of a step before its part."""


def _unread(shop: Shop, text: str, before: str) -> BenchApp:
    """A board with the first page of a recipe, not acknowledged yet."""
    recipe = small_recipe(text.replace('before = "tank"', f'before = "{before}"'))
    shop.set_up("bolster", recipe=recipe, started=False)
    if before == "dip":
        shop.press(c.Start())
    return shop.app()


async def test_a_recipe_asks_for_the_properties_it_needs(shop: Shop) -> None:
    """Adding a part asks for its name and then for each property its recipe needs."""
    shop.set_up("blade", recipe=small_recipe(TEMPERED), properties={"blade": {"temper": "200 C"}})
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press_at(pilot, shop, "a p i n enter 4 0 0 space F enter")
        parts = shop.driver.state(shop.name).bench.parts
        assert str(parts["pin"].properties["temper"]) == "400 F"
        await press_at(pilot, shop, "a x enter escape")
        assert "x" not in shop.driver.state(shop.name).bench.parts


async def test_a_typed_number_stays_with_its_question(shop: Shop) -> None:
    """Nothing that falls due replaces the line while a figure is typed, and SPACE saves it."""
    shop.set_up("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        shop.clock.advance(10 * MINUTE)
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.desk.reading = True
        reading = next(a for a in shop.driver.moment().actions if a.part is None)
        board.desk.entry, board.desk._entry_for = "66", ("reading", "tank")
        assert reading.to_station == "tank"
        board.refresh_board()
        await press_at(pilot, shop, "space")
        place = shop.driver.state(shop.name).bench.places["tank"]
        assert place.reading is not None
        assert place.reading.quantity.value == 66
        assert shop.driver.state(shop.name).bench.parts["bolster"].station == "tank"


async def test_a_bouncing_key_answers_one_question(shop: Shop) -> None:
    """Y pressed twice in a moment is one answer."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    desk = Desk(shop.driver, shop.name, monotonic=lambda: 5.0, guard_s=0.4)
    desk.say(True)
    answered = shop.driver.state(shop.name)
    desk.say(True)
    assert shop.driver.state(shop.name) == answered


@BEFORE
async def test_a_long_hazard_must_be_read_to_its_end(shop: Shop, before: str) -> None:
    """SPACE scrolls a long hazard before it acknowledges; first aid is at the top."""
    long = SMALL.replace('text = "It is hot."', f'text = "{"It is very hot. " * 80}"').replace(
        'wear = ["gloves"]', 'wear = ["gloves"]\nfirst_aid = "Cool it."'
    )
    app = _unread(shop, long, before)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        shown = text(app, "hazard")
        head = "\n".join([*half("DANGER: Hot tank"), *half("WEAR: gloves")])
        assert shown.startswith(head)
        assert shown.removeprefix(head).split("\n")[2] == "FIRST AID: Cool it."
        await pilot.pause(0.1)
        presses = 0
        while not shop.driver.state(shop.name).bench.acknowledged:
            await press_at(pilot, shop, "space")
            await pilot.pause(0.05)
            presses += 1
            assert presses < 12
        assert presses >= 2


@BEFORE
async def test_each_hazard_is_read_from_its_beginning(shop: Shop, before: str) -> None:
    """The second of two hazards opens at its first line and must be read to its end too."""
    app = _unread(shop, TWO_HAZARDS, before)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.1)
        for title in ("Hot tank", "Second"):
            scroll = app.screen.query_one("#page")
            assert scroll.scroll_y == 0
            presses = 0
            while title not in shop.driver.state(shop.name).bench.acknowledged:
                await press_at(pilot, shop, "space")
                await pilot.pause(0.05)
                presses += 1
                assert presses < 20
            assert presses >= 2


async def test_a_bouncing_key_does_not_acknowledge_an_unread_page(shop: Shop) -> None:
    """The press that scrolls a hazard starts the guard against slips."""
    shop.set_up("bolster", recipe=small_recipe(TWO_HAZARDS), started=False)
    app = BenchApp(shop.driver, shop.name, guard_s=60)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.1)
        await press_at(pilot, shop, "space space space space space space")
        assert not shop.driver.state(shop.name).bench.acknowledged


async def test_typed_words_go_to_the_question_shown(shop: Shop) -> None:
    """A text answers its own question even after another part has become critical."""
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    shop.press(c.Answer("bolster", "even", True))
    shop.press(c.Answer("bolster", "heat", "25 C"))
    shop.press(c.Finish("bolster"))
    shop.to_tank("ferrule")
    shop.press(c.Begin("bolster"), 2 * MINUTE)
    shop.press(c.Answer("bolster", "colour", "black"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press_at(pilot, shop, "1 space")
        assert isinstance(app.screen, LinePage)
        title = app.screen.query_one(".title", Static)
        assert str(title.render()) == "bolster: Anything else?"  # this one of several parts
        shop.clock.advance(6 * MINUTE)
        await press_at(pilot, shop, "f i n e enter")
    answers = shop.driver.state(shop.name).bench.parts["bolster"].answers
    assert answers["words"].answer == "fine"


async def test_minus_enters_a_sign_or_moves_a_target(shop: Shop) -> None:
    """Minus is a sign while a figure is typed; else it moves the target shown."""
    shop.set_up("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.press("minus", "5")
        assert board.desk.entry == "-5"
        await pilot.press("backspace", "backspace")
        shop.to_tank("bolster")
        await pilot.press("plus", "plus", "minus")
    assert shop.driver.state(shop.name).bench.parts["bolster"].target_s == 360
