"""The manual in the program: the list of its pages, and one page."""

from __future__ import annotations

import re

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Markdown, MarkdownViewer

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


class GuideText(MarkdownViewer, can_focus=True, can_focus_children=False):
    """The Markdown of one page; a link opens another page and nothing else."""

    class Followed(TouchMessage):
        """A link to a page was touched."""

        def __init__(self, topic: str) -> None:
            self.topic = topic
            super().__init__()

    async def _on_markdown_link_clicked(self, message: Markdown.LinkClicked) -> None:
        message.stop()
        message.prevent_default()  # the library's own handler opens files
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
            yield GuideText(
                _unlit(self.topic), show_table_of_contents=False, open_links=False, id="guide"
            )
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
        text = self.query_one(GuideText)
        if topic != self.topic:
            self.topic = topic
            await text.document.update(_unlit(topic))
        text.scroll_home(animate=False)

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


def _unlit(topic: str) -> str:
    """A page without code languages, which the library would color with its own theme."""
    return re.sub(r"^```\w+$", "```", guide.page(topic), flags=re.MULTILINE)
