"""A page with one field for a typed line, its completion, and the matching recipes."""

from __future__ import annotations

from abc import abstractmethod
from typing import TypeVar

from textual import events
from textual.binding import Binding
from textual.screen import ModalScreen
from textual.suggester import Suggester
from textual.widgets import Input, OptionList, Static

from benchtimer.tui.front import FrontPage

Answer = TypeVar("Answer")


class Completion(Suggester):
    """Shows how the line could continue."""

    def __init__(self, page: TypedLinePage[Answer]) -> None:
        super().__init__(use_cache=False, case_sensitive=True)
        self._page = page

    async def get_suggestion(self, value: str) -> str | None:
        """The line with its last word completed."""
        return self._page.completed(value)


class TypedLinePage(ModalScreen[Answer | None], FrontPage[Answer | None]):
    """Asks for a line. Anything typed here is text and never a command."""

    BINDINGS = [
        Binding("escape", "leave", "back", show=False),
        Binding("tab", "complete", "complete", show=False, priority=True),
    ]

    @abstractmethod
    def completed(self, value: str) -> str | None:
        """The line with its last word completed; None if there is nothing to add."""

    @abstractmethod
    def fitting(self, value: str) -> list[str]:
        """The recipes that still match the line."""

    def on_mount(self) -> None:
        """Typed text goes into the field."""
        self.query_one(Input).focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show the recipes that still match."""
        if self.is_there:
            self.show_fitting(event.value)

    def show_fitting(self, value: str) -> None:
        """Show the recipes that match a line."""
        options = self.query_one(OptionList)
        options.clear_options()
        options.add_options(self.fitting(value))

    def write(self, value: str) -> None:
        """Put a line into the field, for you to continue."""
        field = self.query_one(Input)
        field.value = value
        field.cursor_position = len(value)
        field.focus()

    def hint(self, text: str) -> None:
        """Show a message on the last line."""
        self.query_one(".hint", Static).update(text)

    def action_complete(self) -> None:
        """Take the completion shown."""
        value = self.query_one(Input).value
        self.write(self.completed(value) or value)

    def on_click(self, event: events.Click) -> None:
        """A touch on the last line goes back."""
        if event.widget is not None and event.widget.has_class("hint"):
            self.action_leave()

    def action_leave(self) -> None:
        """Leave without an answer."""
        self.dismiss(None)
