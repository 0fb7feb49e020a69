"""The seal of an entry: how damage to a log shows.

SQLite checks the structure of its pages, not their contents. So every entry carries the
number of the entry before it in its stream, and a checksum over all of its columns. One
changed byte in an entry, or one entry missing in a stream, is reported by its number and
never read as true. The seal protects against damage, not against deliberate forgery.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b
from typing import Any

COLUMNS = (
    "seq, run, kind, press, t_ms, noted_ms, by, body, boot, count_ms, wall_ms, offset_s,"
    " carried_ms, prev, digest"
)
"""The columns of table ``event``, in the order of the checksum."""


class Broken(Exception):
    """The damage in a log, as a clause without a period."""


def digest_of(columns: Sequence[Any]) -> int:
    """The checksum of an entry: 63 bits of BLAKE2b over its columns up to ``prev``."""
    text = "\0".join("" if value is None else str(value) for value in columns)
    raw = blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(raw) >> 1


def trouble_in(row: Sequence[Any]) -> str | None:
    """What is wrong with a row of ``COLUMNS``; None if it is valid."""
    if row[-1] == digest_of(row[:-1]):
        return None
    return "its checksum is wrong"


def check_row(row: Sequence[Any]) -> None:
    """Refuse a row of ``COLUMNS`` that differs from what was written.

    Raises:
        Broken: naming the entry.
    """
    trouble = trouble_in(row)
    if trouble is not None:
        raise Broken(f"entry {row[0]}: {trouble}")


def check_stream(name: str, rows: Sequence[Sequence[Any]], end: int, after: int = 0) -> None:
    """Refuse the rows of a stream if one is missing: at the beginning, between, or at the end.

    Args:
        name: of the stream.
        rows: the rows after ``after``, in order.
        end: the number of its last entry, known from elsewhere.
        after: a number; the rows leave out the stream's entries up to it.

    Raises:
        Broken: naming the entry whose predecessor is missing, or the end.
    """
    last = 0
    for row in rows:
        if row[1] != name or not (row[-2] == last if last else row[-2] <= after < row[0]):
            raise Broken(f"entry {row[0]}: the one before it in {name} is missing")
        last = row[0]
    if last != end and not (not rows and end <= after):
        raise Broken(f"{name} should end with entry {end or 'none'}; it ends with {last or 'none'}")


def check_rows_in_a_row(rows: Sequence[Sequence[Any]], first: int, last: int) -> None:
    """Refuse rows of all streams if one is missing or changed.

    Args:
        rows: in order.
        first: the number of the first row.
        last: the number of the last row.

    Raises:
        Broken: naming the first entry that is missing or damaged.
    """
    number = first
    for number, row in enumerate(rows, start=first):
        if row[0] != number:
            raise Broken(f"entry {number} is missing")
        check_row(row)
    if len(rows) != max(0, last - first + 1):
        raise Broken(f"entry {first + len(rows)} is missing")
