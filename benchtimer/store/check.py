"""Checks a log: at a constant cost on opening, completely before a backup."""

from __future__ import annotations

import sqlite3
from collections.abc import Generator
from contextlib import closing
from typing import Any

from benchtimer.progress import counted
from benchtimer.store.register import Register
from benchtimer.store.schema import strange_in
from benchtimer.store.seal import COLUMNS, Broken, check_row, check_rows_in_a_row, check_stream

TAIL = 64
"""How many of the newest entries are checked when a log is opened for writing."""

SMALL_BYTES = 8 * 1024 * 1024
"""A file up to this size is checked completely on opening; a larger one only in backups."""


def check_description(db: sqlite3.Connection) -> None:
    """Refuse a file whose tables, indexes and triggers differ from this program's.

    Raises:
        Broken: naming the first one that differs.
    """
    strange = strange_in(db)
    if strange is not None:
        raise Broken(f"its {strange} differs from what benchtimer creates")
    encoding = str(db.execute("PRAGMA encoding").fetchone()[0])
    if encoding != "UTF-8":
        raise Broken(f"its text is said to be {encoding}")


def check_opened(db: sqlite3.Connection) -> None:
    """Check a log before it is written; the cost depends only on its open runs.

    The newest entries and every open run are checked against the register, which is in another
    part of the file.

    Raises:
        Broken: something is damaged.
        sqlite3.Error: it can't even be read.
    """
    pages = int(db.execute("PRAGMA page_count").fetchone()[0])
    if pages * int(db.execute("PRAGMA page_size").fetchone()[0]) <= SMALL_BYTES:
        check_whole(db)
        return
    check_description(db)
    _check_newest(db, Register(db))


def check_whole(db: sqlite3.Connection) -> None:
    """Check everything: pages, indexes, every entry, every stream, the register.

    Raises:
        Broken: something is damaged.
        sqlite3.Error: it can't even be read.
    """
    check_description(db)
    said = str(db.execute("PRAGMA integrity_check(1)").fetchone()[0])
    if said != "ok":
        raise Broken(said.replace("*** in database main ***\n", "").partition("\n")[0])
    _check_ends(Register(db), check_entries(db))


def check_entries(db: sqlite3.Connection) -> dict[str, int]:
    """Check every entry in the order written; return the end of each stream.

    Raises:
        Broken: an entry is damaged or missing.
    """
    ends: dict[str, int] = {}
    count = int(db.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()[0])
    with closing(_all_rows(db)) as rows:
        for seq, row in enumerate(counted(rows, "entries checked", count), start=1):
            if row[0] != seq:
                raise Broken(f"entry {seq} is missing")
            check_row(row)
            if row[-2] != ends.get(row[1], 0):
                raise Broken(f"entry {seq}: the one before it in {row[1]} is missing")
            ends[row[1]] = seq
    return ends


def whole_entries(db: sqlite3.Connection) -> tuple[list[tuple[Any, ...]], dict[str, str]]:
    """Every row of a log, and the facts about the file, if no entry is damaged or missing.

    The end of the log comes from its register, or from the index of the entries if the
    register is damaged; both are in other parts of the file than the entries.

    Raises:
        Broken: an entry is damaged or missing.
        sqlite3.Error: the entries can't be read.
    """
    check_entries(db)
    rows = list(_all_rows(db))
    register = Register(db)
    try:
        last, facts = register.state().last, register.facts()
    except (Broken, sqlite3.Error):
        query = "SELECT count(*), max(seq) FROM event INDEXED BY event_run WHERE run > ''"
        count, newest = db.execute(query).fetchone()
        last, facts = newest or 0, {}
        if count != last:
            raise Broken("neither the register nor the index says where it ends") from None
    if last != len(rows):
        raise Broken(f"it has {len(rows)} entries of {last}")
    return rows, facts


def _check_ends(register: Register, ends: dict[str, int]) -> None:
    for _ in register.walk():
        pass  # this verifies every row
    registered = register.ends()
    for name in sorted(registered.keys() | ends.keys()):
        if registered.get(name) != ends.get(name):
            raise Broken(f"the register says that {name} ends with entry {registered.get(name)}")
    last = max(ends.values(), default=0)
    if register.state().last != last:
        raise Broken(f"the register says that the log ends with entry {register.state().last}")


def _check_newest(db: sqlite3.Connection, register: Register) -> None:
    state = register.state()
    query = f"SELECT {COLUMNS} FROM event ORDER BY seq DESC LIMIT {TAIL}"
    rows = db.execute(query).fetchall()[::-1]
    check_rows_in_a_row(rows, max(1, state.last - TAIL + 1), state.last)
    for number in state.open_runs:
        line = register.line(number)
        if line is None:
            raise Broken(f"open run number {number} is not in the register")
        _check_run(db, line.name, register.end(line.name))


def _check_run(db: sqlite3.Connection, name: str, end: int) -> None:
    rows = []
    for row in db.execute(f"SELECT {COLUMNS} FROM event WHERE run = ? ORDER BY seq", (name,)):
        check_row(row)
        rows.append((row[0], row[1], row[-2], row[-1]))  # a run may have many long entries
    check_stream(name, rows, end)


def _all_rows(db: sqlite3.Connection) -> Generator[tuple[Any, ...], None, None]:
    yield from db.execute(f"SELECT {COLUMNS} FROM event ORDER BY seq")
