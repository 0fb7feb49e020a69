"""The manual in the program: the list of its pages, and one page."""

from __future__ import annotations

import re

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Markdown
from textual.widgets.markdown import MarkdownFence

from benchtimer import guide
from benchtimer.tui.dialogs import BACK, FIRST_AID, Calling, ChoicePage
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.front import FrontPage, TouchMessage


def show_contents(app: App[None]) -> None:
    """The list of pages; a digit or a touch opens one in its place."""
    topics = list(guide.TOPICS)

    def chosen(index: int | None) -> None:
        if index is not None:
            app.push_screen(GuidePage(topics[index]))

    app.push_screen(ChoicePage("The manual", [guide.title(topic) for topic in topics]), chosen)


class _Code(MarkdownFence):
    """Code in the colors of the theme; the library would guess its language, slowly."""

    @classmethod
    def highlight(cls, code: str, *_: object, **__: object) -> Content:
        return Content(code.rstrip("\n"))


class _Document(Markdown):
    BLOCKS = {**Markdown.BLOCKS, "fence": _Code, "code_block": _Code}


class GuideText(VerticalScroll, can_focus=True, can_focus_children=False):
    """The Markdown of one page; a link opens another page and nothing else.

    Args:
        topic: the page.
    """

    class Followed(TouchMessage):
        """A link to a page was touched."""

        def __init__(self, topic: str) -> None:
            self.topic = topic
            super().__init__()

    def __init__(self, topic: str) -> None:
        super().__init__(id="guide")
        self._topic = topic

    def compose(self) -> ComposeResult:
        """The text."""
        yield _Document(guide.page(self._topic), open_links=False)

    async def open(self, topic: str) -> None:
        """Show a page from the top."""
        if topic != self._topic:
            self._topic = topic
            await self.query_one(_Document).update(guide.page(topic))
        self.scroll_home(animate=False)

    def on_markdown_link_clicked(self, message: Markdown.LinkClicked) -> None:
        """A link was touched."""
        topic = re.sub(r"\.md(#.*)?$", "", message.href)
        if topic in guide.TOPICS:
            self.post_message(self.Followed(topic))


class GuidePage(ModalScreen[None], FrontPage[None]):
    """One page of the manual.

    Args:
        topic: the page.
    """

    BINDINGS = [
        BACK,
        Binding("right,greater_than_sign", "turn(1)", "next page", key_display=">"),
        Binding("left,less_than_sign", "turn(-1)", "page before", key_display="<"),
        FIRST_AID,
        Binding("q,Q,m,M", "leave", show=False),
        Binding("space", "read_on", show=False),
    ]

    def __init__(self, topic: str) -> None:
        super().__init__()
        self.topic = topic

    def compose(self) -> ComposeResult:
        """Alarms, and the page."""
        with Vertical(classes="page tall"):
            yield Calling()
            yield GuideText(self.topic)
            yield KeyFooter()

    async def on_key(self, event: events.Key) -> None:
        """A digit opens the page with that number."""
        if event.key.isdecimal() and 0 < int(event.key) <= len(guide.TOPICS):
            event.stop()
            await self.open(list(guide.TOPICS)[int(event.key) - 1])

    async def on_guide_text_followed(self, message: GuideText.Followed) -> None:
        """A link was touched."""
        await self.open(message.topic)

    async def open(self, topic: str) -> None:
        """Show a page from the top."""
        self.topic = topic
        await self.query_one(GuideText).open(topic)

    async def action_turn(self, step: int) -> None:
        """The next or previous page, wrapping around."""
        topics = list(guide.TOPICS)
        await self.open(topics[(topics.index(self.topic) + step) % len(topics)])

    def action_read_on(self) -> None:
        """One screen further."""
        self.query_one(GuideText).action_page_down()

    def action_leave(self) -> None:
        """Back to the help page."""
        self.dismiss(None)
