"""The layout of the log file, and the way from older layouts to this one.

Table ``event`` is the truth. One row an event, in the order written:

    seq        1, 2, 3 ... over all runs
    run        name of the run, for example 2026-11-25-1
               or of a bath's stream, for example bath/etch 2
    kind       what happened (run/events.py and bath/events.py list the kinds)
    press      number of the press that caused it, within the stream; 0: no press
    t_ms       bench time at which it happened
    noted_ms   bench time at which it was written; later than t_ms if back-dated
    by         who did it
    body       the rest, as JSON
    boot       which count of seconds ``count_ms`` belongs to, if the machine can tell
    count_ms   that count when the event was written
    wall_ms    Unix time when the event was written
    offset_s   local offset from UTC then, in seconds
    prev       seq of the entry before it in the same stream; 0 for the first
    digest     check sum over the columns before it (``seal``)

Rows are never changed and never deleted: triggers refuse it. Table ``run`` is only a
register for quick lists, made from events in the same transaction and made anew from them
whenever its layout changes. Table ``info`` holds facts about the file itself, such as
where the stretched clock of a practice bench begins. Table ``term`` is the index (``index``),
made from events like the register. Table ``carried`` says which entries came from another
log, in one piece each: their clocks are not this machine's. ``PRAGMA user_version`` is the version
of the layout.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence

from benchtimer.store.seal import COLUMNS, digest_of

VERSION = 3
"""The version of the layout that this program writes."""

SEALED = 3
"""The first layout whose entries carry a check sum."""

_LAYOUT_1 = """
CREATE TABLE event (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
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
    offset_s INTEGER NOT NULL
) STRICT;
CREATE INDEX event_run ON event (run, seq);
CREATE TRIGGER event_stays BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_is_kept BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
CREATE TABLE run (
    name TEXT PRIMARY KEY,
    phase TEXT NOT NULL,
    title TEXT NOT NULL,
    parts TEXT NOT NULL,
    created_ms INTEGER NOT NULL,
    offset_s INTEGER NOT NULL,
    last_seq INTEGER NOT NULL
) STRICT;
CREATE TABLE info (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;
CREATE INDEX run_created ON run (created_ms);
CREATE INDEX run_phase ON run (phase);
"""


def _to_1(connection: sqlite3.Connection) -> None:
    for statement in _statements(_LAYOUT_1):
        connection.execute(statement)


_LAYOUT_2 = """
CREATE TABLE term (
    kind TEXT NOT NULL,
    text TEXT NOT NULL,
    created_ms INTEGER NOT NULL,
    run TEXT NOT NULL,
    PRIMARY KEY (kind, text, created_ms, run)
) STRICT, WITHOUT ROWID;
CREATE INDEX term_run ON term (run);
CREATE TABLE carried (
    first_seq INTEGER PRIMARY KEY,
    last_seq INTEGER NOT NULL,
    run TEXT NOT NULL,
    wall_ms INTEGER NOT NULL
) STRICT;
"""


def _to_2(connection: sqlite3.Connection) -> None:
    """Room for the index, which is filled by ``index_all``, and for runs carried in."""
    for statement in _statements(_LAYOUT_2):
        connection.execute(statement)


_LAYOUT_3 = """
ALTER TABLE event ADD COLUMN prev INTEGER;
ALTER TABLE event ADD COLUMN digest INTEGER;
DROP TRIGGER event_stays;
"""

_STAYS = """
CREATE TRIGGER event_stays BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
"""


def _to_3(connection: sqlite3.Connection) -> None:
    """Every entry sealed as it is found; what they say is not touched."""
    for statement in _statements(_LAYOUT_3):
        connection.execute(statement)
    last: dict[str, int] = {}
    for (seq,) in connection.execute("SELECT seq FROM event ORDER BY seq").fetchall():
        query = f"SELECT {COLUMNS} FROM event WHERE seq = ?"
        row = connection.execute(query, (seq,)).fetchone()[:-2]
        prev = last.get(row[1], 0)
        change = "UPDATE event SET prev = ?, digest = ? WHERE seq = ?"
        connection.execute(change, (prev, digest_of((*row, prev)), seq))
        last[row[1]] = seq
    connection.execute(_STAYS)


STEPS: Sequence[Callable[[sqlite3.Connection], None]] = (_to_1, _to_2, _to_3)
"""STEPS[n] takes a file from version n to n + 1, inside a transaction."""


def version_of(connection: sqlite3.Connection) -> int:
    """The version of the layout of an open file; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection) -> None:
    """Bring a file to this version, all steps in one transaction."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in STEPS[version_of(connection) :]:
            step(connection)
        connection.execute(f"PRAGMA user_version = {VERSION:d}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a full disk has rolled it back already
            connection.execute("ROLLBACK")
        raise


def _statements(script: str) -> list[str]:
    """The statements of a script; triggers hold a semicolon inside BEGIN ... END."""
    statements, piece = [], ""
    for line in script.strip().splitlines(keepends=True):
        piece += line
        if sqlite3.complete_statement(piece):
            statements.append(piece)
            piece = ""
    return statements
