"""A log made again from its entries, with nothing else of the file that they come from."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from benchtimer.store.check import whole_entries
from benchtimer.store.errors import DAMAGE, SQLITE_TROUBLE
from benchtimer.store.log import EventLog
from benchtimer.store.log_validity import check_log, lines_of
from benchtimer.store.seal import Broken


def make_anew(source: Path, folder: Path) -> None:
    """Make a log in an empty folder from the entries of another file, and read it through.

    Raises:
        Broken: an entry there is damaged or missing.
        StoreError: the bench could not be opened with it; the errors of ``DAMAGE`` say so, too.
    """
    with closing(sqlite3.connect(source)) as db:
        rows, facts = whole_entries(db)
    with closing(EventLog(folder)) as log:
        entries = log.refill(rows, facts)
        check_log(log.path, entries)
        log.register_runs(lines_of(entries))


def mendable(path: Path) -> int:
    """How many entries a damaged log has, if all are whole, so that the rest can be made again.

    It may have presses that no backup has yet. 0 if an entry is damaged or missing.
    """
    try:
        with closing(open_to_read(path)) as db:
            return len(whole_entries(db)[0])
    except (Broken, OSError, *SQLITE_TROUBLE, *DAMAGE):
        return 0


def open_to_read(path: Path) -> sqlite3.Connection:
    """A connection to a file that can change nothing in it."""
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
