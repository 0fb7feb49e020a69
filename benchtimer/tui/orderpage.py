"""One field for the plan of a new run: a recipe, then parts, with completion."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, OptionList, Static

from benchtimer.tui.dialogs import Calling
from benchtimer.tui.typed_line import Completion, TypedLinePage
from benchtimer.view.ordertext import EXAMPLE, OrderTextError, completed, fitting, read_order

HINT = "TAB or → completes, ENTER goes on, ESC goes back"


class OrderPage(TypedLinePage[tuple[str, str]]):
    """Asks for a recipe and parts on one line. Returns both, or None.

    Args:
        recipes: names of all recipes.
        parts: names of earlier parts, newest first.
        value: the initial text.
    """

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
                suggester=Completion(self),
            )
            yield OptionList(*self._recipes, id="recipes", markup=False)
            yield Static(HINT, classes="hint")

    def completed(self, value: str) -> str | None:
        """The line with its last word completed."""
        return completed(value, self._recipes, self._parts)

    def fitting(self, value: str) -> list[str]:
        """The recipes that still match the line."""
        return fitting(value, self._recipes)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Return the recipe and parts, or say what is missing."""
        try:
            self.dismiss(read_order(event.value, self._recipes))
        except OrderTextError as error:
            self.hint(str(error))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A touch on a recipe puts it in the field; you type the parts after it."""
        self.write(f"{event.option.prompt} ")
