"""The bench: the one place where clock, store and engine meet.

A ``Driver`` holds the lease and may change things; a ``Watcher`` looks on. Both show the
same runs. Every press goes the same way: decide, write to the disk, then let the state
follow. What is not on the disk has not happened.
"""

from __future__ import annotations

import os
import tempfile
import uuid
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from benchtimer.bath.commands import BathCommand
from benchtimer.bath.events import BathEvent
from benchtimer.bath.fatigue import Limits
from benchtimer.bath.state import Bath
from benchtimer.bathbook import BathBook
from benchtimer.clock import Clock, PracticeClock
from benchtimer.records.archive import records_of
from benchtimer.records.export import as_toml
from benchtimer.records.record import Record, local_time
from benchtimer.run.commands import Command
from benchtimer.run.decide import Now, create, decide
from benchtimer.run.events import PROGRAM, AlarmSilenced, ClockJumped, Created, Event, Reopened
from benchtimer.run.evolve import fold, recipe_from_table
from benchtimer.run.state import OVER, RunPhase, State
from benchtimer.store.index import Query
from benchtimer.store.lease import FILE_NAME as LEASE_NAME
from benchtimer.store.lease import Lease, is_alive, read_holder
from benchtimer.store.log import Entry, EventLog, RunLine, Stamp, StoreError, read_through
from benchtimer.timeline import Timeline

WRITING = ".writing-"
"""What the name of a file begins with that is not yet written to its end."""

SO_MANY = 10
"""So many runs of a part are compared on the screen."""


@dataclass(frozen=True, slots=True)
class NewRun:
    """What a run is laid out from.

    Attributes:
        title: what it is called.
        recipes: recipe tables by key, adjustments made.
        parts: name and recipe key of each part.
        properties: what is known of each part, such as its temper.
        away: hours with nobody there, every day, such as "22:00-07:00".
        adjustments: the changes made, as texts for the record.
        hands: people who work.
        baths: bath of the bath book wanted in a station, by station id; others are chosen.
    """

    title: str
    recipes: Mapping[str, dict[str, Any]]
    parts: Sequence[tuple[str, str]]
    properties: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    away: tuple[str, ...] = ()
    adjustments: tuple[str, ...] = ()
    hands: int = 1
    baths: Mapping[str, str] = field(default_factory=dict)


def data_folder(base: Path, speed: float) -> Path:
    """Where a bench of this speed keeps its log: practice never mixes with real work."""
    return base if speed == 1 else base / f"practice-{speed:g}x"


def bench_clock(base: Clock, log: EventLog, speed: float) -> Clock:
    """The clock for a bench: the real one, or one stretched from the log's birth on."""
    if speed == 1:
        return base
    wall_ms = base.read().wall_ms
    origin = log.fact("practice-origin-wall-ms", None if log.read_only else str(wall_ms))
    return PracticeClock(base, speed, int(origin) if origin is not None else wall_ms)


class _Runs:
    """The open runs of a log, kept up to date entry by entry."""

    def __init__(self, log: EventLog) -> None:
        self._log = log
        self._states: dict[str, State] = {}
        self._created: dict[str, Entry] = {}
        self._folded_seq: dict[str, int] = {}

    def load(self, name: str) -> State:
        """Read a run from the log."""
        entries = self._log.entries(name)
        if not entries:
            raise StoreError(self._log.path, f"it has no run {name}", "See benchtimer log")
        self._states[name] = self._after(State(), entries)
        self._created[name] = entries[0]
        self._folded_seq[name] = entries[-1].seq
        return self._states[name]

    def follow(self, entries: Sequence[Entry]) -> None:
        """Let the states follow new entries; those that a run has followed already change nothing.

        Raises:
            StoreError: an entry is damaged; those before it have been followed.
        """
        for entry in entries:
            if isinstance(entry.event, BathEvent):
                continue  # baths are no runs
            if entry.seq > self._folded_seq.get(entry.run, 0):
                self._follow(entry)

    def _follow(self, entry: Entry) -> None:
        name = entry.run
        if isinstance(entry.event, Created):
            self._created[name] = entry
        elif name not in self._states:
            self.load(name)
            return
        self._states[name] = self._after(self._states.get(name, State()), [entry])
        self._folded_seq[name] = entry.seq

    def _after(self, state: State, entries: Sequence[Entry]) -> State:
        return read_through(self._log.path, entries, partial(_folded, state))

    @property
    def names(self) -> list[str]:
        """The runs held here, in order of being laid out."""
        return list(self._states)

    def state(self, name: str) -> State:
        """The state of a run."""
        return self._states[name] if name in self._states else self.load(name)

    def line(self, name: str, state: State) -> RunLine:
        """The register's line of a run."""
        stamp = self._created[name].stamp
        bench = state.bench
        return RunLine(
            name, bench.phase.value, bench.title, tuple(bench.parts), stamp.wall_ms, stamp.offset_s
        )


