"""The event log: append, read, list. One file, many readers, one writer at a time.

``synchronous=FULL`` in WAL mode: when ``append`` returns, the events are on the disk, as
far as the disk itself tells the truth about its cache.
"""

from __future__ import annotations

import json
import sqlite3
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from benchtimer.run.events import Created, Event
from benchtimer.run.evolve import fold
from benchtimer.store.index import LAST, Query, follow, index_all, is_current, select
from benchtimer.store.kinds import body_of, event_from, kind_of
from benchtimer.store.private import FOLDER_MODE, make_file
from benchtimer.store.schema import VERSION, migrate, version_of
from benchtimer.store.sound import check_layout

T = TypeVar("T")

FILE_NAME = "bench.sqlite3"
BUSY_S = 5.0
"""How long a reader or writer waits for another one's transaction."""

FAR = 2**53
"""Largest figure in an entry: a time in milliseconds far beyond any calendar."""

DAMAGE = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)
"""What reading raises when an entry does not hold what its kind should."""


class StoreError(Exception):
    """The store can't be used.

    Attributes:
        path: the file or folder.
        reason: what is wrong.
        way_out: what can be done.
    """

    def __init__(self, path: Path, reason: str, way_out: str) -> None:
        self.path = path
        self.reason = reason
        self.way_out = way_out
        super().__init__(f"the log {path} can't be used: {reason}. {way_out}.")


