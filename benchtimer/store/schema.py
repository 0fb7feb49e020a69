"""The layout of the log file, and the migration from older layouts.

Table ``event`` is the source of everything. One row per event, in the order written:

    seq         1, 2, 3 ... over all runs
    run         name of the run, for example 2026-11-25-1
                or of a bath's stream, for example bath/etch 2
    kind        what happened (run/events.py and bath/bath_events.py list the kinds)
    press       number of the press that caused it, within the stream; 0: no press
    t_ms        bench time at which it happened
    noted_ms    bench time at which it was written; later than t_ms if backdated
    by          who did it
    body        the rest, as JSON
    boot        which count of seconds ``count_ms`` belongs to, if the machine can tell
    count_ms    that count when the event was written
    wall_ms     Unix time when the event was written
    offset_s    local offset from UTC then, in seconds
    carried_ms  Unix time when it was imported from another log, whose clocks are not this
                machine's; 0 if it was made here
    prev        seq of the entry before it in the same stream; 0 for the first
    digest      checksum over the columns before it (``seal``)

Triggers refuse to change or delete rows. Table ``register`` is made from events in the same
transaction, and rebuilt from them when necessary (``register``).
``PRAGMA application_id`` says that the file is a log of this program, and
``PRAGMA user_version`` is the version of its layout.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import cache

from benchtimer.store.register import Register

APPLICATION_ID = 0x62744C31
"""In the header of the file: this is a log of this program."""

VERSION = 1
"""The version of the layout that this program writes."""

_LAYOUT_1 = """
CREATE TABLE event (
    seq INTEGER PRIMARY KEY,
    run TEXT NOT NULL,
    kind TEXT NOT NULL,
    press INTEGER NOT NULL,
    t_ms INTEGER NOT NULL,
    noted_ms INTEGER NOT NULL,
    by TEXT NOT NULL,
    body TEXT NOT NULL,
    boot TEXT,
    count_ms INTEGER NOT NULL,
    wall_ms INTEGER NOT NULL,
    offset_s INTEGER NOT NULL,
    carried_ms INTEGER NOT NULL,
    prev INTEGER NOT NULL,
    digest INTEGER NOT NULL
) STRICT;
CREATE INDEX event_run ON event (run, seq);
CREATE TRIGGER event_stays BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_is_kept BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
"""


def _to_1(connection: sqlite3.Connection) -> None:
    for statement in _statements(_LAYOUT_1):
        connection.execute(statement)
    Register(connection).begin()


STEPS: Sequence[Callable[[sqlite3.Connection], None]] = (_to_1,)
"""STEPS[n] takes a file from version n to n + 1, inside a transaction."""


def version_of(connection: sqlite3.Connection) -> int | None:
    """The version of the layout of an open file; 0 for an empty one.

    Returns:
        None if the file is not empty and not a log of this program.
    """
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID:
        return version or None
    is_empty = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    return 0 if is_empty and not version else None


def migrate(connection: sqlite3.Connection) -> None:
    """Bring a file to this version, all steps in one transaction."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in STEPS[version_of(connection) or 0 :]:
            step(connection)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID:d}")
        connection.execute(f"PRAGMA user_version = {VERSION:d}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a full disk has rolled it back already
            connection.execute("ROLLBACK")
        raise


def strange_in(connection: sqlite3.Connection) -> str | None:
    """The first table, index or trigger that differs from this program's; None if none does.

    A trigger is a program: an extra one could drop later entries.
    """
    differs = sorted(_layout(connection) ^ _own_layout(VERSION))
    return f"{differs[0][0]} {differs[0][1]!r}" if differs else None


@cache
def _own_layout(_version: int) -> frozenset[tuple[str, str, str]]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        migrate(fresh)
        return _layout(fresh)


def _layout(db: sqlite3.Connection) -> frozenset[tuple[str, str, str]]:
    query = "SELECT type, name, coalesce(sql, '') FROM sqlite_master"
    return frozenset((kind, name, " ".join(sql.split())) for kind, name, sql in db.execute(query))


def _statements(script: str) -> list[str]:
    """The statements of a script; triggers hold a semicolon inside BEGIN ... END."""
    statements, piece = [], ""
    for line in script.strip().splitlines(keepends=True):
        piece += line
        if sqlite3.complete_statement(piece):
            statements.append(piece)
            piece = ""
    return statements
