"""One field for a new job: its name, the day it is due, then its parts, with completion."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.suggester import Suggester
from textual.widgets import Input, OptionList, Static

from benchtimer.job.order import Order
from benchtimer.records.inert import visible
from benchtimer.run.refusals import Refused
from benchtimer.store.log import StoreError
from benchtimer.tui.dialogs import Calling
from benchtimer.tui.front import FrontPage
from benchtimer.view.jobtext import JobDraft

HINT = "TAB or → completes, ENTER goes on, ESC leaves without saving"


class _JobCompletion(Suggester):
    """Completes recipes and the names of parts."""

    def __init__(self, page: JobOrderPage) -> None:
        super().__init__(use_cache=False, case_sensitive=True)
        self._page = page

    async def get_suggestion(self, value: str) -> str | None:
        """The line with its last word completed."""
        return self._page.completed(value)


class JobOrderPage(ModalScreen[str | None], FrontPage[str | None]):
    """Asks for a job line by line and saves it; gives its name, or None.

    What is typed here is text and never a command. A job that is refused stays in the field.

    Args:
        recipes: names of the recipes there are.
        today: the date on the shop's wall.
        save: saves the job; what it raises is shown.
    """

    BINDINGS = [
        Binding("escape", "leave", "back", show=False),
        Binding("tab", "complete", "complete", show=False, priority=True),
    ]

    def __init__(
        self, recipes: Sequence[str], today: date, save: Callable[[str, Order], object]
    ) -> None:
        super().__init__()
        self._recipes, self._today, self._save = list(recipes), today, save
        self._draft = JobDraft()

    def compose(self) -> ComposeResult:
        """What was typed, the field, then the recipes."""
        with Vertical(classes="page"):
            yield Calling()
            yield Static("New job", markup=False, classes="title")
            yield Static("", markup=False, id="typed")
            yield Static(self._draft.asks, markup=False, id="asks")
            yield Input(max_length=2000, select_on_focus=False, suggester=_JobCompletion(self))
            yield OptionList(id="recipes")
            yield Static(HINT, markup=False, classes="hint")

    def on_mount(self) -> None:
        """What is typed goes into the field."""
        self.query_one(Input).focus()

    def completed(self, value: str) -> str | None:
        """The line with its last word completed."""
        return self._draft.completed(value, self._recipes)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show the recipes that still fit."""
        if self.is_there:
            self._offer(event.value)

    def _offer(self, text: str) -> None:
        options = self.query_one(OptionList)
        options.clear_options()
        options.add_options(self._draft.fitting(text, self._recipes))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the line, or save the job if nothing is typed any more."""
        order = self._draft.order
        try:
            if not event.value.strip() and order is not None:
                self._save(self._draft.name, order)
                self.dismiss(self._draft.name)
                return
            self._draft = self._draft.typed(event.value, self._recipes, self._today)
        except (ValueError, Refused, StoreError) as error:
            self.query_one(".hint", Static).update(visible(str(error)))
            return
        self.query_one("#typed", Static).update(visible("\n".join(self._draft.lines)))
        self.query_one("#asks", Static).update(self._draft.asks)
        self.query_one(".hint", Static).update(HINT)
        self.query_one(Input).value = ""
        self._offer("")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A touch on a recipe writes it behind what is typed."""
        field = self.query_one(Input)
        cut = max(field.value.rfind(sign) for sign in ("=", ">")) + 1
        if cut:
            field.value = f"{field.value[:cut]} {event.option.prompt}"
        field.cursor_position = len(field.value)
        field.focus()

    def action_complete(self) -> None:
        """Take the completion that is shown."""
        field = self.query_one(Input)
        field.focus()
        completion = self.completed(field.value)
        if completion is not None:
            field.value = completion
            field.cursor_position = len(completion)

    def on_click(self, event: events.Click) -> None:
        """A touch on the line at the bottom goes back."""
        if event.widget is not None and event.widget.has_class("hint"):
            self.action_leave()

    def action_leave(self) -> None:
        """Save nothing."""
        self.dismiss(None)
