"""Checks whether this program could have written a log or run from elsewhere.

The bench reads what it accepts at every opening and shows it on screen. So this module checks
it first, entry by entry: it must be readable, fold, be whole, and have no text that could
disturb a screen and no number that a clock can't show.

It also rebuilds a log from its entries, with nothing else of the original file.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

from benchtimer.bath.bath_events import BathEvent
from benchtimer.bath.bath_state import fold as fold_bath
from benchtimer.job.job_events import JOB_STREAM, JobEvent
from benchtimer.job.job_state import fold_job
from benchtimer.recipe.fields import unsafe_character
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import build_recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.run.agenda import agenda
from benchtimer.run.events import Created, Event
from benchtimer.run.evolve import evolve, fold
from benchtimer.run.run_state import OVER, RunState
from benchtimer.store.check import whole_entries
from benchtimer.store.entries import LogEntry, body_of, read_through
from benchtimer.store.errors import DAMAGE, SQLITE_TROUBLE
from benchtimer.store.log import EventLog
from benchtimer.store.runline import RunLine
from benchtimer.store.seal import Broken

RUN_NAME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}-[0-9]{1,6}[a-z]?")
"""Names of runs become file names, so no other form is accepted."""

BATH = "bath/"
"""What the stream of a bath begins with."""


def check_log(path: Path, entries: Sequence[LogEntry]) -> None:
    """Check every stream of a log whose seals are all valid.

    Raises:
        StoreError: naming the bad entry.
    """
    streams: dict[str, list[LogEntry]] = {}
    for entry in entries:
        streams.setdefault(entry.run, []).append(entry)
    if [entry.seq for entry in entries] != list(range(1, len(entries) + 1)):
        raise ValueError("entries are missing from it")
    for name, stream in streams.items():
        read_through(path, stream, partial(_check_stream, name))


def _check_stream(name: str, entries: Sequence[LogEntry]) -> None:
    check_order([(entry.event.t_ms, entry.stamp.noted_ms) for entry in entries])
    state = checked_stream(name, [entry.event for entry in entries])
    if state is not None and state.bench.phase not in OVER:
        check_workable(state)


def lines_of(entries: Sequence[LogEntry]) -> Iterator[RunLine]:
    """The register's lines of all runs, made from the entries, in order of setup."""
    streams: dict[str, list[LogEntry]] = {}
    for entry in entries:
        streams.setdefault(entry.run, []).append(entry)
    return (_line(stream) for stream in streams.values() if isinstance(stream[0].event, Created))


def _line(entries: Sequence[LogEntry]) -> RunLine:
    first, bench = entries[0], fold(entry.event for entry in entries).bench
    name, stamp = first.run, first.stamp
    return RunLine(
        name, bench.phase.value, bench.title, tuple(bench.parts), stamp.wall_ms, stamp.offset_s
    )


def checked_stream(name: str, events: Sequence[Event]) -> RunState | None:
    """The state of a run's stream of entries; None for a bath's or a job's.

    Raises:
        ValueError: it is none that this program could have written, and so do the other
            errors of ``log.DAMAGE``.
    """
    for event in events:
        check_texts(event)
    if name.startswith(BATH):
        fold_bath(name.removeprefix(BATH), events)
        return None
    if name.startswith(JOB_STREAM):
        _ = fold_job(name.removeprefix(JOB_STREAM), events).job
        return None
    return checked_run(name, events)


def checked_run(name: str, events: Sequence[Event]) -> RunState:
    """The state of a run; errors as in ``checked_stream``."""
    if RUN_NAME.fullmatch(name) is None:
        raise ValueError("its name is not one that this program gives")
    state = RunState()
    for number, event in enumerate(events):
        if isinstance(event, BathEvent | JobEvent) or isinstance(event, Created) != (number == 0):
            raise ValueError("it does not begin with its setup, or does so twice")
        if isinstance(event, Created) and len(set(event.numbers)) not in (0, len(event.parts)):
            raise ValueError("its setup does not give each part a number of its own")
        state = evolve(state, event)
        for part in state.bench.parts.values():
            state.bench.recipe_of(part)
    for recipe in state.bench.recipes.values():
        _ = recipe.ways  # every send leads to an existing step
    return state


def check_order(times_ms: Sequence[tuple[int, int]]) -> None:
    """Refuse a stream whose time goes back, or with an event later than its entry.

    Args:
        times_ms: for each entry, when it happened and when it was written, in bench time.
    """
    written = [noted_ms for _, noted_ms in times_ms]
    if written != sorted(written) or any(t_ms > noted_ms for t_ms, noted_ms in times_ms):
        raise ValueError("its entries are not in the order of time")


def check_workable(state: RunState) -> None:
    """Refuse an open run whose recipes can't be followed to their end.

    Closed runs are exempt, since rules may have become stricter since.
    """
    for key, recipe in state.bench.sources.items():
        try:
            build_recipe(recipe_table(recipe), name=key)
        except RecipeError as error:
            raise ValueError(f"recipe {key}, {error.problems[0]}") from None
    agenda(state.bench, state.last_ms)


def check_texts(event: Event) -> None:
    """Refuse an event with a text that could disturb a screen."""
    for text in _texts([event.by, body_of(event)]):
        bad = unsafe_character(text, lines=True)
        if bad is not None:
            raise ValueError(f"the character {bad} could disturb the screen")


def _texts(value: Any) -> Iterator[str]:
    """Every text in a body, keys included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from (text for pair in value.items() for text in _texts(pair))
    elif isinstance(value, list | tuple):
        yield from (text for item in value for text in _texts(item))


def make_anew(source: Path, folder: Path) -> None:
    """Build a log in an empty folder from the entries of another file, and check it.

    Raises:
        Broken: an entry there is damaged or missing.
        StoreError: the bench can't open it; the errors of ``DAMAGE`` mean the same.
    """
    with closing(sqlite3.connect(source)) as db:
        rows, facts = whole_entries(db)
    with closing(EventLog(folder)) as log:
        entries = log.refill(rows, facts)
        check_log(log.path, entries)
        log.register_runs(lines_of(entries))


def mendable(path: Path) -> int:
    """The number of entries of a damaged log if all are whole, so it can be rebuilt.

    It may have presses that no backup has yet. 0 if an entry is damaged or missing.
    """
    try:
        with closing(open_to_read(path)) as db:
            return len(whole_entries(db)[0])
    except (Broken, OSError, *SQLITE_TROUBLE, *DAMAGE):
        return 0


def open_to_read(path: Path) -> sqlite3.Connection:
    """A read-only connection to a file."""
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
