"""One field for a new job: its name, the day it is due, then its parts, with completion."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, OptionList, Static

from benchtimer.job.order import Order
from benchtimer.records.inert import visible
from benchtimer.run.refusals import Refused
from benchtimer.store.log import StoreError
from benchtimer.tui.dialogs import Calling
from benchtimer.tui.typed_line import Completion, TypedLinePage
from benchtimer.view.jobtext import JobDraft

HINT = "TAB or → completes, ENTER goes on, ESC leaves without saving"


class JobOrderPage(TypedLinePage[str]):
    """Asks for a job line by line and saves it. Returns its name, or None.

    A job that is refused stays in the field.

    Args:
        recipes: names of all recipes.
        taken: names of all jobs.
        today: today's date in the shop.
        save: saves the job; its errors are shown.
    """

    def __init__(
        self,
        recipes: Sequence[str],
        taken: Sequence[str],
        today: date,
        save: Callable[[str, Order], object],
    ) -> None:
        super().__init__()
        self._recipes, self._today, self._save = list(recipes), today, save
        self._draft = JobDraft(taken=tuple(taken))

    def compose(self) -> ComposeResult:
        """What you have typed, the field, then the recipes."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static("New job", markup=False, classes="title")
            yield Static("", markup=False, id="typed")
            yield Static(self._draft.asks, markup=False, id="asks")
            yield Input(max_length=2000, select_on_focus=False, suggester=Completion(self))
            yield OptionList(id="recipes")
            yield Static(HINT, markup=False, classes="hint")

    def completed(self, value: str) -> str | None:
        """The line with its last word completed."""
        return self._draft.completed(value, self._recipes)

    def fitting(self, value: str) -> list[str]:
        """The recipes that still match the line."""
        return self._draft.fitting(value, self._recipes)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the line, or save the job if nothing more is typed."""
        order = self._draft.order
        try:
            if not event.value.strip() and order is not None:
                self._save(self._draft.name, order)
                self.dismiss(self._draft.name)
                return
            self._draft = self._draft.typed(event.value, self._recipes, self._today)
        except (ValueError, Refused, StoreError) as error:
            self.hint(visible(str(error)))
            return
        self.query_one("#typed", Static).update(visible("\n".join(self._draft.lines)))
        self.query_one("#asks", Static).update(self._draft.asks)
        self.hint(HINT)
        self.query_one(Input).value = ""
        self.show_fitting("")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A touch on a recipe adds it to the line."""
        field = self.query_one(Input)
        cut = max(field.value.rfind(sign) for sign in ("=", ">")) + 1
        self.write(f"{field.value[:cut]} {event.option.prompt}" if cut else field.value)
