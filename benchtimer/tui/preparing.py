"""The checklist on the screen: check marks are presses of the run, in its log, with undo."""

from __future__ import annotations

from collections.abc import Mapping

from benchtimer.check_list import make_page
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.run.commands import Heat, Prepare
from benchtimer.run.run_state import TickedItem
from benchtimer.run.setup import Entries, SetupItem, entries_of, items_of, ticks_of
from benchtimer.store.log import StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.row_page import RowPage
from benchtimer.view.desk import Desk
from benchtimer.view.pagekeys import PREPARE_KEYS
from benchtimer.view.preparation import (
    count_words,
    gear_ticks,
    is_ready,
    keys_of,
    next_open,
    prepare_rows,
)
from benchtimer.view.row import Row
from benchtimer.view.text import clip


class PrepareScreen(RowPage):
    """What to wear, lay out, mix, heat and read before a run.

    Args:
        desk: the run; None while it is only planned: then nothing can be checked off yet.
        recipes: the recipes of a run that is only planned, by key.
    """

    KEYS = PREPARE_KEYS
    CAUTIOUS = True
    BINDINGS = bindings(PREPARE_KEYS)
    TITLE_WORDS = "Checklist"

    def __init__(self, desk: Desk | None, recipes: Mapping[str, Recipe] | None = None) -> None:
        super().__init__()
        self.desk = desk
        self._recipes = recipes or {}

    def on_mount(self) -> None:
        """Make the page once; check marks come from the run."""
        placed, baths = self._placed()
        self._page = make_page(placed, self.bench_app.settings, baths, self._entered)
        super().on_mount()

    def _placed(self) -> tuple[Mapping[str, Recipe], Mapping[str, str]]:
        """The recipes at their places, and what the bath book has for each place.

        Baths are left out if the book can't be read.
        """
        bench, now_ms = self.bench, self.bench.stamp().noted_ms
        book = bench.book
        try:
            if self.desk is not None:
                state = self.desk.state.bench
                in_book = dict.fromkeys(state.baths, "in the bath book")
                baths = book.in_words(state.baths, now_ms) if book else {}
                return state.recipes, {**in_book, **baths}
            if book is not None:
                found, tied = book.placed(self._recipes, now_ms)
                return found.recipes, book.in_words(tied, now_ms)
        except StoreError as error:
            self.say(str(error))
        return (state.recipes if self.desk is not None else self._put()), {}

    def _put(self) -> Mapping[str, Recipe]:
        return put(self._recipes, shop=self.bench_app.settings.places).recipes

    @property
    def _ticks(self) -> Mapping[str, TickedItem]:
        """What is checked off, and gear that is on by the pages you have confirmed."""
        if self.desk is None:
            return {}
        worn = gear_ticks(self._page, self.desk.state.bench, self.bench.stamp().noted_ms)
        return {**worn, **self._own}

    @property
    def _own(self) -> Mapping[str, TickedItem]:
        """What was checked off here or by the setup."""
        return ticks_of(self.desk.state.bench) if self.desk is not None else {}

    def title_words(self) -> str:
        """The run's name."""
        return f"Checklist of run {self.desk.name}" if self.desk is not None else "Checklist"

    def lead(self) -> str:
        """How much is ready."""
        if self.desk is None:
            return " Check marks are kept with the run: set it up first, then K shows this page."
        counts = f" {count_words(self._page, self._ticks)}"
        undo = "" if self.read_only else f"   {self.desk.takes_back()}"
        return clip(f"{counts}{undo}", self.terminal.width)

    def make_rows(self) -> list[Row]:
        """The lines."""
        return prepare_rows(self._page, self._ticks, self.bench.stamp(), self.terminal)

    def touched(self, key: str) -> None:
        """A touch checks off a line."""
        if not self.read_only:
            self._press(key, "")

    def _press(self, key: str, said: str) -> None:
        """Check off a line, or take its mark off; this also does the matching setup work."""
        if self.desk is None or not key:
            return
        item, ready = self._setup.get(key), is_ready(self._own, key)
        if item is not None and item.place is not None:
            if ready:
                self.say("The heat is on. U takes the last press back.")
                return
            self.desk.press(Heat(item.place))
        elif item is not None and item.asks is not None and not said:
            self._ask_figure(item, key)
            return
        else:
            self.desk.press(Prepare(key, ready=bool(said) or not ready, said=said))
        self.say(self.desk.message)
        self.draw()

    @property
    def _setup(self) -> Mapping[str, SetupItem]:
        """The lines of this page that are also in the run's setup."""
        recipes = self.desk.state.bench.recipes if self.desk is not None else {}
        return {item.key: item for item in items_of(recipes, self._entered)}

    @property
    def _entered(self) -> Entries | None:
        return entries_of(self.desk.state.bench) if self.desk is not None else None

    def _ask_figure(self, item: SetupItem, key: str) -> None:
        unit = item.asks.unit if item.asks is not None else ""
        self.ask(f"{item.title} Enter it in {unit}", lambda text: self._press(key, text))

    def action_tick(self) -> None:
        """Check off; again: take the mark off."""
        key = self.rows.chosen
        was_open = not is_ready(self._own, key)
        self._press(key, "")
        if was_open and is_ready(self._own, key):
            self.action_move("down")

    def action_tick_with_words(self) -> None:
        """Check off with a note."""
        key = self.rows.chosen
        item = self._setup.get(key)
        if item is not None and item.place is not None:
            self.say("SPACE checks this one off: the heat is on.")
        elif item is not None and item.asks is not None:
            self._ask_figure(item, key)
        elif self.desk is not None and key:
            self.ask(f"{key}: what should the record say?", lambda text: self._press(key, text))

    def action_next_open(self) -> None:
        """To the next line that is not checked off."""
        key = next_open(keys_of(self._page), self._ticks, self.rows.chosen)
        if key is None:
            self.say("Everything is checked off.")
        else:
            self.rows.point_at_key(key)

    def action_undo(self) -> None:
        """Take the last press back."""
        if self.desk is not None:
            self.desk.undo(self.desk.name)
            self.say(self.desk.message)
            self.draw()