@dataclass(frozen=True, slots=True)
class Stamp:
    """Both clocks at the moment of writing; see ``schema`` for the fields."""

    noted_ms: int
    boot: str | None
    count_ms: int
    wall_ms: int
    offset_s: int


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the log."""

    seq: int
    run: str
    event: Event
    stamp: Stamp


@dataclass(frozen=True, slots=True)
class RunLine:
    """One row of the register of runs."""

    name: str
    phase: str
    title: str
    parts: tuple[str, ...]
    created_ms: int
    offset_s: int


class EventLog:
    """The log in one folder.

    Raises:
        StoreError: the file can't be opened, is no log, or is of a newer version.
    """

    def __init__(self, folder: Path, *, read_only: bool = False) -> None:
        self.path = folder / FILE_NAME
        self.read_only = read_only
        with ExitStack() as opened:
            try:
                self._db = self._connect(folder, opened)
                self._check_version()
                self._known_seq = self.last_seq()
            except sqlite3.Error as error:
                way_out = "Check the folder and the disk"
                raise StoreError(self.path, str(error), way_out) from error
            opened.pop_all()  # a log that could be opened stays open

    def _connect(self, folder: Path, opened: ExitStack) -> sqlite3.Connection:
        """A connection that ``opened`` closes if the rest of the opening fails."""
        if self.read_only:
            self._want_file(folder)
            return opened.enter_context(closing(self._connect_to_read()))
        _make_private(folder)
        self._refuse_newer()
        try:
            make_file(self.path)
        except OSError as error:
            reason = error.strerror or "it can't be written"
            raise StoreError(self.path, reason, "Check the folder and the disk") from None
        # The lease keeps writers apart; readers in other threads have their own EventLog.
        db = sqlite3.connect(
            self.path, timeout=BUSY_S, isolation_level=None, check_same_thread=False
        )
        opened.callback(db.close)
        mode = db.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        if mode != "wal":
            raise StoreError(self.path, f"its journal mode is {mode}", "Use a local disk")
        db.execute("PRAGMA synchronous = FULL")
        return db

    def _want_file(self, folder: Path) -> None:
        if not is_there(self.path):
            practice = sorted(p.name for p in folder.glob("practice-*x"))
            way_out = "Start a run first"
            if practice:
                speed = practice[0].removeprefix("practice-").removesuffix("x")
                way_out = f"For the practice runs add --speed {speed}"
            raise StoreError(self.path, "there is no log yet", way_out)

    def _connect_to_read(self) -> sqlite3.Connection:
        """A connection that can write nothing.

        In a folder that can't be written SQLite has no room for the index that it shares
        with a writer. A log without a write-ahead log is whole in itself and is then read
        as a file that nobody changes.
        """
        try:
            return self._open_uri("mode=ro")
        except sqlite3.OperationalError:
            wal = self.path.with_name(f"{FILE_NAME}-wal")
            if is_there(wal) and wal.stat().st_size > 0:
                raise
            return self._open_uri("mode=ro&immutable=1")

    def _open_uri(self, options: str) -> sqlite3.Connection:
        db = sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{options}", uri=True, timeout=BUSY_S,
            isolation_level=None, check_same_thread=False,
        )  # fmt: skip
        try:
            version_of(db)  # the first read is what opens the file
        except BaseException:
            db.close()
            raise
        return db

    def _refuse_newer(self) -> None:
        """Look at the version before anything is done that writes, such as setting the mode."""
        if not is_there(self.path):
            return
        with suppress(sqlite3.OperationalError), closing(self._open_uri("mode=ro")) as db:
            self._check_not_newer(version_of(db))

    def _check_not_newer(self, found: int) -> None:
        if found > VERSION:
            raise StoreError(
                self.path,
                f"it has layout {found}, this program knows {VERSION}",
                "Use the newer program; nothing was changed",
            )

    def _check_version(self) -> None:
        found = version_of(self._db)
        self._check_not_newer(found)
        if found < VERSION:
            if self.read_only:
                raise StoreError(self.path, f"it has layout {found}", "Open the bench once first")
            if found > 0:
                self._keep_copy(found)
            migrate(self._db)
        if not self.read_only and not is_current(self._db):
            index_all(self._db)

    def _keep_copy(self, version: int) -> None:
        """A whole copy of an older file before its layout changes."""
        target = self.path.with_name(f"{self.path.stem}-layout-{version}.sqlite3")
        make_file(target)
        with sqlite3.connect(target) as copy:
            self._db.backup(copy)
        copy.close()

    def append(
        self,
        run: str,
        events: Sequence[Event],
        stamp: Stamp,
        line: RunLine | None = None,
        also: Mapping[str, Sequence[Event]] | None = None,
    ) -> list[Entry]:
        """Write the events of one press, all or none.

        Nothing is written behind an entry that this log did not write or find when it was
        opened: what is decided here was decided without it.

        Args:
            run: the stream: a run's name, or a bath's stream.
            events: what happened.
            stamp: both clocks now.
            line: the run's line in the register; baths have none.
            also: events of other streams that happen with them or not at all.

        Raises:
            StoreError: nothing was written.
        """
        streams = [(run, events), *(also or {}).items()]
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._refuse_another_writer()
                entries = [self._insert(name, x, stamp) for name, told in streams for x in told]
                self._db.executemany(
                    "UPDATE run SET last_seq = ? WHERE name = ?", [(x.seq, x.run) for x in entries]
                )
                if line is not None:
                    self._register(line, entries[len(events) - 1].seq)
                    follow(self._db, run, events)
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:  # a full disk has rolled it back already
                    self._db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise StoreError(self.path, str(error), "Nothing was written; free the disk") from error
        self._known_seq = entries[-1].seq if entries else self._known_seq
        return entries

    def carry_in(
        self, run: str, rows: Sequence[tuple[Event, Stamp]], line: RunLine, wall_ms: int
    ) -> None:
        """Write a whole run that comes from another log, each entry with its own clocks.

        Raises:
            StoreError: nothing was written.
        """
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._refuse_another_writer()
                entries = [self._insert(run, event, stamp) for event, stamp in rows]
                first, last = entries[0].seq, entries[-1].seq
                self._db.execute(
                    "INSERT INTO carried VALUES (?, ?, ?, ?)", (first, last, run, wall_ms)
                )
                self._register(line, last)
                follow(self._db, run, [event for event, _ in rows])
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise StoreError(self.path, str(error), "Nothing was written; free the disk") from error
        self._known_seq = last

    def _refuse_another_writer(self) -> None:
        found = self.last_seq()
        if found != self._known_seq:
            reason = f"another program has written entry {found} meanwhile"
            way_out = "Nothing was written; leave, and open the bench again in one place only"
            raise StoreError(self.path, reason, way_out)

    def _insert(self, run: str, event: Event, stamp: Stamp) -> Entry:
        body = json.dumps(body_of(event), ensure_ascii=False, separators=(",", ":"))
        row = (
            *(run, kind_of(event), event.press, event.t_ms, stamp.noted_ms, event.by, body),
            *(stamp.boot, stamp.count_ms, stamp.wall_ms, stamp.offset_s),
        )
        cursor = self._db.execute(
            "INSERT INTO event (run, kind, press, t_ms, noted_ms, by, body, boot, count_ms,"
            " wall_ms, offset_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            row,
        )
        assert cursor.lastrowid is not None  # noqa: S101  an INSERT has one
        return Entry(cursor.lastrowid, run, event, stamp)

    def _register(self, line: RunLine, seq: int) -> None:
        parts = json.dumps(line.parts, ensure_ascii=False)
        self._db.execute(
            "INSERT INTO run (name, phase, title, parts, created_ms, offset_s, last_seq)"
            " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET"
            " phase = excluded.phase, parts = excluded.parts, last_seq = excluded.last_seq",
            (line.name, line.phase, line.title, parts, line.created_ms, line.offset_s, seq),
        )

    def entries(self, run: str, after: int = 0) -> list[Entry]:
        """The entries of a run, in the order written, those behind ``after`` only.

        Raises:
            StoreError: the file can't be read, or holds an entry that can't be.
        """
        return list(self._select("WHERE run = ? AND seq > ? ORDER BY seq", (run, after)))

    def first_entry(self, run: str) -> Entry | None:
        """The entry that a stream begins with."""
        return next(self._select("WHERE run = ? ORDER BY seq LIMIT 1", (run,)), None)

    def last_entry(self) -> Entry | None:
        """The newest entry made here: the clocks of entries carried in are another machine's."""
        below = self.last_seq() + 1
        query = "SELECT first_seq FROM carried WHERE first_seq <= ? AND last_seq >= ?"
        while found := self._rows(query, (below - 1, below - 1)):
            below = int(found[0][0])
        return next(self._select("WHERE seq < ? ORDER BY seq DESC LIMIT 1", (below,)), None)

    def last_seq(self) -> int:
        """The number of the newest entry; 0 for an empty log."""
        return int(self._rows("SELECT coalesce(max(seq), 0) FROM event")[0][0])

    def entries_after(self, seq: int) -> list[Entry]:
        """The entries of all runs behind a number, in the order written."""
        return list(self._select("WHERE seq > ? ORDER BY seq", (seq,)))

    def fact(self, name: str, first: str | None = None) -> str | None:
        """A fact about the file; ``first`` is written down if there is none yet."""
        if first is not None:
            self._rows("INSERT OR IGNORE INTO info VALUES (?, ?)", (name, first))
        found = self._rows("SELECT value FROM info WHERE name = ?", (name,))
        return str(found[0][0]) if found else None

    def runs(self, *, open_only: bool = False, limit: int = 1000) -> list[RunLine]:
        """The register, newest first: by the order of being laid out, whatever the clocks said."""
        where = "WHERE phase IN ('idle', 'running', 'held')" if open_only else ""
        query = (
            "SELECT name, phase, title, parts, created_ms, offset_s FROM run "
            f"{where} ORDER BY rowid DESC LIMIT ?"
        )
        return [_line(*row) for row in self._rows(query, (limit,))]

    def find(self, query: Query, limit: int = 1000) -> list[RunLine]:
        """The runs that a query leads to, newest first."""
        found = self._rows(*select(query, limit))
        return [line for (name,) in found if (line := self.run_line(name)) is not None]

    def named_by_uid(self, uid: str) -> str | None:
        """The name of the run with this identity, if the log has it."""
        return next((line.name for line in self.find(Query(uid=uid), 1)), None)

    def run_line(self, name: str) -> RunLine | None:
        """A run's line in the register, if there is such a run."""
        query = "SELECT name, phase, title, parts, created_ms, offset_s FROM run WHERE name = ?"
        return next((_line(*row) for row in self._rows(query, (name,))), None)

    def last_run(self) -> RunLine | None:
        """The line of the run that was written into last."""
        query = "SELECT name FROM run ORDER BY last_seq DESC LIMIT 1"
        return next((self.run_line(name) for (name,) in self._rows(query)), None)

    def check_layout(self) -> None:
        """Refuse a file that has other tables or triggers than this program makes.

        Raises:
            ValueError: naming what differs.
        """
        check_layout(self._db)

    def register_all(self) -> None:
        """Make the register and the index anew from the events.

        Raises:
            StoreError: an entry can't be read; nothing was changed.
        """
        first = self._rows("SELECT run FROM event GROUP BY run ORDER BY min(seq)")
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._db.execute("DELETE FROM run")
                for (name,) in first:
                    self._register_run(self.entries(name))
                self._db.execute("COMMIT")
            except BaseException:
                self._db.execute("ROLLBACK")
                raise
            index_all(self._db)
        except sqlite3.Error as error:
            raise StoreError(self.path, str(error), "Keep the file and look at it") from error

    def _register_run(self, entries: Sequence[Entry]) -> None:
        first, bench = entries[0], fold(entry.event for entry in entries).bench
        if isinstance(first.event, Created):
            line = RunLine(
                first.run, bench.phase.value, bench.title, tuple(bench.parts),
                first.stamp.wall_ms, first.stamp.offset_s,
            )  # fmt: skip
            self._register(line, entries[-1].seq)

    def streams(self, prefix: str) -> list[str]:
        """Names of all streams that begin with a text, in order of name."""
        query = "SELECT DISTINCT run FROM event WHERE run >= ? AND run < ? ORDER BY run"
        return [name for (name,) in self._rows(query, (prefix, f"{prefix}\U0010ffff"))]

    def names_like(self, prefix: str) -> list[str]:
        """Names of runs that begin with a text, in order."""
        query = "SELECT name FROM run WHERE name >= ? AND name < ? ORDER BY created_ms, name"
        return [name for (name,) in self._rows(query, (prefix, prefix + LAST))]

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def _select(self, rest: str, values: tuple[Any, ...]) -> Iterator[Entry]:
        query = (
            "SELECT seq, run, kind, press, t_ms, noted_ms, by, body, boot, count_ms, wall_ms,"
            f" offset_s FROM event {rest}"
        )
        for row in self._rows(query, values):
            yield self._entry(*row)

    def _entry(
        self, seq: int, run: str, kind: str, press: int, t_ms: int, noted_ms: int, by: str,
        body: str, boot: str | None, count_ms: int, wall_ms: int, offset_s: int,
    ) -> Entry:  # fmt: skip
        try:
            check_figures(press, t_ms, noted_ms, count_ms, wall_ms, offset_s)
            event = event_from(kind, json.loads(body), press=press, t_ms=t_ms, by=by)
        except DAMAGE as error:
            raise damaged(self.path, seq, error) from error
        return Entry(seq, run, event, Stamp(noted_ms, boot, count_ms, wall_ms, offset_s))

    def _rows(self, query: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        try:
            return self._db.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise StoreError(self.path, str(error), "Keep the file and look at it") from error


def _line(name: str, phase: str, title: str, parts: str, created_ms: int, offset_s: int) -> RunLine:
    return RunLine(name, phase, title, tuple(json.loads(parts)), created_ms, offset_s)


def check_figures(press: int, *times_ms: int) -> None:
    """Refuse the figures of an entry that can be nobody's, before anybody reckons with them.

    Raises:
        ValueError: a press below zero, or a time that no clock shows.
    """
    if not 0 <= press <= FAR or not all(-FAR <= time_ms <= FAR for time_ms in times_ms):
        raise ValueError("a figure that no clock and no count shows")


def damaged(path: Path, seq: int, error: Exception) -> StoreError:
    """The message that an entry does not hold what it should."""
    reason = (str(error).splitlines() or [type(error).__name__])[0]
    if isinstance(error, KeyError):
        reason = f"it names {reason}, which is not there"
    return StoreError(path, f"entry {seq}: {reason}", "Use a newer program, or a copy of the file")


def read_through(path: Path, entries: Sequence[Entry], read: Callable[[Sequence[Entry]], T]) -> T:
    """What ``read`` makes of entries, told by its entry if one of them is damaged.

    Raises:
        StoreError: with the number of the first entry that can't be read.
    """
    try:
        return read(entries)
    except DAMAGE as error:
        found: Exception = error

    def fails(count: int) -> bool:
        try:
            read(entries[:count])
        except DAMAGE:
            return True
        return False

    first = bisect_left(range(1, len(entries)), True, key=fails)
    raise damaged(path, entries[first].seq if entries else 0, found)


def is_there(path: Path) -> bool:
    """Whether there is such a file.

    Raises:
        StoreError: nobody may look, or no file can have such a name.
    """
    try:
        return path.exists()
    except OSError as error:
        reason = error.strerror or "it can't be looked at"
        raise StoreError(path, reason, "Choose another folder with --data") from None


def _make_private(folder: Path) -> None:
    """The data folder, open to its user only."""
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=FOLDER_MODE)
    except OSError as error:
        reason = error.strerror or "it can't be made"
        raise StoreError(folder, reason, "Choose another folder with --data") from None
