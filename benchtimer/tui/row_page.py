"""What the pages around a run share: header, rows, one message, the footer with keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar, TypeVar

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.widgets import OptionList
from textual.worker import Worker, WorkerState

from benchtimer.bench.open_bench import OpenBench
from benchtimer.recipe.problems import RecipeError
from benchtimer.records.inert import visible
from benchtimer.run.refusals import Refused
from benchtimer.store.log import StoreError
from benchtimer.tui.bench_screen import BenchScreen
from benchtimer.tui.dialogs import ChoicePage, HelpPage, LinePage
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.front import too_early
from benchtimer.tui.lines import PageText
from benchtimer.tui.rows import RowOption, Rows
from benchtimer.view.keys import Key
from benchtimer.view.pagekeys import allowed
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import fill
from benchtimer.view.words import wall_clock

T = TypeVar("T")

TALL = 30
"""On a screen at least this high, the keys in the footer are large."""

FAILED = {
    "evening": "Tonight's work could not be worked out",
    "titles": "The recipes' titles could not be read",
    "trials": "The plan and the chance could not be worked out",
}
"""What is missing on a page when a thread of this group fails."""

LEAST_DUE = 24
"""Columns kept in the header for what is due, whatever the page's title needs."""

EARLY_S = 5.0
"""How long a page says that a key came too early."""

MOVES = {
    "down": ("action_cursor_down", "scroll_down"),
    "up": ("action_cursor_up", "scroll_up"),
    "page down": ("action_page_down", "scroll_page_down"),
    "page up": ("action_page_up", "scroll_page_up"),
    "first": ("action_first", "scroll_home"),
    "last": ("action_last", "scroll_end"),
}
"""What a key of ``MOVING`` does in a list, and in text."""


class _Let(Exception):
    """Carries an error past the ones that a page reports itself."""

    def __init__(self, error: Exception) -> None:
        self.error = error
        super().__init__(error)


def _raising(do: Callable[[], T], error: type[Exception]) -> Callable[[], T]:
    def done() -> T:
        try:
            return do()
        except error as found:
            raise _Let(found) from None

    return done


