"""The names that a log holds, for somebody who is still typing one.

Read at a glance: the log isn't checked, nothing is written, and whatever is wrong with it
there are just no names. Whoever then uses a name opens the log as everybody does.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

from benchtimer.store.place import FILE_NAME, has_something, wal_of

NEWEST = 200
"""Among so many of the newest runs names are looked for."""

WAIT_S = 0.2
"""How long a writer's transaction is waited for."""

_RUNS = "SELECT name, phase, title, parts FROM run ORDER BY created_ms DESC, last_seq DESC LIMIT ?"
_BATHS = (
    "SELECT substr(run, 6), kind, max(seq) FROM event"
    " WHERE run >= 'bath/' AND run < 'bath0' GROUP BY run ORDER BY run"
)


class RunNames(NamedTuple):
    """A run and the names in it."""

    name: str
    phase: str
    title: str
    parts: tuple[str, ...]


def run_names(folder: Path) -> list[RunNames]:
    """The newest runs of the log in a folder, newest first."""
    rows = _rows(folder, _RUNS, (NEWEST,))
    try:
        return [
            RunNames(name, phase, title, tuple(json.loads(parts)))
            for name, phase, title, parts in rows
        ]
    except (ValueError, TypeError):
        return []


def bath_names(folder: Path) -> list[str]:
    """The baths of the log in a folder that were not retired last."""
    return [name for name, kind, _ in _rows(folder, _BATHS) if kind != "bath-retired"]


def _rows(folder: Path, query: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    path = folder / FILE_NAME
    try:
        if not has_something(path):
            return []
        # Beside a write-ahead log there may be a writer; without one even a reader that may
        # write nothing would leave files beside the log.
        alone = "" if has_something(wal_of(path)) else "&immutable=1"
        uri = f"{path.absolute().as_uri()}?mode=ro{alone}"
        with closing(sqlite3.connect(uri, uri=True, timeout=WAIT_S)) as db:
            return db.execute(query, values).fetchall()
    except Exception:  # a glance never disturbs whoever types
        return []


def recipes_of(folder: Path, run: str) -> list[str]:
    """The recipes that a run followed."""
    query = "SELECT text FROM term WHERE kind = 'recipe' AND run = ? ORDER BY text"
    return [name for (name,) in _rows(folder, query, (run,))]
