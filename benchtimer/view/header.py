"""The first row of the board: run and time of day, or an alarm."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from benchtimer.bench.moment import Moment
from benchtimer.run.run_state import Bench, RunPhase
from benchtimer.run.setup import setup_progress
from benchtimer.view.text import clip, fill
from benchtimer.view.words import wall_clock

BAND_EDGES = 8
"""Columns of the marks around an alarm."""


def band(message: str, width: int) -> str:
    """A row you can't miss: an alarm between marks that need no color."""
    words = f"!!! {clip(message, width - BAND_EDGES)} " if message else ""
    return words + "!" * (width - cell_len(words))


def header(moment: Moment, width: int, name: str, marks: Sequence[str]) -> str:
    """Marks, run and title on the left, time of day on the right; or the number of runs.

    If that is too long, the word "running" goes, then the run's name, then the end of the title;
    marks and any other state stay.

    Args:
        moment: the bench now.
        width: columns of the screen.
        name: the run.
        marks: words such as PRACTICE.
    """
    time, runs = wall_clock(moment.stamp), moment.shop.runs
    room = width - len(time) - 3
    forms = [[f"{len(runs)} RUNS" if len(runs) > 1 else name]]
    if len(runs) == 1:
        bench = moment.shop.bench(runs[0])
        title, state = bench.title, f"({_state_words(bench, moment.now_ms)})"
        calm = "" if bench.phase is RunPhase.RUNNING else state
        short = clip(title, max(1, room - cell_len(" ".join([*marks, calm])) - 1))
        forms = [[name, title, state], [name, title, calm], [title, calm], [short, calm]]
    texts = [" ".join(word for word in (*marks, *words) if word) for words in forms]
    text = next((text for text in texts if cell_len(text) <= room), texts[-1])
    return f" {fill(text, room)} {time} "


def _state_words(bench: Bench, now_ms: int) -> str:
    """The state of a run; before its start, how far its setup is: ``idle, setup 4 of 14``."""
    done, of = setup_progress(bench, now_ms) if bench.phase is RunPhase.IDLE else (0, 0)
    return f"{bench.phase.value}, setup {done + 1} of {of}" if done < of else bench.phase.value
