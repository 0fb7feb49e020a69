"""How the parts came out: the questions of key J."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from textual.app import App

from benchtimer.run.commands import ACCEPTED, VERDICTS, Judge
from benchtimer.run.run_state import PartPhase
from benchtimer.tui.dialogs import ChoicePage
from benchtimer.view.desk import Desk

RATINGS = ("poor", "fair", "good", "very good", "flawless", "no rating")
"""Ratings 1 to 5 in words; the number of the line is the rating."""


def judge_in_turn(
    app: App[Any], desk: Desk, parts: Sequence[str], then: Callable[[], None], why: str = ""
) -> None:
    """Ask for the verdict and rating of each part; ESC skips one.

    Args:
        app: the application.
        desk: where the judgments are entered.
        parts: names of the parts.
        then: called when all have been asked.
        why: why the first part is asked about again.
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
        scrapped = desk.state.bench.parts[name].phase is PartPhase.SCRAPPED
        if said == ACCEPTED and scrapped and not desk.press(Judge(name, said)):
            judge_in_turn(app, desk, parts, then, f"{desk.message} ")
            return

        def judged(rating: int | None) -> None:
            given = rating + 1 if rating is not None and rating < 5 else None
            desk.press(Judge(name, said, given))
            judge_in_turn(app, desk, rest, then)

        app.push_screen(ChoicePage(f"{name}, {said}: how good is it?", RATINGS), judged)

    app.push_screen(ChoicePage(f"{why}How did {name} come out?", VERDICTS), rate)