def _folded(state: State, entries: Sequence[Entry]) -> State:
    after = fold((entry.event for entry in entries), state)
    for part in after.bench.parts.values():
        after.bench.recipe_of(part)  # each has one, unless the log is damaged
    return after


class _Shown:
    """What driver and watcher have in common: runs to look at, and the time."""

    _log: EventLog
    _runs: _Runs
    _timeline: Timeline

    @property
    def names(self) -> list[str]:
        """The runs on the bench, oldest first."""
        return self._runs.names

    def state(self, name: str) -> State:
        """The state of a run, as this process last knew it."""
        return self._runs.state(name)

    def stamp(self) -> Stamp:
        """Bench time and both clocks now."""
        return self._timeline.stamp()

    def records_with(self, part: str) -> list[Record]:
        """The records of the newest runs that a part of this name was in, oldest first."""
        return list(records_of(self._log, Query(part=part), SO_MANY))

    def recent(self, limit: int = 20) -> list[RunLine]:
        """The newest runs of the log."""
        return self._log.runs(limit=limit)


class Driver(_Shown):
    """A bench that can be worked at.

    Args:
        folder: the data folder of this bench.
        clock: the machine's clock.
        by: who presses the keys.
        speed: 1, or how many times faster practice runs.
        limits: the shop's own limits for its baths, by mix id.

    Attributes:
        baths: the bath book.
        notices: what should be said of each run laid out here before it begins, by its name.

    Raises:
        LeaseTaken: another process drives this bench.
        StoreError: the log can't be used.
    """

    read_only = False

    def __init__(
        self,
        folder: Path,
        clock: Clock,
        *,
        by: str = "maker",
        speed: float = 1,
        limits: Mapping[str, Limits] | None = None,
    ) -> None:
        self.folder = folder
        self.by = by
        self.speed = speed
        self.complaint: str | None = None
        self.notices: dict[str, list[str]] = {}
        try:
            self._lease = Lease(folder, clock.read().wall_ms)
        except OSError as error:
            reason = error.strerror or "it can't be written"
            raise StoreError(folder, reason, "Choose another folder with --data") from None
        try:
            self._log = EventLog(folder)
            self._timeline = Timeline(
                bench_clock(clock, self._log, speed), self._log.last_entry(), speed
            )
            self._opened_ms = self._timeline.stamp().noted_ms
            self._gap_is_told = self._timeline.gap is None
            self._runs = _Runs(self._log)
            self.baths = BathBook(self._log, limits or {})
            for line in reversed(self._log.runs(open_only=True)):
                self._runs.load(line.name)
            self._finish_record()
            self._try_to_tell_gap()
        except BaseException:
            self._lease.release()
            raise

    def lay_out(self, new: NewRun) -> str:
        """Lay out a run; it stands idle until it is started.

        Returns:
            The run's name.

        Raises:
            Refused: it can't be laid out.
            StoreError: it could not be written.
        """
        stamp = self.stamp()
        read = {key: recipe_from_table(table) for key, table in new.recipes.items()}
        tied, notices = self.baths.tie(read, new.baths, stamp.noted_ms)
        events = create(
            Now(stamp.noted_ms, self.by),
            uid=uuid.uuid4().hex,
            title=new.title,
            recipes=new.recipes,
            parts=list(new.parts),
            properties=new.properties,
            away=new.away,
            adjustments=new.adjustments,
            hands=new.hands,
            speed=self.speed,
            baths=tied,
        )
        name = self._new_name(stamp)
        bench = fold(events).bench
        line = RunLine(
            name, bench.phase.value, bench.title, tuple(bench.parts), stamp.wall_ms, stamp.offset_s
        )
        self._runs.follow(self._log.append(name, events, stamp, line))
        self.notices[name] = notices
        return name

    def press(self, name: str, command: Command) -> list[Event]:
        """Do what somebody asks: decide, write, follow.

        Raises:
            Refused: it can't be done; nothing changed.
            StoreError: it could not be written; nothing changed.
        """
        self.notice_clock()
        stamp = self.stamp()
        was_over = self.state(name).bench.phase in OVER
        events = decide(self.state(name), command, Now(stamp.noted_ms, self.by))
        self._write(name, events, stamp)
        if was_over or self.state(name).bench.phase in OVER:
            self._write_record(name)
        return events

    def write_bath(self, name: str, command: BathCommand) -> Bath | None:
        """Write into the bath book; the bath afterwards, None if its mixing was taken back.

        Raises:
            Refused: it can't be written; nothing changed.
            StoreError: it could not be written; nothing changed.
        """
        return self.baths.write(name, command, self.stamp(), self.by)

    def silence(self, due: Mapping[str, str], for_ms: int) -> None:
        """Write down that alarms were silenced: it changes nothing on any bench.

        Args:
            due: what was due, in words, by run.
            for_ms: how long there is quiet.

        Raises:
            StoreError: it could not be written.
        """
        stamp = self.stamp()
        for name, words in due.items():
            said = AlarmSilenced(
                press=0, t_ms=stamp.noted_ms, by=self.by, for_ms=for_ms, due=words
            )  # fmt: skip
            self._write(name, [said], stamp)

    def _write_record(self, name: str) -> None:
        """The record as a file; if that fails nothing is lost, but somebody should know."""
        try:
            write_record_file(self.folder, self.record(name))
            self.complaint = None
        except StoreError as error:
            self.complaint = str(error)

    def _finish_record(self) -> None:
        """The record that a killed process owes: its last press may have ended a run."""
        with suppress(OSError):  # where nothing can be written, nothing can be cleared away
            for left in (self.folder / "records").glob(f"{WRITING}*"):
                left.unlink(missing_ok=True)
        line = self._log.last_run()
        if line is not None and RunPhase(line.phase) in OVER:
            self._write_record(line.name)

    def notice_clock(self) -> int:
        """Write an entry into every open run if the wall clock was set; how far it was.

        Raises:
            StoreError: it could not be written; it will be tried again when this is next asked.
        """
        if not self._gap_is_told:
            self._tell_gap()
        jump_ms = self._timeline.wall_jump_ms()
        if jump_ms:
            now_ms = self.stamp().noted_ms
            self._write_everywhere(ClockJumped(press=0, t_ms=now_ms, by=PROGRAM, by_ms=jump_ms))
            self._timeline.acknowledge_jump()
        return jump_ms

    def record(self, name: str) -> Record:
        """The record of a run as it stands."""
        return self.baths.record(name)

    def close(self) -> None:
        """Let go of the log and the lease."""
        self._log.close()
        self._lease.release()

    def _write(self, name: str, events: list[Event], stamp: Stamp) -> None:
        after = fold(events, self.state(name))
        line = self._runs.line(name, after)
        also: dict[str, list[BathEvent]] = {}
        if after.bench.phase in OVER and after.bench.baths:
            seq = self._log.last_seq()
            fresh = [Entry(seq + i, name, x, stamp) for i, x in enumerate(events, start=1)]
            also = self.baths.booked(name, fresh, stamp)
        self._runs.follow(self._log.append(name, events, stamp, line, also))

    def _write_everywhere(self, *events: Event) -> None:
        """Write into all open runs or into none, so that a second try writes nothing twice."""
        open_phases = (RunPhase.RUNNING, RunPhase.HELD)
        names = [name for name in self.names if self.state(name).bench.phase in open_phases]
        if names:
            also = dict.fromkeys(names[1:], events)
            self._runs.follow(self._log.append(names[0], events, self.stamp(), also=also))

    def _try_to_tell_gap(self) -> None:
        """A bench with parts in its tanks opens although nothing can be written, and says so."""
        try:
            self._tell_gap()
        except StoreError as error:
            self.complaint = str(error)
            for name in self.names:
                self.notices[name] = [self.complaint]

    def _tell_gap(self) -> None:
        """Say in every open run how long nobody listened, and which clock tells."""
        gap, jump_ms = self._timeline.gap, self._timeline.gap_jump_ms
        if gap is None:
            return
        reopened = Reopened(
            press=0, t_ms=self._opened_ms, by=PROGRAM,
            elapsed_from=gap.told_by, away_ms=gap.away_ms,
        )  # fmt: skip
        jumped = ClockJumped(press=0, t_ms=self._opened_ms, by=PROGRAM, by_ms=jump_ms)
        self._write_everywhere(*((reopened, jumped) if jump_ms else (reopened,)))
        self._gap_is_told = True
        self.complaint = None

    def _new_name(self, stamp: Stamp) -> str:
        day = local_time(stamp.wall_ms, stamp.offset_s)[:10]
        taken = set(self._log.names_like(f"{day}-"))
        number = 1
        while f"{day}-{number}" in taken:
            number += 1
        return f"{day}-{number}"


