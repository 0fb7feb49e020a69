"""Input acts on the page in front and on no other.

Keys can come faster than the screen. What was pressed for a page may still wait in its queue,
or in that of one of its widgets, when the page has been answered or left. All pages are made
from ``FrontPage``, which drops such presses.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, TypeVar

from textual import events
from textual.await_complete import AwaitComplete
from textual.dom import DOMNode
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Input, OptionList

Result = TypeVar("Result")


class TouchMessage(Message):
    """What a widget says because it was touched."""


PRESSES = (
    events.InputEvent,
    events.Paste,
    TouchMessage,
    Input.Submitted,
    OptionList.OptionSelected,
)
"""Messages that come from keys, mouse and paste."""


DELIBERATE = frozenset({"space", "enter", "y", "n", "e", "q", "ctrl+q", *"123456789"})
"""Keys that confirm, answer or leave: a bounce or a held key must not do so twice."""


AHEAD_S = 0.3
"""A press that comes sooner than this after a page was drawn was not meant for it: that
is too fast to read and answer. From trials at a keyboard: no source."""


def too_early(key: str) -> str:
    """What is said of a key that was pressed before the page it would have acted on was seen."""
    return f"Too early: press {key if len(key) == 1 else key.upper()} again"


class FrontPage(Screen[Result]):
    """A page that takes input only while it is in front.

    Attributes:
        CAUTIOUS: keys that confirm and were typed ahead of this page are dropped.
        OPENS: keys that open a page in front of this one.
    """

    CAUTIOUS: ClassVar[bool] = False
    OPENS: ClassVar[frozenset[str]] = frozenset()
    _drawn_at = float("inf")
    _early_at = float("-inf")

    def on_screen_resume(self) -> None:
        """It comes to the front: what it shows has not been seen yet."""
        self._drawn_at = float("inf")
        self.call_after_refresh(self._was_drawn)

    def _was_drawn(self) -> None:
        self._drawn_at = Message().time  # the clock that presses have

    def is_ahead(self, key: str, at_s: float) -> bool:
        """Whether a press was made before this page could be seen and must not confirm on it.

        Args:
            key: the key.
            at_s: when it was pressed: the event's time.
        """
        return self.drops_early(key) and at_s < self._drawn_at + AHEAD_S

    def is_deliberate(self, key: str) -> bool:
        """Whether a key bounced or held down counts once on this page."""
        if isinstance(self.focused, Input) and len(key) == 1:
            return False  # it is a letter of a text
        return key.lower() in DELIBERATE

    @property
    def takes_input(self) -> bool:
        """Whether the page is in front. It is not once it has been answered or left."""
        stack = self.app.screen_stack
        return bool(stack) and stack[-1] is self

    @property
    def is_there(self) -> bool:
        """Whether its lines can be drawn: it is made, and has not been left."""
        return self.is_mounted and self in self.app.screen_stack

    def say_early(self, key: str) -> None:
        """Say that a key was dropped because it came before this page could be seen."""

    def drops_early(self, key: str) -> bool:
        """Whether a key would confirm or answer here, so that it must not come ahead."""
        return self.CAUTIOUS and self.is_deliberate(key)

    def note_early(self, key: str, at_s: float) -> None:
        """Say so of a key that would have confirmed or answered here, once the page is drawn.

        Args:
            key: the key.
            at_s: when it was pressed: the event's time.
        """
        if self.drops_early(key):
            self._early_at = at_s if key.isdecimal() else self._early_at
            self.call_after_refresh(self.say_early, key)

    async def _on_message(self, message: Message) -> None:
        if isinstance(message, PRESSES) and not self.takes_input:
            message.stop()  # it must not reach the page in front either
            front = self.app.screen_stack[-1] if self.is_there else None
            if isinstance(message, events.Key) and isinstance(front, FrontPage):
                front.note_early(message.key, message.time)
            return
        await super()._on_message(message)

    async def run_action(
        self, action: str, namespaces: Mapping[str, DOMNode] | None = None
    ) -> None:
        """Do what a touched key stands for, unless another page has come to the front."""
        if self.takes_input:
            await super().run_action(action, namespaces)

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Give the answer and leave; once only.

        Textual removes the page in front, whichever that is, so a second answer would remove
        the page behind this one.
        """
        return super().dismiss(result) if self.takes_input else AwaitComplete()
