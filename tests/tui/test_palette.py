"""Finding commands by name: what is typed, what comes first, what ENTER may do."""

from __future__ import annotations

import pytest
from textual.command import CommandList, CommandPalette

from benchtimer.run import commands as c
from benchtimer.run.run_state import PartPhase
from benchtimer.tui.palette import PaletteCommand, rank
from benchtimer.view.keys import KEYS
from tests.support import MINUTE
from tests.tui.conftest import Shop

COMMANDS = [PaletteCommand(k.label, k.help, k.shown, lambda: None, k.changes) for k in KEYS]


def _found(query: str) -> list[str]:
    ranked = sorted(COMMANDS, key=lambda command: rank(command, query), reverse=True)
    return [command.key for command in ranked if rank(command, query) > 0]


@pytest.mark.parametrize(
    ("query", "first"),
    [
        ("undo", "U"),
        ("UND", "U"),
        ("take back", "U"),
        ("yes", "Y"),
        ("home", "H"),
        ("note", "T"),
        ("leave", "Q"),
        ("full screen", "G"),
        ("g", "G"),
        ("timer", "*"),
    ],
)
def test_typing_finds_its_command_first(query: str, first: str) -> None:
    """A label, words of the help in any order, or a key's name finds its command first."""
    assert _found(query)[0] == first


@pytest.mark.parametrize("query", ["udn", "undo yes", "qqq", " "])
def test_scattered_letters_find_nothing(query: str) -> None:
    """Each typed word must appear unbroken; scattered letters find nothing."""
    assert _found(query) == []


async def test_undo_by_its_name_takes_the_last_press_back(shop: Shop) -> None:
    """With a question open, undo and ENTER take a press back and answer nothing."""
    shop.set_up("bolster").press(c.Read("tank", "65 C"))
    shop.press(c.Begin("bolster"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+p", *"undo")
        await pilot.pause(0.4)
        await pilot.press("enter")
        await pilot.pause(0.2)
        assert not isinstance(app.screen, CommandPalette)
    assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.WAITING


async def test_enter_with_nothing_typed_changes_nothing(shop: Shop) -> None:
    """Before anything is typed the list has no command that changes the run."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    app, before = shop.app(), shop.driver.state(shop.name)
    changing = {command.words for command in COMMANDS if command.changes}
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+p")
        await pilot.pause(0.4)
        offered = [str(option.hit.text) for option in app.screen.query_one(CommandList)._options]  # type: ignore[attr-defined]
        assert len(offered) > 10
        assert changing.isdisjoint(offered)
        await pilot.press("enter")
        await pilot.pause(0.2)
    assert shop.driver.state(shop.name) == before
