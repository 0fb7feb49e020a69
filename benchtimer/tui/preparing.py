"""The preparation page on the screen: ticks are presses of the run, in its log, with undo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtimer.bench.driver import Driver
from benchtimer.prepare import make_page
from benchtimer.recipe.model import Recipe
from benchtimer.run.commands import Prepare
from benchtimer.run.state import Tick
from benchtimer.store.log import StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.page import Page
from benchtimer.tui.rows import Rows
from benchtimer.view.board import undo_line
from benchtimer.view.desk import Desk
from benchtimer.view.pagekeys import PREPARE_KEYS
from benchtimer.view.preparation import count_words, keys_of, next_open, prepare_rows
from benchtimer.view.row import Row
from benchtimer.view.text import clip


class PrepareScreen(Page):
    """What to wear, lay out, mix, heat and read before a run.

    Args:
        desk: the run; None while it is only planned: then nothing can be ticked yet.
        recipes: the recipes of a run that is only planned.
    """

    KEYS = PREPARE_KEYS
    BINDINGS = bindings(PREPARE_KEYS)
    TITLE_WORDS = "Preparation"

    def __init__(self, desk: Desk | None, recipes: Sequence[Recipe] = ()) -> None:
        super().__init__()
        self.desk = desk
        self._recipes = list(recipes)

    def on_mount(self) -> None:
        """Make the page once; what is ticked comes from the run."""
        if self.desk is not None:
            self._recipes = list(self.desk.state.bench.recipes.values())
        self._page = make_page(self._recipes, self.house.settings, self._baths())
        super().on_mount()

    def _baths(self) -> Mapping[str, str]:
        """What the bath book has for each station; nothing is said where it can't be read."""
        if not isinstance(self.bench, Driver):
            return {}
        tied = self.desk.state.bench.baths if self.desk is not None else None
        try:
            return self.bench.baths.in_words(self._recipes, self.bench.stamp().noted_ms, tied)
        except StoreError as error:
            self.say(str(error))
            return {}

    @property
    def _ticks(self) -> Mapping[str, Tick]:
        return self.desk.state.bench.prepared if self.desk is not None else {}

    def title_words(self) -> str:
        """Which run."""
        return f"Preparation of run {self.desk.name}" if self.desk is not None else "Preparation"

    def lead(self) -> str:
        """How much is ready."""
        if self.desk is None:
            return " Ticks are kept with the run: lay it out first, then K shows this page."
        told = f" {count_words(self._page, self._ticks)}"
        undo = "" if self.read_only else f"   {undo_line(self.desk.state)}"
        return clip(f"{told}{undo}", self.terminal.width)

    def make_rows(self) -> list[Row]:
        """The lines."""
        return prepare_rows(self._page, self._ticks, self.bench.stamp(), self.terminal)

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """A touch ticks."""
        if not self.read_only:
            self._press(event.key, "")

    def _press(self, key: str, said: str) -> None:
        if self.desk is None or not key:
            return
        self.desk.press(Prepare(key, ready=bool(said) or key not in self._ticks, said=said))
        self.say(self.desk.message)
        self.draw()

    def action_tick(self) -> None:
        """Ready; again: not ready after all."""
        key = self.rows.chosen
        was_open = key not in self._ticks
        self._press(key, "")
        if was_open and key in self._ticks:
            self.action_move(1)

    def action_tick_with_words(self) -> None:
        """Ready, with words."""
        key = self.rows.chosen
        if self.desk is not None and key:
            self.ask(f"{key}: what is to be said of it?", lambda text: self._press(key, text))

    def action_next_open(self) -> None:
        """To the next line without a tick."""
        key = next_open(keys_of(self._page), self._ticks, self.rows.chosen)
        if key is None:
            self.say("Everything is ticked.")
        else:
            self.rows.point_at_key(key)

    def action_undo(self) -> None:
        """Take the last press back."""
        if self.desk is not None:
            self.desk.undo()
            self.say(self.desk.message)
            self.draw()
