"""The event log: append, read, list. One file, many readers, one writer at a time.

``synchronous=FULL`` in WAL mode: when ``append`` returns, the events are on the disk, as
far as the disk itself tells the truth about its cache.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from benchtimer.run.events import Event
from benchtimer.store.entries import Entry, RunLine, Stamp, check_figures, read_through
from benchtimer.store.errors import (
    DAMAGE,
    SQLITE_TROUBLE,
    Damaged,
    Overtaken,
    StoreError,
    damaged,
    trouble_with,
)
from benchtimer.store.index import LAST, Query, follow, select
from benchtimer.store.kinds import body_of, event_from, kind_of
from benchtimer.store.opening import LogFile
from benchtimer.store.place import FILE_NAME, is_there
from benchtimer.store.seal import COLUMNS, digest_of, trouble_in

__all__ = [
    "FILE_NAME",
    "Entry",
    "EventLog",
    "RunLine",
    "Stamp",
    "StoreError",
    "damaged",
    "is_there",
    "read_through",
]

Mark = tuple[int, int] | None
"""Number and check sum of an entry."""

NOTHING_WRITTEN = "Nothing was written; free the disk"
SO_FAR_BACK = 2000
"""Among so many entries it is looked for when the time was last known."""

SO_MANY = 500
"""So many values at most go into one statement."""


class EventLog(LogFile):
    """The log in one folder.

    Raises:
        Damaged: it is not what was written.
        StoreError: the file can't be opened, is no log, or is of a newer version.
    """

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
        self.want_own_file()
        with self._transaction():
            entries = [self._insert(name, x, stamp) for name, told in streams for x in told]
            self._db.executemany(
                "UPDATE run SET last_seq = ? WHERE name = ?", [(x.seq, x.run) for x in entries]
            )
            if line is not None:
                self._register(line, entries[len(events) - 1].seq)
                follow(self._db, run, events)
        self._known_seq = entries[-1].seq if entries else self._known_seq
        return entries

    def carry_in(
        self, run: str, rows: Sequence[tuple[Event, Stamp]], line: RunLine, wall_ms: int
    ) -> None:
        """Write a whole run that comes from another log, each entry with its own clocks.

        Raises:
            StoreError: nothing was written.
        """
        with self._transaction():
            entries = [self._insert(run, event, stamp) for event, stamp in rows]
            first, last = entries[0].seq, entries[-1].seq
            self._db.execute("INSERT INTO carried VALUES (?, ?, ?, ?)", (first, last, run, wall_ms))
            self._register(line, last)
            follow(self._db, run, [event for event, _ in rows])
        self._known_seq = last

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """All that is written within is written, or nothing; never behind another writer."""
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._refuse_another_writer()
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:  # a full disk has rolled it back already
                    self._db.execute("ROLLBACK")
                raise
        except SQLITE_TROUBLE as error:
            raise trouble_with(self.path, error, NOTHING_WRITTEN) from error

    def mark_at(self, seq: int) -> Mark:
        """What the entry with a number is known again by; None if there is no such entry."""
        rows = self._rows("SELECT seq, digest FROM event WHERE seq = ?", (seq,))
        return (int(rows[0][0]), int(rows[0][1])) if rows else None

    def _refuse_another_writer(self) -> None:
        found = self._last_seq()
        if found != self._known_seq:
            reason = f"another program has written entry {found} meanwhile"
            way_out = "Nothing was written; leave, and open the bench again in one place only"
            raise Overtaken(self.path, reason, way_out)

    def _insert(self, run: str, event: Event, stamp: Stamp) -> Entry:
        body = json.dumps(body_of(event), ensure_ascii=False, separators=(",", ":"))
        query = "SELECT coalesce(max(seq), 0) FROM event WHERE run = ?"
        prev = self._db.execute(query, (run,)).fetchone()[0]
        seq = self._last_seq() + 1
        row = (
            *(seq, run, kind_of(event), event.press, event.t_ms, stamp.noted_ms, event.by, body),
            *(stamp.boot, stamp.count_ms, stamp.wall_ms, stamp.offset_s, prev),
        )
        marks = ", ".join("?" * (len(row) + 1))
        self._db.execute(f"INSERT INTO event ({COLUMNS}) VALUES ({marks})", (*row, digest_of(row)))
        return Entry(seq, run, event, stamp)

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
        rows = self._sealed("WHERE run = ? AND seq > ? ORDER BY seq", (run, after))
        found = []
        last = None if after else 0
        for row in rows:
            found.append(self._read(row))
            if last is not None and row[-2] != last:
                reason = f"entry {row[0]}: the one before it in {run} is missing"
                raise Damaged(self.path, reason)
            last = row[0]
        return found

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

    def last_dated(self) -> Entry | None:
        """The newest entry made while it was known what time it was; None if all newer ones are.

        Behind it the machine was off, and its wall clock could not tell for how long.
        """
        query = "SELECT seq, body FROM event WHERE kind = 'reopened' AND seq > ? ORDER BY seq DESC"
        first_undated = None
        for seq, body in self._rows(query, (self._last_seq() - SO_FAR_BACK,)):
            if '"wall clock' in body:
                break
            first_undated = seq if '"nothing"' in body else first_undated
        if first_undated is None:
            return None
        return next(self._select("WHERE seq < ? ORDER BY seq DESC LIMIT 1", (first_undated,)), None)

    def last_seq(self) -> int:
        """The number of the newest entry; 0 for an empty log."""
        return self._last_seq()

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
        return [self._line(*row) for row in self._rows(query, (limit,))]

    def find(self, query: Query, limit: int = 1000) -> list[RunLine]:
        """The runs that a query leads to, newest first."""
        found = self._rows(*select(query, limit))
        return [line for (name,) in found if (line := self.run_line(name)) is not None]

    def terms(self, kind: str, runs: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """What the index has of one kind for each of these runs, folded, in order of text."""
        found: dict[str, tuple[str, ...]] = {}
        for begin in range(0, len(runs), SO_MANY):
            some = runs[begin : begin + SO_MANY]
            query = (
                f"SELECT run, text FROM term WHERE run IN ({', '.join('?' * len(some))})"
                " AND kind = ? ORDER BY run, text"
            )
            for run, text in self._rows(query, (*some, kind)):
                found[run] = (*found.get(run, ()), text)
        return found

    def named_by_uid(self, uid: str) -> str | None:
        """The name of the run with this identity, if the log has it."""
        return next((line.name for line in self.find(Query(uid=uid), 1)), None)

    def run_line(self, name: str) -> RunLine | None:
        """A run's line in the register, if there is such a run."""
        query = "SELECT name, phase, title, parts, created_ms, offset_s FROM run WHERE name = ?"
        return next((self._line(*row) for row in self._rows(query, (name,))), None)

    def streams(self, prefix: str) -> list[str]:
        """Names of all streams that begin with a text, in order of name."""
        query = "SELECT DISTINCT run FROM event WHERE run >= ? AND run < ? ORDER BY run"
        return [name for (name,) in self._rows(query, (prefix, f"{prefix}\U0010ffff"))]

    def names_like(self, prefix: str) -> list[str]:
        """Names of runs that begin with a text, in order."""
        query = "SELECT name FROM run WHERE name >= ? AND name < ? ORDER BY created_ms, name"
        return [name for (name,) in self._rows(query, (prefix, prefix + LAST))]

    def _select(self, rest: str, values: tuple[Any, ...]) -> Iterator[Entry]:
        for row in self._sealed(rest, values):
            yield self._read(row)

    def _sealed(self, rest: str, values: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        return self._rows(f"SELECT {COLUMNS} FROM event {rest}", values)

    def _read(self, row: tuple[Any, ...]) -> Entry:
        trouble = trouble_in(row)
        try:
            entry = self._entry(*row[:-2])
        except StoreError as error:
            if trouble is None:
                raise
            raise Damaged(self.path, f"{error.reason}; {trouble}") from None
        if trouble is not None:
            raise Damaged(self.path, f"entry {row[0]}: {trouble}")
        return entry

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

    def _line(
        self, name: str, phase: str, title: str, parts: str, created_ms: int, offset_s: int
    ) -> RunLine:
        try:
            return RunLine(name, phase, title, tuple(json.loads(parts)), created_ms, offset_s)
        except DAMAGE as error:
            raise Damaged(self.path, f"run {name} in the register: {error}") from error
