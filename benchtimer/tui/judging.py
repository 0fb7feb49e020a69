"""How the parts came out: the page at the end of a run, and the questions J asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from textual.app import App
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from benchtimer.records.export import as_text
from benchtimer.run.commands import VERDICTS, Judge
from benchtimer.tui.desk import Desk
from benchtimer.tui.dialogs import ChoicePage, TextPage

RATINGS = ("poor", "fair", "good", "very good", "as good as it gets", "no rating")
"""Ratings 1 to 5 in words; the number of the line is the rating."""


def judge_in_turn(
    app: App[Any], desk: Desk, parts: Sequence[str], then: Callable[[], None]
) -> None:
    """Ask verdict and rating of each part; ESC passes one over.

    Args:
        app: the application.
        desk: where the judgements are pressed.
        parts: names of the parts.
        then: what happens when all have been asked.
    """
    if not parts:
        then()
        return
    name, rest = parts[0], parts[1:]

    def rate(verdict: int | None) -> None:
        if verdict is None:
            judge_in_turn(app, desk, rest, then)
            return
        said = VERDICTS[verdict]

        def judged(rating: int | None) -> None:
            given = rating + 1 if rating is not None and rating < 5 else None
            desk.press(Judge(name, said, given))
            judge_in_turn(app, desk, rest, then)

        app.push_screen(ChoicePage(f"{name}, {said}: how good is it?", RATINGS), judged)

    app.push_screen(ChoicePage(f"How did {name} come out?", VERDICTS), rate)


class EndPage(TextPage):
    """The record of a run that is over; J judges its parts, one after the other."""

    BINDINGS = [Binding("j", "judge", "judge", show=False)]
    HINT = "J judges the parts, arrow keys scroll, ESC goes back"

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        record = desk.bench.record(desk.name)
        super().__init__(f"Run {desk.name} is over. The record:", as_text(record))

    def action_judge(self) -> None:
        """Ask for each part."""
        judge_in_turn(self.app, self._desk, list(self._desk.state.bench.parts), self._show)

    def _show(self) -> None:
        """The record again, with what was said; a press that failed is told above it."""
        text = as_text(self._desk.bench.record(self._desk.name))
        told = f"{self._desk.message}\n\n{text}" if self._desk.message else text
        self.query_one(VerticalScroll).query_one(Static).update(told)
