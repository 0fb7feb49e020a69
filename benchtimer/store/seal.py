"""The seal of an entry: how damage to a log shows.

SQLite checks the shape of its pages, not what stands in them. So every entry carries the
number of the entry before it in its stream, and a check sum over all of its columns. One
changed byte in an entry, or one entry missing in a stream, is told by its number and never
read as if it were true. It guards against damage, not against somebody who wants to deceive.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from hashlib import blake2b
from typing import Any

COLUMNS = (
    "seq, run, kind, press, t_ms, noted_ms, by, body, boot, count_ms, wall_ms, offset_s,"
    " prev, digest"
)
"""The columns of table ``event``, in the order that the check sum goes by."""

TAIL = 64
"""So many of the newest entries are looked at whenever a log is opened."""

SMALL_BYTES = 8 * 1024 * 1024
"""A file up to this size is looked through whole when it is opened; a larger one in backups."""


class Broken(Exception):
    """What is damaged in a log, in words that end no sentence."""


def digest_of(columns: Sequence[Any]) -> int:
    """The check sum of an entry: 63 bits of BLAKE2b over its columns up to ``prev``."""
    text = "\0".join("" if value is None else str(value) for value in columns)
    raw = blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(raw) >> 1


def trouble_in(row: Sequence[Any]) -> str | None:
    """What is wrong with a row of ``COLUMNS``, None if nothing is."""
    if row[-1] == digest_of(row[:-1]):
        return None
    return "its check sum is wrong"


def check_opened(db: sqlite3.Connection) -> None:
    """A look at a log that costs the same however long it has grown.

    Raises:
        Broken: something is damaged.
        sqlite3.Error: it can't even be read.
    """
    pages = int(db.execute("PRAGMA page_count").fetchone()[0])
    if pages * int(db.execute("PRAGMA page_size").fetchone()[0]) <= SMALL_BYTES:
        check_whole(db)
        return
    query = f"SELECT {COLUMNS} FROM event ORDER BY seq DESC LIMIT {TAIL}"
    _check_rows(list(db.execute(query))[::-1])


def check_whole(db: sqlite3.Connection, *, sealed: bool = True) -> None:
    """Look at everything: pages, indexes, every entry, every stream, the register.

    Args:
        db: the log.
        sealed: entries carry seals; in old layouts only pages and indexes can be looked at.

    Raises:
        Broken: something is damaged.
        sqlite3.Error: it can't even be read.
    """
    _check_pages(db)
    if sealed:
        _check_streams(db)


def _check_streams(db: sqlite3.Connection) -> None:
    last: dict[str, int] = {}
    for seq, row in enumerate(_all_rows(db), start=1):
        if row[0] != seq:
            raise Broken(f"entry {seq} is missing")
        _check_row(row)
        if row[-2] != last.get(row[1], 0):
            raise Broken(f"entry {seq}: the one before it in {row[1]} is missing")
        last[row[1]] = seq
    for name, told in db.execute("SELECT name, last_seq FROM run"):
        if last.get(name) != told:
            raise Broken(f"the register says that run {name} ends with entry {told}")


def _all_rows(db: sqlite3.Connection) -> Iterator[tuple[Any, ...]]:
    yield from db.execute(f"SELECT {COLUMNS} FROM event ORDER BY seq")


def _check_pages(db: sqlite3.Connection) -> None:
    said = str(db.execute("PRAGMA integrity_check(1)").fetchone()[0])
    if said != "ok":
        raise Broken(said.replace("*** in database main ***\n", "").partition("\n")[0])


def _check_rows(rows: Sequence[Sequence[Any]]) -> None:
    for before, row in zip([None, *rows], rows, strict=False):
        if before is not None and row[0] != before[0] + 1:
            raise Broken(f"entry {before[0] + 1} is missing")
        _check_row(row)


def _check_row(row: Sequence[Any]) -> None:
    trouble = trouble_in(row)
    if trouble is not None:
        raise Broken(f"entry {row[0]}: {trouble}")
