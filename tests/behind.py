"""Edits a log from outside the program: entries, register, and matching checksums."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from benchtimer.store.register import Register
from benchtimer.store.seal import COLUMNS, digest_of


@contextmanager
def behind(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection that can change entries; it restores the triggers at the end."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.executescript("DROP TRIGGER event_stays; DROP TRIGGER event_is_kept;")
        yield db
        lock_again(db)


def lock_again(db: sqlite3.Connection) -> None:
    """Restore the triggers that protect events."""
    for name, when, found in (("stays", "UPDATE", "changed"), ("is_kept", "DELETE", "deleted")):
        with suppress(sqlite3.Error):  # the table may be gone
            db.execute(
                f"CREATE TRIGGER event_{name} BEFORE {when} ON event\n"
                f"BEGIN SELECT RAISE(ABORT, 'events are never {found}'); END"
            )


def seal_again(db: sqlite3.Connection) -> None:
    """Give every entry a checksum that matches it, and the register the new ends."""
    last: dict[str, int] = {}
    for row in db.execute(f"SELECT {COLUMNS} FROM event ORDER BY seq").fetchall():  # noqa: S608
        prev = last.get(row[1], 0)
        change = "UPDATE event SET prev = ?, digest = ? WHERE seq = ?"
        db.execute(change, (prev, digest_of((*row[:-2], prev)), row[0]))
        last[row[1]] = row[0]
    register = Register(db)
    for name in register.ends():
        register._map.remove(f"stream\t{name}")
    for name, seq in last.items():
        register.set_end(name, seq)
    register.set_state(replace(register.state(), last=max(last.values(), default=0)))


def terms(db: sqlite3.Connection) -> list[str]:
    """The whole index of a log."""
    query = "SELECT key FROM register WHERE key LIKE 'term%' ORDER BY key"
    return [key for (key,) in db.execute(query)]
