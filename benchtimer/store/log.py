"""The event log: append, read, list. One file, many readers, one writer at a time.

``synchronous=FULL`` in WAL mode: when ``append`` returns, the events are on the disk,
provided the disk is honest about its cache.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import islice
from typing import Any

from benchtimer.learn.sums import Group
from benchtimer.progress import counted
from benchtimer.run.events import Event, Reopened
from benchtimer.store.entries import (
    LogEntry,
    Stamp,
    as_json,
    body_of,
    check_figures,
    event_from,
    kind_of,
    read_through,
)
from benchtimer.store.errors import DAMAGE, Damaged, Overtaken, StoreError, damaged
from benchtimer.store.index import Query, find_runs, follow, index_all, sums_of
from benchtimer.store.opening import LogFile
from benchtimer.store.place import FILE_NAME, is_there
from benchtimer.store.register import LogState
from benchtimer.store.runline import RunLine
from benchtimer.store.seal import (
    COLUMNS,
    Broken,
    check_rows_in_a_row,
    check_stream,
    digest_of,
    trouble_in,
)
from benchtimer.values import replace

__all__ = [
    "FILE_NAME",
    "EventLog",
    "LogEntry",
    "RunLine",
    "Stamp",
    "StoreError",
    "damaged",
    "is_there",
    "read_through",
]

Mark = tuple[int, int] | None
"""Number and checksum of an entry."""

NOTHING_WRITTEN = "Nothing was written; free up disk space"


class EventLog(LogFile):
    """The log in one folder.

    Raises:
        Damaged: it differs from what was written.
        StoreError: the file can't be opened, is not a log, or is of a newer version.
    """

    def append(
        self,
        run: str,
        events: Sequence[Event],
        stamp: Stamp,
        line: RunLine | None = None,
        also: Mapping[str, Sequence[Event]] | None = None,
    ) -> list[LogEntry]:
        """Write the events of one press, all or none.

        Nothing is written after an entry that this object neither wrote nor found on opening,
        because decisions here did not take it into account.

        Args:
            run: the stream: a run's name, or a bath's stream.
            events: what happened.
            stamp: both clocks now.
            line: the run's line in the register; baths have none.
            also: events of other streams, written together with them or not at all.

        Raises:
            StoreError: nothing was written.
        """
        streams = [(run, events), *(also or {}).items()]
        rows = [(name, event, stamp) for name, some in streams for event in some]
        self.want_own_file()
        with self._transaction():
            entries = self._insert(rows)
            if line is not None:
                self._register.set_line(line)
                follow(self._db, run, events)
        self._known_seq = entries[-1].seq if entries else self._known_seq
        return entries

    def carry_in(
        self, run: str, rows: Sequence[tuple[Event, Stamp]], line: RunLine, wall_ms: int
    ) -> None:
        """Write a whole run from another log, each entry with its own clocks.

        Args:
            run: the run's name.
            rows: each event with its clocks.
            line: the run's line in the register.
            wall_ms: the wall clock now.

        Raises:
            StoreError: nothing was written.
        """
        carried = [(run, event, stamp) for event, stamp in rows]
        with self._transaction():
            entries = self._insert(carried, carried_ms=wall_ms or 1)
            self._register.set_line(line)
            follow(self._db, run, [event for event, _ in rows])
        self._known_seq = entries[-1].seq

    def refill(self, rows: Sequence[tuple[Any, ...]], facts: Mapping[str, str]) -> list[LogEntry]:
        """Copy the entries of another log into this empty one unchanged.

        Args:
            rows: all rows of that log, in order, none missing.
            facts: the facts about that file.

        Raises:
            StoreError: nothing was written.
        """
        entries = [self._read(row) for row in rows]
        with self._transaction():
            state = self._register.state()
            for row, entry in zip(rows, entries, strict=True):
                state = _with_entry(state, entry.event, row[-3])
            marks = ", ".join("?" * len(COLUMNS.split(",")))
            self._db.executemany(f"INSERT INTO event ({COLUMNS}) VALUES ({marks})", rows)
            for name, seq in {entry.run: entry.seq for entry in entries}.items():
                self._register.set_end(name, seq)
            for name, value in facts.items():
                self._register.set_fact(name, value)
            self._register.set_state(state)
        self._known_seq = state.last
        return entries

    def register_runs(self, lines: Iterable[RunLine]) -> None:
        """Write lines of runs into the register, and rebuild the index of all runs.

        Raises:
            StoreError: it could not be written.
        """
        with self._transaction():
            for line in lines:
                self._register.set_line(line)
        with self._careful(NOTHING_WRITTEN):
            index_all(self._db)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """Write everything inside the block or nothing, and never after another writer."""
        with self._careful(NOTHING_WRITTEN):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._refuse_another_writer()
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:  # a full disk has rolled it back already
                    self._db.execute("ROLLBACK")
                raise

    def mark_at(self, seq: int) -> Mark:
        """The mark that identifies an entry by its number; None if there is no such entry."""
        rows = self._rows("SELECT seq, digest FROM event WHERE seq = ?", (seq,))
        return (int(rows[0][0]), int(rows[0][1])) if rows else None

    def _refuse_another_writer(self) -> None:
        found = self._last_seq()
        if found != self._known_seq:
            reason = f"another program wrote entry {found} in the meantime"
            way_out = "Nothing was written; leave, and open the bench in one place only"
            raise Overtaken(self.path, reason, way_out)
        newest = self._rows("SELECT coalesce(max(seq), 0) FROM event")[0][0]
        if newest != found:
            raise Broken(f"its newest entry is {newest}, and the register says {found}")

    def _insert(
        self, rows: Sequence[tuple[str, Event, Stamp]], carried_ms: int = 0
    ) -> list[LogEntry]:
        """Write entries, and the new ends of their streams and of the log in the register."""
        state = self._register.state()
        ends = {name: self._register.end(name) for name, *_ in rows}
        entries = []
        for run, event, stamp in rows:
            state = _with_entry(state, event, carried_ms)
            self._insert_row(state.last, run, event, stamp, (carried_ms, ends[run]))
            ends[run] = state.last
            entries.append(LogEntry(state.last, run, event, stamp))
        for name, seq in ends.items():
            self._register.set_end(name, seq)
        self._register.set_state(state)
        return entries

    def _insert_row(
        self, seq: int, run: str, event: Event, stamp: Stamp, origin: tuple[int, int]
    ) -> None:
        body = as_json(body_of(event))
        row = (
            *(seq, run, kind_of(event), event.press, event.t_ms, stamp.noted_ms, event.by, body),
            *(stamp.boot, stamp.count_ms, stamp.wall_ms, stamp.offset_s, *origin),
        )
        marks = ", ".join("?" * (len(row) + 1))
        self._db.execute(f"INSERT INTO event ({COLUMNS}) VALUES ({marks})", (*row, digest_of(row)))

    def entries(self, run: str, after: int = 0) -> list[LogEntry]:
        """The entries of a run after number ``after``, in the order written.

        Raises:
            StoreError: the file or an entry can't be read.
        """
        with self._looking():
            rows = self._sealed("WHERE run = ? AND seq > ? ORDER BY seq", (run, after))
            end = self._register.end(run)
        found = [self._read(row) for row in counted(rows, "entries read")]
        with self._careful():
            check_stream(run, rows, end, after)
        return found

    def first_entry(self, run: str) -> LogEntry | None:
        """The first entry of a stream."""
        with self._looking():
            rows = self._sealed("WHERE run = ? ORDER BY seq LIMIT 1", (run,))
            end = self._register.end(run)
        found = [self._read(row) for row in rows]
        with self._careful():
            check_stream(run, rows, rows[0][0] if rows and end else end)
        return found[0] if found else None

    def last_entry(self) -> LogEntry | None:
        """The newest entry made here; imported entries have another machine's clocks."""
        with self._looking():
            return self._entry_at(self._register.state().own)

    def last_dated(self) -> LogEntry | None:
        """The newest entry from before the machine lost its time; None if the time is known.

        After it the machine was off, and its wall clock could not show for how long.
        """
        with self._looking():
            return self._entry_at(self._register.state().dated)

    def open_from_ms(self) -> int:
        """Bench time at the newest entry of the open runs, imported ones included."""
        with self._looking():
            lines = [self._register.line(n) for n in self._register.state().open_runs]
            ends = [self._register.end(line.name) for line in lines if line is not None]
            newest = [self._entry_at(seq) for seq in ends]
        return max((entry.stamp.noted_ms for entry in newest if entry is not None), default=0)

    def last_seq(self) -> int:
        """The number of the newest entry; 0 for an empty log."""
        return self._last_seq()

    def entries_after(self, seq: int) -> list[LogEntry]:
        """The entries of all runs after a number, in the order written."""
        with self._looking():
            rows = self._sealed("WHERE seq > ? ORDER BY seq", (seq,))
            last = self._last_seq()
        found = [self._read(row) for row in rows]
        with self._careful():
            check_rows_in_a_row(rows, seq + 1, last)
        return found

    def fact(self, name: str, first: str | None = None) -> str | None:
        """A fact about the file; ``first`` is stored if there is none yet."""
        with self._looking():
            found = self._register.fact(name)
        if found is not None or first is None:
            return found
        with self._transaction():
            self._register.set_fact(name, first)
        return first

    def runs(self, *, open_only: bool = False, limit: int = 1000) -> list[RunLine]:
        """The register, newest first, in order of setup, regardless of clocks."""
        with self._looking():
            if not open_only:
                return list(islice(self._register.lines(), limit))
            numbers = sorted(self._register.state().open_runs, reverse=True)[:limit]
            lines = [self._register.line(number) for number in numbers]
        found = [line for line in lines if line is not None]
        if len(found) != len(lines):
            raise Damaged(self.path, "the register lacks a run that is open")
        return found

    def find(self, query: Query, limit: int = 1000) -> list[RunLine]:
        """The runs that match a query, newest first."""
        with self._looking():
            names = find_runs(self._register, query, limit)
            return [line for x in names if (line := self._register.line_of(x)) is not None]

    def terms(self, kind: str, runs: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """The index terms of one kind for each of these runs, folded, in order of text."""
        with self._looking():
            all_of_them = {run: self._register.terms(run) for run in runs}
        words = {run: tuple(t for k, t in some if k == kind) for run, some in all_of_them.items()}
        return {run: texts for run, texts in words.items() if texts}

    def learned(self, recipe: str) -> dict[str, Group]:
        """What closed runs taught about a recipe, by maker; see ``learn.sums``."""
        with self._looking():
            return sums_of(self._register, recipe)

    def named_by_uid(self, uid: str) -> str | None:
        """The name of the run with this identity, if the log has it."""
        return next((line.name for line in self.find(Query(uid=uid), 1)), None)

    def run_line(self, name: str) -> RunLine | None:
        """A run's line in the register, if there is such a run."""
        with self._looking():
            return self._register.line_of(name)

    def streams(self, prefix: str) -> list[str]:
        """Names of all streams that begin with a text, in order of name."""
        with self._looking():
            return list(self._register.ends(prefix))

    def names_like(self, prefix: str) -> list[str]:
        """Names of runs that begin with a text, in order."""
        with self._looking():
            return self._register.names(prefix)

    def _entry_at(self, seq: int) -> LogEntry | None:
        if not seq:
            return None
        rows = self._sealed("WHERE seq = ?", (seq,))
        if not rows:
            raise Broken(f"entry {seq} is missing")
        return self._read(rows[0])

    def _sealed(self, rest: str, values: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        return self._rows(f"SELECT {COLUMNS} FROM event {rest}", values)

    def _read(self, row: tuple[Any, ...]) -> LogEntry:
        trouble = trouble_in(row)
        try:
            entry = self._entry(*row[:-3])
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
    ) -> LogEntry:  # fmt: skip
        try:
            check_figures(press, t_ms, noted_ms, count_ms, wall_ms, offset_s)
            event = event_from(kind, json.loads(body), press=press, t_ms=t_ms, by=by)
        except DAMAGE as error:
            raise damaged(self.path, seq, error) from error
        return LogEntry(seq, run, event, Stamp(noted_ms, boot, count_ms, wall_ms, offset_s))


def _with_entry(state: LogState, event: Event, carried_ms: int) -> LogState:
    """The state of a log after one more entry."""
    seq = state.last + 1
    if carried_ms:
        return replace(state, last=seq)
    dated = state.dated
    if isinstance(event, Reopened):
        if event.elapsed_from.startswith("wall clock"):
            dated = 0
        elif event.elapsed_from == "nothing":
            dated = dated or state.own
    return replace(state, last=seq, own=seq, dated=dated)