class Watcher(_Shown):
    """A bench that can be looked at while another process drives it.

    Raises:
        StoreError: there is no log, or it can't be read.
    """

    read_only = True

    def __init__(self, folder: Path, clock: Clock, *, speed: float = 1) -> None:
        self.folder = folder
        self.speed = speed
        self._log = EventLog(folder, read_only=True)
        self._clock = bench_clock(clock, self._log, speed)
        self._runs = _Runs(self._log)
        # First the number: what is written while the runs are read is read once more.
        self._seq = self._log.last_seq()
        for line in reversed(self._log.runs(open_only=True)):
            self._runs.load(line.name)
        self._timeline = Timeline(self._clock, self._log.last_entry(), speed)

    @property
    def driven(self) -> bool:
        """Whether some process drives this bench now, as far as can be told from here."""
        holder = read_holder(self.folder / LEASE_NAME)
        return holder is not None and is_alive(holder.pid)

    def refresh(self) -> Sequence[Entry]:
        """Read what is new; the new entries."""
        fresh = self._log.entries_after(self._seq)
        if fresh:
            self._runs.follow(fresh)
            self._seq = fresh[-1].seq
            self._timeline = Timeline(self._clock, fresh[-1], self.speed)
        return fresh

    def record(self, name: str) -> Record:
        """The record of a run as it stands."""
        return BathBook(self._log).record(name)

    def close(self) -> None:
        """Let go of the log."""
        self._log.close()


def write_record_file(folder: Path, record: Record) -> Path:
    """The record as a TOML file in the data folder; an older one of the run is replaced whole."""
    target = folder / "records" / f"{record.run}.toml"
    try:
        target.parent.mkdir(exist_ok=True, mode=0o700)
        text = as_toml(record)
        if not (target.is_file() and target.read_bytes() == text.encode()):
            _replace(target, text)
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise StoreError(target, reason, "The log has everything: benchtimer log") from None
    return target


def _replace(target: Path, text: str) -> None:
    """Write beside the target, force it to the disk, and put it in the target's place."""
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=WRITING)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
