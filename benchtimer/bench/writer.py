"""Writes on a bench; it joins clock, store and engine.

Every press takes the same path: decide, write to the disk, then update the state. While the disk
can't be written, the log keeps presses in memory and the bench says so until they are saved
(``unsaved``).
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from contextlib import ExitStack, suppress
from pathlib import Path

from benchtimer.atomic_file import clear_away_halves
from benchtimer.bath.bath_decide import BathCommand
from benchtimer.bath.bath_state import Bath
from benchtimer.bath.bath_wear import WearLimits
from benchtimer.bench.bath_book import BathBook
from benchtimer.bench.jobbook import JobBook
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.openruns import is_at_work, run_line
from benchtimer.bench.probes import TAKEN, ProbeReading, Probes
from benchtimer.bench.recordfile import records_folder, run_without_record, write_record_file
from benchtimer.bench.rescue import parting
from benchtimer.bench.unsaved import SteadyLog, Unsaved
from benchtimer.clock import Clock
from benchtimer.job.job_decide import JobCommand
from benchtimer.job.job_state import Job
from benchtimer.quantity import did_you_mean
from benchtimer.recipe.places import ShopPlace
from benchtimer.records.record import local_time, words_of
from benchtimer.records.sentences import sentence
from benchtimer.run.commands import Command
from benchtimer.run.decide import Now
from benchtimer.run.events import (
    PROGRAM,
    AlarmSilenced,
    ClockJumped,
    Event,
    Reopened,
    WrittenLate,
)
from benchtimer.run.evolve import fold, recipe_from_table
from benchtimer.run.probe import places_called, read_by_probe
from benchtimer.run.run_state import OVER
from benchtimer.shop.shop_decide import decide_in_shop
from benchtimer.store.backups import FIRST_S, BackupKeeper, newer_backup_words
from benchtimer.store.entries import is_of_run
from benchtimer.store.lease import Lease
from benchtimer.store.log import (
    LogEntry,
    Stamp,
    StoreError,
)

CLOCK_NOT_SET = (
    "This computer's clock is not set, so the time it was off is unknown. The timers continue "
    "from where they were; set the clock to correct them"
)


NO_BOOT = (
    "This computer can't tell whether it was restarted, so the wall clock says how long the bench "
    "was closed. Check that clock"
)


class Writer:
    """Writes on a bench; it holds the lease, the log and the books.

    Args:
        bench: the bench.
        lease: the right to drive it.
        log: its log.
        books: the bath book and the jobs.
        rescue_to: folders for unsaved entries when the bench closes.

    Attributes:
        baths: the bath book.
        probes: the probes in the baths.
        jobs: the jobs.
        parting: what to say after it closes: what was not saved, and where it is.
    """

    def __init__(
        self, bench: OpenBench, lease: Lease, log: SteadyLog, baths: BathBook,
        rescue_to: Sequence[Path],
    ) -> None:  # fmt: skip
        self._bench = bench
        self._lease = lease
        self._log = log
        self._rescue_to = rescue_to
        self._is_closed = False
        self.parting = ""
        self._backups = BackupKeeper(bench.folder, wanted=bench.speed == 1)
        self.baths = baths
        self.jobs = JobBook(log)
        opened_ms = bench.stamp().noted_ms
        for line in reversed(log.runs(open_only=True)):
            bench.runs.load(line.name, log.hold_at_hand(line.name))
        self._report_condition()
        clear_away_halves(records_folder(bench.folder), alone=True)
        self._without_record = run_without_record(log)
        self._report_gap(opened_ms)
        self._backups.begin(log.saved_seq, FIRST_S)
        self.probes = Probes(bench.folder, self._take_reading)

    def set_up(self, new: NewRun) -> str:
        """Set up a run; it is idle until you start it.

        Returns:
            The run's name.

        Raises:
            Refused: it can't be set up.
            StoreError: it could not be written.
        """
        recipes = dict(new.parts)
        early = self.jobs.want_parts({called: recipes[name] for name, called in new.jobs.items()})
        stamp = self._bench.stamp()
        read = {key: recipe_from_table(table) for key, table in new.recipes.items()}
        tied, notices = self.baths.tie(read, new.baths, stamp.noted_ms)
        now, taken = Now(stamp.noted_ms, self._bench.by), self._bench.shop(stamp).numbers
        events = new.created(
            now, uid=uuid.uuid4().hex, speed=self._bench.speed, baths=tied, taken=taken,
            shop=self.baths.places,
        )  # fmt: skip
        name = self._new_name(stamp)
        state = fold(events)
        self._bench.shop(stamp).beside(name, state).check_vessels(name)
        line = run_line(name, state, stamp)
        self._bench.runs.follow(self._log.append(name, events, stamp, line))
        self._bench.notices[name] = [*early, *notices]
        return name

    def press(self, name: str, command: Command, at: Stamp | None = None) -> list[Event]:
        """Carry out a command: decide, write (or keep in memory), update the state.

        Args:
            name: the run.
            command: what to do.
            at: the time of the press; now if None.

        Raises:
            Refused: it can't be done; nothing changed.
            StoreError: another program has written; nothing changed.
        """
        stamp = at if at is not None else self._bench.stamp()
        if self.notice_clock(stamp):
            stamp = self._bench.stamp()
        was_over = self._bench.state(name).bench.phase in OVER
        shop = self._bench.shop(stamp).beside(name, self._bench.state(name))
        also = decide_in_shop(shop, name, command, Now(stamp.noted_ms, self._bench.by))
        events = also.pop(name)
        self._write(name, events, stamp, also)
        if was_over or self._bench.state(name).bench.phase in OVER:
            self._write_record(name)
            self._backups.begin(self._log.saved_seq)
        return events

    def write_bath(self, name: str, command: BathCommand) -> Bath | None:
        """Write into the bath book. Returns the bath, or None if its mixing entry was taken back.

        Raises:
            Refused: it can't be written; nothing changed.
            StoreError: it could not be written; nothing changed.
        """
        bath = self.baths.write(name, command, self._bench.stamp(), self._bench.by)
        self._bench.read_book_again()
        return bath

    def write_job(self, name: str, command: JobCommand, recipes: Collection[str]) -> Job | None:
        """Write into a job's stream. Returns the job, or None if its opening was taken back.

        Args:
            name: the job's name.
            command: what is wished.
            recipes: the recipes there are.

        Raises:
            Refused: it can't be written; nothing changed.
            StoreError: it could not be written; nothing changed.
        """
        return self.jobs.write(
            name, command, self._bench.stamp(), by=self._bench.by, recipes=recipes
        )

    def silence(self, due: Mapping[str, str], for_ms: int) -> None:
        """Record that alarms were silenced; this changes nothing on any bench.

        Args:
            due: what was due, in words, by run.
            for_ms: how long they stay silent.

        Raises:
            StoreError: it could not be written.
        """
        stamp = self._bench.stamp()
        for name, words in due.items():
            said = AlarmSilenced(
                press=0, t_ms=stamp.noted_ms, by=self._bench.by, for_ms=for_ms, due=words
            )  # fmt: skip
            self._write(name, [said], stamp)

    def _write_missing_record(self) -> None:
        """Save the record a killed process may have left out; the first frame comes first."""
        name, self._without_record = self._without_record, None
        if name is not None:
            self._write_record(name)

    def _write_record(self, name: str) -> None:
        """Save the record as a file; if that fails, nothing is lost and a message says so."""
        try:
            write_record_file(self._bench.folder, self._bench.record(name))
            self._bench.complaint = None
        except StoreError as error:
            self._bench.complaint = str(error)

    def notice_clock(self, at: Stamp | None = None) -> int:
        """Check the disk and the clock: save what is unsaved, and note whether the clock was set.

        Args:
            at: the time; now if None.

        Returns:
            How far the wall clock was set, now noted in every open run; 0 if it was not.

        Raises:
            StoreError: another program has written.
        """
        self._save()
        self._write_missing_record()
        stamp = at if at is not None else self._bench.stamp()
        self._backups.retry(self._log.saved_seq, stamp.noted_ms)
        self.probes.look()
        jump_ms = self._bench.timeline.wall_jump_ms(stamp)
        if jump_ms:
            now_ms = self._bench.stamp().noted_ms
            self._write_everywhere(ClockJumped(press=0, t_ms=now_ms, by=PROGRAM, by_ms=jump_ms))
            self._bench.timeline.acknowledge_jump()
            self._catch_up()
        return jump_ms

    def _take_reading(self, reading: ProbeReading) -> str:
        """Record a probe's reading in every open run with its place. Returns the answer to the
        probe.

        Raises:
            BadValue: it is not a temperature.
        """
        known: set[str] = set()
        found = False
        for name in self._bench.names:
            bench = self._bench.state(name).bench
            known |= {p.station.title for p in bench.places.values() if p.station.temperature}
            for place in places_called(bench, reading.place) if bench.phase not in OVER else ():
                found, stamp = True, self._bench.stamp()
                events = read_by_probe(
                    bench, place, reading.value, probe=reading.probe, now_ms=stamp.noted_ms
                )
                if events:
                    self._write(name, events, stamp)
        if found:
            return TAKEN
        hint = did_you_mean(reading.place, known, f"places: {', '.join(sorted(known)) or 'none'}")
        return f'PROBE {reading.probe}: no open run has a place "{reading.place}"; {hint}'

    @property
    def unsaved(self) -> str:
        """What must stay on the screen while something is not on the disk; empty otherwise."""
        return self._log.warning() or self._backups.trouble

    @property
    def unsaved_entries(self) -> int:
        """How many entries are not on the disk."""
        return sum(len(x.entries) for x in self._log.unsaved)

    def want_saved(self) -> None:
        """For callers that can't wait until the disk is back.

        Raises:
            StoreError: something is not on the disk.
        """
        if self._log.unsaved and self._log.trouble is not None:
            raise self._log.trouble

    def _save(self) -> None:
        """Save what is in memory, if that works now, and note it in its runs."""
        trouble = self._log.trouble
        written = self._log.save()
        saved = [x for x in written if not all(isinstance(y, WrittenLate) for y in x.events)]
        if not saved or trouble is None:
            return
        for name in dict.fromkeys(x.run for x in saved if x.run in self._bench.names):
            self._report_late(name, [x for x in saved if x.run == name], trouble.reason)
            if self._bench.state(name).bench.phase in OVER:
                self._write_record(name)
        self._backups.begin(self._log.saved_seq)

    def _report_late(self, name: str, late: Sequence[Unsaved], why: str) -> None:
        stamp = self._bench.stamp()
        event = WrittenLate(
            press=0, t_ms=stamp.noted_ms, by=PROGRAM, why=why,
            entries=sum(len(x.events) for x in late),
            late_ms=stamp.noted_ms - late[0].stamp.noted_ms,
        )  # fmt: skip
        self._bench.runs.follow(self._log.append(name, [event], stamp))

    def _catch_up(self) -> None:
        """A clock corrected after a dead battery shows how long the machine was off."""
        missed_ms = self._bench.timeline.catch_up_ms()
        if missed_ms:
            event = Reopened(
                press=0, t_ms=self._bench.stamp().noted_ms, by=PROGRAM,
                elapsed_from="wall clock set since", away_ms=missed_ms,
            )  # fmt: skip
            self._write_everywhere(event)

    def close(self) -> None:
        """Release the log and the lease; what is still unsaved goes where ``parting`` says."""
        if self._is_closed:
            return
        self._is_closed = True
        with suppress(StoreError):
            self._save()
        self._write_missing_record()
        if self._log.unsaved:
            self.parting = parting(self._log, self._bench.folder, self._rescue_to, self._sentence)
        self._backups.end()
        self._log.close()
        self._lease.release()

    def _sentence(self, entry: LogEntry) -> str:
        if not is_of_run(entry.event):
            return str(entry.event)
        return sentence(entry.event, words_of(self._bench.state(entry.run).bench))

    def _write(
        self,
        name: str,
        events: list[Event],
        stamp: Stamp,
        others: Mapping[str, Sequence[Event]] | None = None,
    ) -> None:
        after = fold(events, self._bench.state(name))
        line = self._bench.runs.line(name, after)
        also: dict[str, Sequence[Event]] = dict(others or {})
        if after.bench.phase in OVER:
            also |= self._bench.shop(stamp).left_behind(name, stamp.noted_ms)
        if after.bench.phase in OVER and after.bench.baths:
            seq = self._log.last_seq()
            fresh = [LogEntry(seq + i, name, x, stamp) for i, x in enumerate(events, start=1)]
            was_over = self._bench.state(name).bench.phase in OVER
            also |= self.baths.booked(name, fresh, stamp, was_over=was_over)
        entries = self._log.append(name, events, stamp, line, also)
        self._bench.runs.follow(entries, {name: after})

    def _write_everywhere(self, *events: Event) -> None:
        """Write into all open runs or none, so that a second attempt writes nothing twice."""
        names = [name for name in self._bench.names if is_at_work(self._bench.state(name))]
        if names:
            also = dict.fromkeys(names[1:], events)
            self._bench.runs.follow(
                self._log.append(names[0], events, self._bench.stamp(), also=also)
            )

    def _report_condition(self) -> None:
        """Report trouble with the log or the clock in every run on the bench."""
        remarks = list(self._log.remarks)
        missing = newer_backup_words(self._bench.folder, self._log.last_seq())
        remarks += [missing] if missing is not None else []
        if self._bench.timeline.is_behind:
            remarks.append(CLOCK_NOT_SET)
        if self._bench.timeline.gap is not None and self._bench.stamp().boot is None:
            remarks.append(NO_BOOT)
        for name in self._bench.names if remarks else []:
            self._bench.notices[name] = list(remarks)

    def _report_gap(self, opened_ms: int) -> None:
        """Note in every open run how long the program was away, and by which clock."""
        gap, jump_ms = self._bench.timeline.gap, self._bench.timeline.gap_jump_ms
        if gap is None:
            return
        reopened = Reopened(
            press=0, t_ms=opened_ms, by=PROGRAM,
            elapsed_from=gap.elapsed_from, away_ms=gap.away_ms,
        )  # fmt: skip
        jumped = ClockJumped(press=0, t_ms=opened_ms, by=PROGRAM, by_ms=jump_ms)
        self._write_everywhere(*((reopened, jumped) if jump_ms else (reopened,)))

    def _new_name(self, stamp: Stamp) -> str:
        day = local_time(stamp.wall_ms, stamp.offset_s)[:10]
        taken = set(self._log.names_like(f"{day}-"))
        number = 1
        while f"{day}-{number}" in taken:
            number += 1
        return f"{day}-{number}"


def drive(
    folder: Path,
    clock: Clock,
    *,
    by: str = "maker",
    speed: float = 1,
    limits: Mapping[str, WearLimits] | None = None,
    places: Sequence[ShopPlace] = (),
    rescue_to: Sequence[Path] = (),
) -> OpenBench:
    """A bench driven from here.

    Args:
        folder: the data folder of this bench.
        clock: the machine's clock.
        by: who presses the keys.
        speed: 1, or how many times faster practice runs.
        limits: the shop's own limits for its baths, by mix id.
        places: the shop's places, as its settings declare them.
        rescue_to: folders for unsaved entries when the bench closes.

    Raises:
        LeaseTaken: another process drives this bench.
        StoreError: the log can't be used.
    """
    try:
        lease = Lease(folder, clock.read().wall_ms)
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise StoreError(folder, reason, "Choose another folder with --data") from None
    with ExitStack() as undo:
        undo.callback(lease.release)
        log = SteadyLog(folder)
        undo.callback(log.close)
        bench = OpenBench(folder, log, clock, speed)
        bench.by = by
        baths = BathBook(log, limits or {}, tuple(places))
        bench.write_with(Writer(bench, lease, log, baths, rescue_to))
        undo.pop_all()  # keep open what could be opened
    return bench
