"""The names in a log, to complete a word you are typing.

A quick read: it writes nothing, and a faulty log simply has no names. The command that uses a
name opens the log as usual.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import TypeVar

from benchtimer.store.place import FILE_NAME, has_something, wal_of
from benchtimer.store.register import Register
from benchtimer.store.runline import RunLine

T = TypeVar("T")

NEWEST = 200
"""Names come from this many of the newest runs."""

WAIT_S = 0.2
"""How long to wait for a writer's transaction."""

BATHS = "bath/"
"""What the stream of a bath begins with."""

JOBS = "job/"
"""What the stream of a job begins with."""


def run_names(folder: Path) -> list[RunLine]:
    """The newest runs of the log in a folder, newest first."""
    return _asked(folder, lambda _, register: list(islice(register.lines(), NEWEST)))


def bath_names(folder: Path) -> list[str]:
    """The baths of the log in a folder, without retired ones."""
    over = ("bath-retired",)
    return _asked(folder, lambda db, register: _streams(db, register, BATHS, over))


def job_names(folder: Path) -> list[str]:
    """The jobs of the log in a folder that are neither delivered nor dropped."""
    over = ("job-delivered", "job-dropped")
    return _asked(folder, lambda db, register: _streams(db, register, JOBS, over))


def recipes_of(folder: Path, run: str) -> list[str]:
    """The recipes that a run followed."""
    return _asked(folder, lambda _, register: [t for k, t in register.terms(run) if k == "recipe"])


def _streams(
    db: sqlite3.Connection, register: Register, prefix: str, over: tuple[str, ...]
) -> list[str]:
    """The streams whose last entry doesn't end them."""
    query = "SELECT kind FROM event WHERE seq = ?"
    return [
        name.removeprefix(prefix)
        for name, seq in register.ends(prefix).items()
        if db.execute(query, (seq,)).fetchone()[0] not in over
    ]


def _asked(folder: Path, ask: Callable[[sqlite3.Connection, Register], list[T]]) -> list[T]:
    path = folder / FILE_NAME
    try:
        if not has_something(path):
            return []
        # Beside a write-ahead log there may be a writer; without one even a reader that may
        # write nothing would leave files beside the log.
        alone = "" if has_something(wal_of(path)) else "&immutable=1"
        uri = f"{path.absolute().as_uri()}?mode=ro{alone}"
        with closing(sqlite3.connect(uri, uri=True, timeout=WAIT_S, isolation_level=None)) as db:
            db.execute("BEGIN")
            return ask(db, Register(db))
    except Exception:  # an error must not disturb your typing
        return []