class RowPage(BenchScreen):
    """A page of rows. Plain functions make its content; the page draws it and passes on keys."""

    KEYS: ClassVar[Sequence[Key]] = ()
    TITLE_WORDS: ClassVar[str] = ""
    VERTICAL_BREAKPOINTS = [(0, "-low"), (TALL, "-tall")]
    TICKS: ClassVar[bool] = False
    """Whether the page shows running work, and so changes over time."""

    def __init__(self) -> None:
        super().__init__()
        self._trouble = ""
        self._known: dict[str, int] = {}

    @property
    def bench(self) -> OpenBench:
        """The bench."""
        return self.bench_app.bench

    @property
    def read_only(self) -> bool:
        """Watching only."""
        return self.bench.read_only

    @property
    def rows(self) -> Rows:
        """The rows."""
        return self.query_one(Rows)

    @property
    def terminal(self) -> Size:
        """Columns for text, and rows of the terminal."""
        return Size(max(20, self.app.size.width - 3), self.app.size.height)

    def compose(self) -> ComposeResult:
        """Header, the lines above the rows, the rows, a message, the keys."""
        yield PageText("header")
        yield PageText("lead")
        yield Rows()
        yield PageText("message")
        yield KeyFooter()

    def on_mount(self) -> None:
        """Show what there is."""
        self._known = self._news()
        self.draw()
        self.set_interval(1.0, self.tick)

    def on_resize(self) -> None:
        """Draw for the new size."""
        self.call_after_refresh(self.draw)

    def on_screen_resume(self) -> None:
        """Something may have changed while another page was in front."""
        self.look_again()

    def tick(self) -> None:
        """Once a second, while the page is in front: the time, new entries, and their effects."""
        if not self.is_current:
            return
        self._listen()
        news = self._news()
        if news != self._known:
            self._known = news
            self.look_again()
        elif self.TICKS:
            self.draw()
        else:
            self._draw_top()

    def _listen(self) -> None:
        """Check the log and the clock; a problem stays on the screen until it is over."""
        try:
            self.bench.look()
            self.heard("")
        except StoreError as error:
            self.heard(str(error))

    def _news(self) -> dict[str, int]:
        """The presses in each run, to notice new ones."""
        return {name: self.bench.state(name).presses for name in self.bench.names}

    def heard(self, trouble: str) -> None:
        """Report what is wrong with the log; the message goes when it is over."""
        if trouble or self._trouble:
            self._trouble = trouble
            self.say(trouble)

    def draw(self) -> None:
        """Draw what has changed."""
        if self.is_there:
            self._draw_top()
            self.rows.show(self.make_rows())

    def _draw_top(self) -> None:
        """What is above the rows: it can have a time that counts."""
        self._draw_header()
        lead = self.query_one("#lead", PageText)
        lead.say(self.lead())
        lead.set_class(self.leads_late(), "late")

    def _draw_header(self) -> None:
        time = wall_clock(self.bench.stamp())
        room = self.app.size.width - len(time) - 3
        key = " (H)" if any(key.action == "home" for key in self.KEYS) else ""
        unsaved = ["NOT SAVED"] if self.bench.unsaved_entries else []
        rest = [*self.bench_app.marks, self.title_words()]
        free = room - cell_len("  ".join([*unsaved, "", *rest]) + key)
        due = self.bench_app.due_words(max(LEAST_DUE, free))
        left = "  ".join([*unsaved, *([f"{due}{key}"] if due else []), *rest])
        self.query_one("#header", PageText).say(f" {fill(visible(left, keep=''), room)} {time} ")

    def title_words(self) -> str:
        """The words of the header."""
        return self.TITLE_WORDS

    def lead(self) -> str:
        """The lines above the rows."""
        return ""

    def leads_late(self) -> bool:
        """Whether the lines above the rows are about a late part."""
        return False

    def make_rows(self) -> list[Row]:
        """The rows."""
        return []

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """If a thread has failed, say what is missing; the rest of the page works."""
        if event.state is WorkerState.ERROR and event.worker.group in FAILED:
            self.say(f"{FAILED[event.worker.group]}: {event.worker.error}")

    def look_again(self) -> None:
        """Read again what does not change over time, and draw."""
        self.draw()

    def say(self, text: str) -> None:
        """Show a message until the next one."""
        if self.is_there:
            self.query_one("#message", PageText).say(text)

    def say_early(self, key: str) -> None:
        """Say for a moment that a key came before this page could be seen."""
        text = too_early(key)
        self.say(text)
        self.set_timer(EARLY_S, lambda: self._unsay(text))

    def _unsay(self, text: str) -> None:
        if self.is_there and self.query_one("#message", PageText).said == text:
            self.say("")

    def attempt(self, do: Callable[[], T]) -> T | None:
        """Do it, or say why not and return None."""
        try:
            done = do()
        except (StoreError, Refused, RecipeError, ValueError) as error:
            self.say(str(error))
            return None
        self.say("")
        return done

    def attempt_but(self, do: Callable[[], T], error: type[Exception]) -> T | None:
        """Like ``attempt``, but one error is for the caller."""
        try:
            return self.attempt(_raising(do, error))
        except _Let as let:
            raise let.error from None

    def ask(self, title: str, then: Callable[[str], None], value: str = "") -> None:
        """Ask for a line, with an initial text; nothing happens on ESC.

        Args:
            title: what to ask.
            then: called with the line.
            value: the initial text.
        """
        self.app.push_screen(LinePage(title, value), lambda text: then(text) if text else None)

    def offer(self, title: str, choices: Sequence[tuple[str, str]]) -> None:
        """Offer actions without a key, as a list to choose from."""

        def chosen(index: int | None) -> None:
            if index is not None:
                getattr(self, f"action_{choices[index][0]}")()

        self.app.push_screen(ChoicePage(title, [words for _, words in choices]), chosen)

    def set_up_again(self, name: str) -> None:
        """Ask for the new names of a run's parts, then plan it again."""
        from benchtimer.view.draft import names_in  # it imports the planner, so not at the start

        new = self.attempt(lambda: self.bench.again(name))
        if new is None:
            return
        count = len(new.parts)
        title = f"{new.title} again: the name of its part" if count == 1 else (
            f"{new.title} again: the names of its {count} parts, in this order"
        )  # fmt: skip

        def named(text: str) -> None:
            self.attempt(lambda: self.bench_app.plan_again(self.bench.again(name, names_in(text))))

        self.ask(title, named, ", ".join(part for part, _ in new.parts))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A watcher has no keys that change anything."""
        del parameters
        changing = {key.action.partition("(")[0] for key in self.KEYS if key.changes}
        return not (self.read_only and action in changing)

    def action_move(self, way: str) -> None:
        """Move the mark; a page without selectable rows is text, which scrolls."""
        walk, scroll = MOVES[way]
        if self.rows.highlighted is not None:
            getattr(self.rows, walk)()
        else:
            getattr(self.rows, scroll)(animate=False)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """You touched a row."""
        if self.is_there and isinstance(event.option, RowOption):
            self.touched(event.option.row.key)

    def touched(self, key: str) -> None:
        """What a touch on the row with this key does."""

    def action_help(self) -> None:
        """The keys of this page."""
        keys = allowed(self.KEYS, read_only=self.read_only)
        self.app.push_screen(HelpPage(f"Keys: {self.TITLE_WORDS or 'this page'}", keys))

    def action_back(self) -> None:
        """Back to the page before."""
        self.bench_app.go_back()
