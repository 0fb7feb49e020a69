"""One field for a recipe and its parts, with completion, and the recipes below it to touch."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.suggester import Suggester
from textual.widgets import Input, OptionList, Static

from benchtimer.tui.dialogs import Calling
from benchtimer.tui.front import FrontPage
from benchtimer.view.ordertext import EXAMPLE, OrderTextError, completed, fitting, read_order

HINT = "TAB or → completes, ENTER goes on, ESC goes back"


class _RunCompletion(Suggester):
    """Completes recipes and the names of earlier parts."""

    def __init__(self, recipes: Sequence[str], parts: Sequence[str]) -> None:
        super().__init__(use_cache=False, case_sensitive=True)
        self._recipes, self._parts = recipes, parts

    async def get_suggestion(self, value: str) -> str | None:
        """The line with its last word completed."""
        return completed(value, self._recipes, self._parts)


class OrderPage(ModalScreen[tuple[str, str] | None], FrontPage[tuple[str, str] | None]):
    """Asks for a recipe and parts in one line; gives both, or None.

    What is typed here is text and never a command.

    Args:
        recipes: names of the recipes there are.
        parts: names that parts have had before, the newest first.
        value: what the field holds at first.
    """

    BINDINGS = [
        Binding("escape", "leave", "back", show=False),
        Binding("tab", "complete", "complete", show=False, priority=True),
    ]

    def __init__(self, recipes: Sequence[str], parts: Sequence[str] = (), value: str = "") -> None:
        super().__init__()
        self._recipes, self._parts, self._value = list(recipes), list(parts), value

    def compose(self) -> ComposeResult:
        """The field, then the recipes."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static("Set up: recipe and parts", markup=False, classes="title")
            yield Input(
                self._value,
                placeholder=EXAMPLE,
                max_length=2000,
                select_on_focus=False,
                suggester=_RunCompletion(self._recipes, self._parts),
            )
            yield OptionList(*self._recipes, id="recipes", markup=False)
            yield Static(HINT, classes="hint")

    def on_mount(self) -> None:
        """What is typed goes into the field."""
        self.query_one(Input).focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show the recipes that still fit."""
        if self.is_there:
            options = self.query_one(OptionList)
            options.clear_options()
            options.add_options(fitting(event.value, self._recipes))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Give recipe and parts, or say what is missing."""
        try:
            self.dismiss(read_order(event.value, self._recipes))
        except OrderTextError as error:
            self.query_one(".hint", Static).update(str(error))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A touch on a recipe writes it into the field; the parts are typed after it."""
        field = self.query_one(Input)
        field.value = f"{event.option.prompt} "
        field.cursor_position = len(field.value)
        field.focus()

    def action_complete(self) -> None:
        """Take the completion that is shown."""
        field = self.query_one(Input)
        field.focus()
        completion = completed(field.value, self._recipes, self._parts)
        if completion is not None:
            field.value = completion
            field.cursor_position = len(completion)

    def on_click(self, event: events.Click) -> None:
        """A touch on the line at the bottom goes back."""
        if event.widget is not None and event.widget.has_class("hint"):
            self.action_leave()

    def action_leave(self) -> None:
        """Set nothing up."""
        self.dismiss(None)
