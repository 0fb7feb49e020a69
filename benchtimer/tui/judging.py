"""The page at the end of a run: its record, and one key that asks how each part came out."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from benchtimer.records.export import as_text
from benchtimer.run.commands import VERDICTS, Judge
from benchtimer.tui.desk import Desk
from benchtimer.tui.dialogs import ChoicePage, TextPage
from benchtimer.tui.menu import RATINGS


class EndPage(TextPage):
    """The record of a run that is over; J judges its parts, one after the other."""

    BINDINGS = [Binding("j", "judge", "judge", show=False)]
    HINT = "J judges the parts, arrow keys scroll, ESC goes back"

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        record = desk.bench.record(desk.name)
        super().__init__(f"Run {desk.name} is over. The record:", as_text(record))

    def action_judge(self) -> None:
        """Ask for each part; ESC passes one over."""
        self._ask(list(self._desk.state.bench.parts))

    def _ask(self, parts: Sequence[str]) -> None:
        if not parts:
            self._show()
            return
        page = ChoicePage(f"How did {parts[0]} come out?", VERDICTS)
        self.app.push_screen(page, partial(self._rate, parts))

    def _rate(self, parts: Sequence[str], verdict: int | None) -> None:
        if verdict is None:
            self._ask(parts[1:])
            return
        page = ChoicePage(f"{parts[0]}, {VERDICTS[verdict]}: how good is it?", RATINGS)
        self.app.push_screen(page, partial(self._judged, parts, VERDICTS[verdict]))

    def _judged(self, parts: Sequence[str], verdict: str, rating: int | None) -> None:
        given = rating + 1 if rating is not None and rating < 5 else None
        self._desk.press(Judge(parts[0], verdict, given))
        self._ask(parts[1:])

    def _show(self) -> None:
        """The record again, with what was said; a press that failed is told above it."""
        text = as_text(self._desk.bench.record(self._desk.name))
        told = f"{self._desk.message}\n\n{text}" if self._desk.message else text
        self.query_one(VerticalScroll).query_one(Static).update(told)
