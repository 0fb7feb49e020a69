"""Lets input act only on the page in front. Keys can come faster than the screen, so a press for a
page may still be in a queue when the page has been answered or closed. All pages are based on
``FrontPage``, which drops such presses.
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
    """Messages that a widget sends because of a touch."""


PRESSES = (
    events.InputEvent,
    events.Paste,
    TouchMessage,
    Input.Submitted,
    OptionList.OptionSelected,
)
"""Messages from keys, mouse and paste."""


DELIBERATE = frozenset({"space", "enter", "y", "n", "e", "q", "ctrl+q", *"123456789"})
"""Keys that confirm, answer or leave: a bounce or a held key must not count twice."""


AHEAD_S = 0.3
"""A press within this time after a page was drawn was not meant for it: that is too fast to read
and answer. From trials at a keyboard, no source.
"""


def too_early(key: str) -> str:
    """The message for a key pressed before you could have seen the page it acts on."""
    return f"Too soon: press {key if len(key) == 1 else key.upper()} again"


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
        """The page comes to the front; you have not seen it yet."""
        self._drawn_at = float("inf")
        self.call_after_refresh(self._was_drawn)

    def _was_drawn(self) -> None:
        self._drawn_at = Message().time  # the clock that presses use

    def is_ahead(self, key: str, at_s: float) -> bool:
        """Whether a press was made before this page could be seen and must not confirm on it.

        Args:
            key: the key.
            at_s: when it was pressed, from the event.
        """
        return self.drops_early(key) and at_s < self._drawn_at + AHEAD_S

    def is_deliberate(self, key: str) -> bool:
        """Whether a key that bounces or is held counts once on this page."""
        if isinstance(self.focused, Input) and len(key) == 1:
            return False  # it is a letter in a text field
        return key.lower() in DELIBERATE

    @property
    def takes_input(self) -> bool:
        """Whether the page is in front; false once it has been answered or closed."""
        stack = self.app.screen_stack
        return bool(stack) and stack[-1] is self

    @property
    def is_there(self) -> bool:
        """Whether its lines can be drawn: it is mounted and not closed."""
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
            self.call_after_refresh(self._say_early_if_there, key)

    def _say_early_if_there(self, key: str) -> None:
        if self.is_there:
            self.say_early(key)

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
        """Do what a touched key means, unless another page has come to the front."""
        if self.takes_input and self.is_mounted:
            await super().run_action(action, namespaces)

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Return the answer and close, only once.

        Textual removes the page in front, whichever that is, so a second answer would remove
        the page behind this one.
        """
        return super().dismiss(result) if self.takes_input else AwaitComplete()
