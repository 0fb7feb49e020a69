"""A key means the same on every page that uses it."""

from __future__ import annotations

import string

import pytest

from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.planning import PlanScreen
from benchtimer.tui.runs_page import RunsScreen
from benchtimer.view.keys import KEYS
from benchtimer.view.pagekeys import PAGES, PLAN_MORE, RUNS_FILTERS
from tests.tui.conftest import Shop
from tests.tui.keytable import MEANINGS, keys_table, written_table


def test_the_table_of_keys_is_made_from_the_code() -> None:
    """DEVELOPERS.md shows the keys of each page as they are."""
    assert written_table() == keys_table()


def test_every_key_has_one_meaning() -> None:
    """Every key has a meaning, and every meaning has a page."""
    used = {key.key for keys in PAGES.values() for key in keys}
    assert used == set(MEANINGS)
    assert len(set(MEANINGS.values())) == len(MEANINGS)


@pytest.mark.parametrize("name", PAGES)
def test_no_page_uses_a_key_twice(name: str) -> None:
    """Each key of a page does one thing."""
    keys = [key.key for key in PAGES[name]]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", [name for name in PAGES if name != "home"])
def test_h_is_home_on_every_page(name: str) -> None:
    """H leads home from every page."""
    assert next(key.action for key in PAGES[name] if key.key == "h") == "home"


@pytest.mark.parametrize("name", PAGES)
def test_a_key_does_the_same_on_every_page(name: str) -> None:
    """A letter of the board has the same action and name on every page that has it."""
    alike = {"u": "undo", "t": "note", "k": "prepare", "j": "judge", "m": "more", "h": "home"}
    for key in PAGES[name]:
        if key.key in alike:
            words = f"{key.action} {key.label} {key.help}".lower()
            assert alike[key.key] in words.replace("menu", "more"), key


def test_what_a_menu_offers_can_be_done() -> None:
    """Each menu line of plan and runs names an action of its page."""
    for page, menu in ((PlanScreen, PLAN_MORE), (RunsScreen, RUNS_FILTERS)):
        assert all(hasattr(page, f"action_{action}") for action, _ in menu)
    assert all(key.action for key in KEYS)
    assert BoardScreen.BINDINGS


async def test_every_character_can_be_typed(shop: Shop) -> None:
    """No character ends the program, which looks for methods by the names of keys."""
    app = shop.set_up("bolster", started=False).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("@", *string.punctuation)
        assert app.is_running
        owners = (app, *app.screen_stack, *app.screen.query("*"))
        ours = [owner for owner in owners if type(owner).__module__.startswith("benchtimer")]
        names = {name for owner in ours for name in vars(owner)}
        assert not [name for name in names if name.lstrip("_").startswith("key_")]
