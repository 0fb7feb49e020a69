"""The manual on the screen opens from every help page, by keys and by touch."""

from __future__ import annotations

import pytest
from textual.widgets import Markdown

from benchtimer import guide
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import HelpPage
from benchtimer.tui.guidepage import GuidePage, GuideText
from benchtimer.tui.themes import THEMES
from tests.tui.conftest import Shop
from tests.tui.pilots import press, touch_choice, touch_key
from tests.tui.test_looks import poor_letters

SIZES = [(60, 20), (80, 24), (120, 40)]
TOPICS = list(guide.TOPICS)


ENDS = [0, 7, 8, len(TOPICS) - 1]
"""The first and last page of each part of the list."""

ELEMENTS = ("\n## ", "\n- ", "\n1. ", "\n| ", "\n    ", "```", "](", "**", "`")
"""How Markdown begins whatever has a look of its own."""


def _with_every_element() -> list[str]:
    """A few pages that together have every element the manual uses."""
    chosen: list[str] = []
    for element in ELEMENTS:
        having = [topic for topic in TOPICS if element in guide.page(topic)]
        if having and not any(topic in having for topic in chosen):
            chosen.append(having[0])
    return chosen


def _keys(number: int) -> str:
    """The keys that open a page from the list, counted from 0: eight to a page, 9 turns it."""
    turns, digit = divmod(number, 8)
    return " ".join(["9"] * turns + [str(digit + 1)])


@pytest.fixture(name="_brief")
def _of_two_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages of two lines, which open at once, for tests of the ways between pages."""
    pages = {topic: f"# {guide.title(topic)}\n\n{about}\n" for topic, about in guide.TOPICS.items()}
    monkeypatch.setattr(guide, "page", pages.__getitem__)


def _shown(app: BenchApp) -> GuidePage:
    assert isinstance(app.screen, GuidePage)
    return app.screen


@pytest.mark.parametrize("size", SIZES)
async def test_every_page_is_three_keys_away(shop: Shop, size: tuple[int, int]) -> None:
    """?, M and a digit open a page, 9 turns the list, ESC goes back, and nothing is pressed."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=size) as pilot:
        presses = shop.driver.state(shop.name).presses
        await press(pilot, "question_mark")
        for number in range(len(TOPICS)) if size == (80, 24) else ENDS:  # others save time
            topic = TOPICS[number]
            await press(pilot, f"m {_keys(number)}")
            assert _shown(app).topic == topic
            assert guide.page(topic).startswith(f"# {guide.title(topic)}\n")
            await press(pilot, "escape")
            assert isinstance(app.screen, HelpPage)
        await press(pilot, "escape")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name).presses == presses


@pytest.mark.usefixtures("_brief")
@pytest.mark.parametrize("size", SIZES)
async def test_pages_are_reached_by_touch(shop: Shop, size: tuple[int, int]) -> None:
    """The help page, the list and each page work by touch."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "question_mark")
        for number in ENDS:
            topic = TOPICS[number]
            await touch_key(pilot, "m")
            for _ in range(number // 8):
                await touch_choice(pilot, -1)
            await touch_choice(pilot, number % 8)
            await pilot.pause()
            assert _shown(app).topic == topic
            await touch_key(pilot, "escape")


@pytest.mark.usefixtures("_brief")
async def test_digits_and_arrows_turn_pages(shop: Shop) -> None:
    """On a page a digit opens another one, and the arrows wrap around."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "question_mark m 1")
        for keys, topic in (
            ("3", TOPICS[2]), ("right", TOPICS[3]), ("left left", TOPICS[1]),
            ("1 left", TOPICS[-1]), (">", TOPICS[0]),
        ):  # fmt: skip
            await press(pilot, keys)
            assert _shown(app).topic == topic
            title = app.screen.query_one(Markdown).source.partition("\n")[0]
            assert title == f"# {guide.title(topic)}"


async def test_a_page_scrolls_and_the_next_one_starts_at_its_top(shop: Shop) -> None:
    """SPACE scrolls; another page starts at its top."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, "question_mark m 2 space")
        text = app.screen.query_one(GuideText)
        assert 0 < text.scroll_y <= text.size.height
        await press(pilot, "end")
        assert text.scroll_y == text.max_scroll_y > 10
        await press(pilot, "4")
        assert text.scroll_y == 0


@pytest.mark.usefixtures("_brief")
@pytest.mark.parametrize(
    ("href", "topic"),
    [
        ("plans.md", "plans"), ("records.md#backups", "records"),
        ("/etc/passwd", "first-run"), ("../../pyproject.toml", "first-run"),
        ("https://example.org/plans.md", "first-run"),
    ],
)  # fmt: skip
async def test_a_link_leads_to_a_page_and_nowhere_else(shop: Shop, href: str, topic: str) -> None:
    """A link to another page opens it; any other link does nothing."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "question_mark m 1")
        document = app.screen.query_one(Markdown)
        document.post_message(Markdown.LinkClicked(document, href))
        await pilot.pause()
        await pilot.pause()
        assert _shown(app).topic == topic


@pytest.mark.usefixtures("_brief")
async def test_the_manual_opens_from_the_pages_around_a_run(shop: Shop) -> None:
    """The manual opens from the help of the home page, and ESC goes back there."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        home = app.screen
        await press(pilot, "question_mark m 7 m escape")
        assert app.screen is home


async def test_a_watcher_can_read_the_manual(shop: Shop) -> None:
    """A watcher has the manual, with alarms in sight."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(60, 20)) as pilot:
        app.calling_words = lambda: ("LATE: bolster", True)  # type: ignore[method-assign]
        await press(pilot, "question_mark m 1")
        assert app.screen.query_one("#calling").display
        assert app.screen.query_one("#calling").region.y == 1


@pytest.mark.parametrize("theme", [theme.name for theme in THEMES])
async def test_the_manual_keeps_its_contrast(shop: Shop, theme: str) -> None:
    """Headings, lists, tables, code and links are legible in every theme."""
    app = shop.set_up("bolster").app()
    poor = {}
    async with app.run_test(size=(80, 24)) as pilot:
        app.theme = theme
        await press(pilot, "question_mark m 1")
        for topic in _with_every_element():
            await press(pilot, str(TOPICS.index(topic) + 1))
            assert _shown(app).topic == topic
            for key in ("home", "space", "end"):
                await press(pilot, key)
                poor[topic, key] = poor_letters(app)
    assert not {when: found for when, found in poor.items() if found}
