"""What pilots press and read: timed keys, pages, texts."""

from __future__ import annotations

from typing import TypeVar

from textual.app import App
from textual.pilot import Pilot
from textual.widgets._footer import FooterKey

from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.tui.drawing import Drawing
from benchtimer.tui.lines import CachedLine
from benchtimer.tui.marked_list import MarkedList
from benchtimer.tui.row_page import RowPage
from tests.tui.conftest import Shop

T = TypeVar("T", bound=RowPage)


def text(app: BenchApp, name: str) -> str:
    """The text of one line of the board."""
    return app.screen.query_one(f"#{name}", CachedLine).said


def lane(app: BenchApp, number: int) -> str:
    """The rows of the picture for one part number."""
    rows = app.screen.query_one("#picture", Drawing).rows
    return "\n".join(row.text for row in rows if row.part == number)


def picture(app: BenchApp) -> str:
    """All rows of the picture."""
    return "\n".join(row.text for row in app.screen.query_one("#picture", Drawing).rows)


async def press_at(pilot: Pilot[None], shop: Shop, keys: str, after_ms: int = 1000) -> None:
    """Press keys, one second apart on the bench's clock by default."""
    for key in keys.split():
        shop.clock.advance(after_ms)
        await pilot.press(key)
    await pilot.pause()


async def press(pilot: Pilot[None], keys: str) -> None:
    """Press keys with no time between them."""
    for key in keys.split():
        await pilot.press(key)
    await pilot.pause()


async def touch_key(pilot: Pilot[None], key: str) -> None:
    """Touch a key at the foot of the front page."""
    assert await pilot.click(foot(pilot.app)[key])
    await pilot.pause()


def foot(app: App[None]) -> dict[str, FooterKey]:
    """The names of the visible keys at the foot of the front page."""
    keys = app.screen.query(FooterKey)
    return {key.key: key for key in keys if key.display and key.visible}


async def touch_choice(pilot: Pilot[None], index: int) -> None:
    """Touch a row of the front list, counted from 0; -1 is the last."""
    rows = pilot.app.screen.query_one(MarkedList)
    height = rows.virtual_size.height // rows.option_count
    assert await pilot.click(rows, offset=(6, index % rows.option_count * height))
    await pilot.pause()


async def write(pilot: Pilot[None], words: str) -> None:
    """Type words into a field, then ENTER."""
    names = {" ": "space", ",": "comma", "-": "minus", ":": "colon", ".": "full_stop"}
    await pilot.press(*(names.get(letter, letter) for letter in words), "enter")
    await pilot.pause()


async def planned(pilot: Pilot[None]) -> None:
    """Wait for the planner."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


def shown(app: BenchApp, kind: type[T]) -> T:
    """The front page, which must be of this kind."""
    page = app.screen
    assert isinstance(page, kind)
    return page


def over(shop: Shop, *names: str) -> Shop:
    """A run whose parts were scrapped and that is closed."""
    shop.set_up(*names)
    for name in names:
        shop.press(c.Scrap(name, "cracked"))
    shop.press(c.Complete())
    return shop


def said(page: RowPage, name: str = "message") -> str:
    """The text of one fixed line of a page."""
    return page.query_one(f"#{name}", CachedLine).said
