"""A sorted table of texts that proves its answers, including that a key is missing.

SQLite finds a row through other rows. One flipped bit on that path hides rows, and the answer is
silently incomplete. So the seal of a row covers its key, its value and the key of the next row. Two
adjacent rows prove that nothing is between them. Each answer is proved that way, at the cost of one
or two more rows, however long the table is.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import chain

from benchtimer.store.seal import Broken, digest_of

TABLE = """
CREATE TABLE register (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL,
    seal INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
"""

END = ""
"""The next key of the last row, and the key of the first row, since it sorts before all others."""

Row = tuple[str, str, int]

_UP = "SELECT key, value, seal FROM register WHERE key >= ? ORDER BY key"
_DOWN = "SELECT key, value, seal FROM register WHERE key < ? ORDER BY key DESC"


class SealedMap:
    """The table in one database. For several reads, hold a transaction open.

    Methods raise:
        Broken: the table is damaged at the answer.
        sqlite3.Error: it can't even be read.
    """

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db

    def begin(self) -> None:
        """Create the table, with the row that sorts before all others."""
        self._db.execute(TABLE)
        self._insert(END, "", END)

    def get(self, key: str) -> str | None:
        """The value of a key; None if the key is provably missing."""
        here, behind = self._at(key)
        if here is not None:
            return _proved(here, behind)[1]
        _proved(self._before(key), behind)
        return None

    def up(self, low: str, high: str) -> Iterator[tuple[str, str]]:
        """Keys from ``low`` to just below ``high`` with their values, smallest first."""
        before = self._before(low)
        rows: Iterator[Row | None] = chain(self._db.execute(_UP, (low,)), [None])
        for row in rows:
            key = END if row is None else _text(row[0])
            _proved(before, key)
            if before[0] >= low:
                yield before[0], before[1]
            if row is None or key >= high:
                return
            if key < low:
                raise _broken(key)
            before = row

    def down(self, low: str, high: str) -> Iterator[tuple[str, str]]:
        """Keys from ``low`` to just below ``high`` with their values, largest first."""
        first = self._db.execute(f"{_UP} LIMIT 1", (high,)).fetchone()
        behind = END if first is None else _text(first[0])
        if first is not None and behind < high:
            raise _broken(behind)
        for row in self._db.execute(_DOWN, (high,)):
            key, value = _proved(row, behind)
            if key >= high:
                raise _broken(key)
            if key < low:
                return
            yield key, value
            behind = key
        if low > END:
            raise _broken(END)

    def put(self, key: str, value: str) -> None:
        """Set the value of a key."""
        here, behind = self._at(key)
        if here is not None:
            _proved(here, behind)
            change = "UPDATE register SET value = ?, seal = ? WHERE key = ?"
            self._change(change, (value, digest_of((key, value, behind)), key))
            return
        before = self._before(key)
        _proved(before, behind)
        self._seal(before, key)
        self._insert(key, value, behind)

    def remove(self, key: str) -> None:
        """Remove a key, if it exists."""
        if self.get(key) is None:
            return
        before, behind = self._before(key), self._at(key)[1]
        _proved(before, key)
        self._seal(before, behind)
        self._change("DELETE FROM register WHERE key = ?", (key,))

    def _at(self, key: str) -> tuple[Row | None, str]:
        """The row of a key, if it exists, and the next key, not yet proved."""
        rows: list[Row] = self._db.execute(f"{_UP} LIMIT 2", (key,)).fetchall()
        keys = [_text(row[0]) for row in rows] + [END]
        if rows and keys[0] == key:
            return rows[0], keys[1]
        if rows and keys[0] < key:
            raise _broken(key)
        return None, keys[0]

    def _before(self, key: str) -> Row:
        row: Row | None = self._db.execute(f"{_DOWN} LIMIT 1", (key,)).fetchone()
        if row is None or _text(row[0]) >= key:
            raise _broken(key)
        return row

    def _seal(self, row: Row, behind: str) -> None:
        digest = digest_of((row[0], row[1], behind))
        self._change("UPDATE register SET seal = ? WHERE key = ?", (digest, row[0]))

    def _insert(self, key: str, value: str, behind: str) -> None:
        row = (key, value, digest_of((key, value, behind)))
        self._db.execute("INSERT INTO register VALUES (?, ?, ?)", row)

    def _change(self, statement: str, values: tuple[str | int, ...]) -> None:
        if self._db.execute(statement, values).rowcount != 1:
            raise _broken(str(values[-1]))


def _text(key: object) -> str:
    if not isinstance(key, str):
        raise _broken(str(key))
    return key


def _proved(row: Row, behind: str) -> tuple[str, str]:
    """Key and value of a row, after checking its seal with ``behind`` as the next key."""
    key, value, seal = row
    if seal != digest_of((key, value, behind)):
        raise _broken(str(key))
    return _text(key), value


def _broken(key: str) -> Broken:
    place = " ".join(key.split())[:60]
    return Broken(f"the register can't be trusted at {place!a}")
