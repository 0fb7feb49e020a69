"""The record of a run, to scroll, search, and go from problem to problem."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from benchtimer.records.record import Record
from benchtimer.run.commands import Note
from benchtimer.run.run_state import OVER
from benchtimer.store.log import StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.judging import judge_in_turn
from benchtimer.tui.row_page import RowPage
from benchtimer.view.desk import Desk
from benchtimer.view.pagekeys import RECORD_KEYS
from benchtimer.view.record_rows import beside, found, record_rows, shown_at, troubles
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip


class RecordScreen(RowPage):
    """The record of a run, even an open one.

    Args:
        desk: the run, and where it is judged.

    Raises:
        StoreError: the record can't be read.
    """

    KEYS = RECORD_KEYS
    BINDINGS = bindings(RECORD_KEYS)
    TITLE_WORDS = "Record"

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._record: Record = desk.bench.record(desk.name)
        _ = desk.state  # read it here, where a log error can be reported
        self._drawn: tuple[Record, Size] | None = None
        self._rows: list[Row] = []
        self._words = ""
        self._find: Callable[[Sequence[Row]], list[int]] = troubles
        self._place: int | None = None

    def is_deliberate(self, key: str) -> bool:
        """Holding SPACE keeps scrolling."""
        return key != "space" and super().is_deliberate(key)

    def title_words(self) -> str:
        """The run's name."""
        return f"Record of run {self.desk.name}"

    def lead(self) -> str:
        """Whether the run is over, and what undo would take back."""
        over = self.desk.state.bench.phase in OVER
        phase = f" Run {self.desk.name} {'is over' if over else 'goes on'}."
        undo = "" if self.read_only else f"   {self.desk.takes_back()}"
        return clip(f"{phase}{undo}", self.terminal.width)

    def make_rows(self) -> list[Row]:
        """The record, with the current place highlighted."""
        return shown_at(self._plain_rows(), self._at)

    @property
    def _at(self) -> int | None:
        """The row of the current place. Its index changes with the width and with new entries."""
        places = [] if self._place is None else self._find(self._plain_rows())
        return places[min(self._place or 0, len(places) - 1)] if places else None

    def _plain_rows(self) -> list[Row]:
        wanted = (self._record, self.terminal)
        if self._drawn is None or wanted[0] is not self._drawn[0] or wanted != self._drawn:
            self._drawn = wanted
            self._rows = record_rows(*wanted)
        return self._rows

    def on_resize(self) -> None:
        """At another width, the current place is in another row."""
        super().on_resize()
        self.call_after_refresh(self._bring)

    def look_again(self) -> None:
        """Read the record again; if it can't be read, it stays as it was, with a message."""
        try:
            self._record = self.desk.bench.record(self.desk.name)
            self.heard("")
        except StoreError as error:
            self.heard(str(error))
        self.draw()

    def _bring(self) -> None:
        """Scroll to the current place."""
        if self.is_there and (at := self._at) is not None:
            self.rows.bring_row(at)

    def _go(self, find: Callable[[Sequence[Row]], list[int]], step: int, what: str) -> None:
        here, places = self._at, find(self._plain_rows())
        top = here if here is not None else -1 if step > 0 else 10**9
        at = beside(places, top, step)
        if at is None:
            self.say(f"There is no {what} in this record.")
            return
        self._find, self._place = find, places.index(at)
        self.draw()
        self._bring()
        self.say(f"{what} {self._place + 1} of {len(places)}")

    def action_trouble(self, step: int) -> None:
        """To the next problem."""
        self._go(troubles, step, "trouble")

    def action_search(self) -> None:
        """Search for words; the same words again go to the next match."""

        def look(words: str) -> None:
            if words != self._words:
                self._words, self._place = words, None
            self._go(partial(found, words=words), 1, f'"{words}"')

        self.ask("Search for what? ENTER goes to the next match", look, self._words)

    def _pressed(self) -> None:
        self.look_again()
        self.say(self.desk.message)

    def action_judge(self) -> None:
        """Ask about each part."""
        judge_in_turn(self.app, self.desk, list(self.desk.state.bench.parts), self._pressed)

    def action_note(self) -> None:
        """Write a note."""

        def note(words: str) -> None:
            self.desk.press(Note(words))
            self._pressed()

        self.ask("Note", note)

    def action_again(self) -> None:
        """Set the run up again."""
        self.set_up_again(self.desk.name)

    def action_undo(self) -> None:
        """Take the last press back; if the run continues, the board shows it."""
        was_over = self.desk.state.bench.phase in OVER
        self.desk.undo(self.desk.name)
        self._pressed()
        if was_over and self.desk.state.bench.phase not in OVER:
            self.bench_app.show_run(self.desk.name)


class EndPage(RecordScreen):
    """The record of a run that just ended: J judges its parts, U takes the last press back."""

    TITLE_WORDS = "The run is over"
