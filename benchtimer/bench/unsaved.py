"""Keeps working in memory while the disk can't be written.

Parts in hot tanks don't wait for a disk. When the log can't be written, this module keeps what
happens at the bench, numbered and read as if it were in the log; the screen says that it is not
saved. Once the disk is back, everything is written in order, each press whole or not at all, with
the clock times of its own moment. It goes only after the entry that it followed when it was
decided, never into another file or after entries of another program.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from benchtimer.run.events import Event
from benchtimer.run.run_state import OVER
from benchtimer.store.entries import local_time
from benchtimer.store.errors import (
    SQLITE_TROUBLE,
    Damaged,
    Foreign,
    Gone,
    Newer,
    Overtaken,
    StoreError,
)
from benchtimer.store.log import EventLog, LogEntry, Mark, RunLine, Stamp
from benchtimer.store.opening import BUSY_S
from benchtimer.store.place import has_something, identity_of
from benchtimer.values import dataclass, replace

Also = Mapping[str, Sequence[Event]]

RETRY_BUSY_MS = 200
"""How long a retry waits for another program's transaction; the board waits, too."""

MOST_AT_HAND = 4_000
"""A run with more entries than this is read from the disk, so that memory use stays flat."""

_OVER = frozenset(phase.value for phase in OVER)


@dataclass(frozen=True, slots=True)
class Unsaved:
    """One call of ``append`` that is not on the disk.

    Attributes:
        run: the stream.
        events: what happened.
        stamp: the clocks when it happened.
        line: the run's line in the register afterward.
        also: events of other streams that happened with it.
        entries: all of its entries, with the numbers they will have.
    """

    run: str
    events: Sequence[Event]
    stamp: Stamp
    line: RunLine | None
    also: Also | None
    entries: tuple[LogEntry, ...] = ()


class SteadyLog(EventLog):
    """A log for the driver that keeps what can't be written now and writes it later.

    Attributes:
        unsaved: what is not on the disk, in order.
        trouble: why, as of the last attempt; None while the disk works.
    """

    def __init__(self, folder: Path) -> None:
        self.unsaved: list[Unsaved] = []
        self.trouble = None
        self._at_hand: dict[str, list[LogEntry] | None] = {}  # None: too many entries
        try:
            super().__init__(folder)
        except (Damaged, Foreign, Newer):
            raise
        except StoreError as error:
            self._open_to_read(folder, error)
        self._mark = self._mark_at(self._known_seq)

    def _open_to_read(self, folder: Path, trouble: StoreError) -> None:
        """Opens a bench with parts in its tanks even if its log can only be read."""
        try:
            super().__init__(folder, read_only=True)
        except StoreError:
            raise trouble from None
        self.trouble = trouble

    @property
    def saved_seq(self) -> int:
        """The number of the newest entry on the disk."""
        return self._known_seq

    def append(
        self,
        run: str,
        events: Sequence[Event],
        stamp: Stamp,
        line: RunLine | None = None,
        also: Also | None = None,
    ) -> list[LogEntry]:
        """Write, or keep in memory until the disk is back.

        Args:
            run: the run's name.
            events: what to write.
            stamp: both clocks at the press.
            line: the run's new line in the register.
            also: entries of other runs from the same press.

        Raises:
            Overtaken: another program has written; nothing was written or kept.
        """
        if line is not None and line.phase not in _OVER and run not in self._at_hand:
            with suppress(StoreError):
                self.hold_at_hand(run)
        x = Unsaved(run, events, stamp, line, also)
        entries = self._try(x) if not self.unsaved else []
        if not entries:
            entries = self._keep(x)
        for entry in entries:
            self._add_at_hand(entry)
        if line is not None and line.phase in _OVER and not self.unsaved:
            self._at_hand.pop(run, None)
        return entries

    def hold_at_hand(self, run: str) -> Sequence[LogEntry]:
        """Keep a run's entries in memory: a disk that is gone can't be read either.

        Returns:
            The entries, so that a long run is read once.

        Raises:
            StoreError: they can't be read now.
        """
        entries = self.entries(run)
        self._at_hand[run] = entries if len(entries) <= MOST_AT_HAND else None
        return entries

    def _add_at_hand(self, entry: LogEntry) -> None:
        held = self._at_hand.get(entry.run)
        if held is None:
            return
        held.append(entry)
        if len(held) > MOST_AT_HAND:
            self._at_hand[entry.run] = None

    def _try(self, x: Unsaved) -> list[LogEntry]:
        try:
            entries = super().append(x.run, x.events, x.stamp, x.line, x.also)
        except Overtaken:
            raise
        except StoreError as error:
            self.trouble = error
            return []
        self._mark = self._mark_at(self._known_seq)
        return entries

    def _keep(self, x: Unsaved) -> list[LogEntry]:
        streams = [(x.run, x.events), *(x.also or {}).items()]
        events_by_name = [(name, event) for name, events in streams for event in events]
        last = self._known_seq if not self.unsaved else self.last_seq()
        numbered = enumerate(events_by_name, start=last + 1)
        entries = tuple(LogEntry(seq, name, event, x.stamp) for seq, (name, event) in numbered)
        self.unsaved.append(replace(x, entries=entries))
        return list(entries)

    def save(self) -> list[Unsaved]:
        """Write unsaved entries, in order, as far as possible. Returns what was written."""
        written: list[Unsaved] = []
        if not self.unsaved and self.trouble is None:
            self._notice_if_gone()
            return written
        try:
            self._reopen_log()
            written += self._drop_written()
            while self.unsaved:
                x = self.unsaved[0]
                super().append(x.run, x.events, x.stamp, x.line, x.also)
                written.append(self.unsaved.pop(0))
            self._mark = self._mark_at(self._known_seq)
            self._db.execute(f"PRAGMA busy_timeout = {BUSY_S * 1000:.0f}")
            self.trouble = None
        except StoreError as error:
            self.trouble = error
        except SQLITE_TROUBLE as error:
            self.trouble = StoreError(self.path, str(error), "Free up disk space")
        return written

    def _notice_if_gone(self) -> None:
        """Notice a missing file before the next press does."""
        try:
            self.want_own_file()
        except Gone as gone:
            self.trouble = gone

    def _reopen_log(self) -> None:
        """Open the file that is there now, if it is the same log: a disk may come back as a new
        one.
        """
        with suppress(Gone, *SQLITE_TROUBLE):
            self.want_own_file()
            self._db.execute(f"PRAGMA busy_timeout = {RETRY_BUSY_MS}")
            self._db.execute("SELECT max(seq) FROM event").fetchone()
            if not self.read_only:
                return
        if not has_something(self.path):
            raise Gone(self.path, "it is no longer there", "Put the folder back as it was")
        if not self.read_only and identity_of(self.path) == self._identity[0]:
            # Only the files next to it are gone. Their content is in memory and goes into the file;
            # no other process may have it open while it is reopened.
            with suppress(*SQLITE_TROUBLE):
                self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                self._db.close()
        self._take(EventLog(self.path.parent))

    def _take(self, fresh: EventLog) -> None:
        """Continue with a log that was reopened, if its entries are the ones already known."""
        known = self._known_seq
        if fresh.mark_at(known) != self._mark:
            fresh.close()
            way_out = "Put the folder back as it was"
            raise Gone(self.path, "it is not the log that was open here", way_out)
        with suppress(*SQLITE_TROUBLE):
            self._db.close()
        self.take_over(fresh)
        self._known_seq = known

    def _mark_at(self, seq: int) -> Mark:
        """What identifies the entry with a number; None if it can't be read now."""
        with suppress(StoreError):
            return self.mark_at(seq)
        return None

    def _drop_written(self) -> list[Unsaved]:
        """A disk that fails at the very end of a write may still have kept the entry."""
        written: list[Unsaved] = []
        while self.unsaved and super().last_seq() > self._known_seq:
            head = self.unsaved[0]
            there = tuple(super().entries_after(self._known_seq))[: len(head.entries)]
            if there != head.entries:
                break  # another program's entry: the next write reports it
            self._known_seq = head.entries[-1].seq
            written.append(self.unsaved.pop(0))
        return written

    def _kept(self, run: str | None = None, after: int = 0) -> list[LogEntry]:
        entries = (entry for x in self.unsaved for entry in x.entries)
        return [x for x in entries if (run is None or x.run == run) and x.seq > after]

    def last_seq(self) -> int:
        """The number of the newest entry, written or not."""
        return self.unsaved[-1].entries[-1].seq if self.unsaved else super().last_seq()

    def entries(self, run: str, after: int = 0) -> list[LogEntry]:
        """The entries of a run or bath, including unsaved ones."""
        held = self._at_hand.get(run)
        if held is not None:
            return [x for x in held if x.seq > after]
        found = super().entries(run, after)
        return found + self._kept(run, found[-1].seq if found else after)

    def first_entry(self, run: str) -> LogEntry | None:
        """The entry that a stream starts with."""
        held = self._at_hand.get(run)
        if held:
            return held[0]
        return super().first_entry(run) or next(iter(self._kept(run)), None)

    def entries_after(self, seq: int) -> list[LogEntry]:
        """The entries of all runs after a number, including unsaved ones."""
        found = super().entries_after(seq)
        return found + self._kept(after=found[-1].seq if found else seq)

    def runs(self, *, open_only: bool = False, limit: int = 1000) -> list[RunLine]:
        """The register, newest first, as it will be when everything is saved."""
        newer = {x.line.name: x.line for x in self.unsaved if x.line is not None}
        there = super().runs(open_only=open_only, limit=limit)
        unseen = {line.name for line in there}
        lines = [line for name, line in reversed(newer.items()) if name not in unseen]
        lines += [newer.get(line.name, line) for line in there]
        return [line for line in lines if not (open_only and line.phase in _OVER)][:limit]

    def run_line(self, name: str) -> RunLine | None:
        """A run's line in the register, if there is such a run."""
        newer = [x.line for x in self.unsaved if x.line is not None and x.line.name == name]
        return newer[-1] if newer else super().run_line(name)

    def streams(self, prefix: str) -> list[str]:
        """Names of all streams that begin with a text, by name."""
        names = {x.run for x in self._kept() if x.run.startswith(prefix)}
        return sorted({*super().streams(prefix), *names})

    def names_like(self, prefix: str) -> list[str]:
        """Names of runs that begin with a text."""
        names = [x.line.name for x in self.unsaved if x.line is not None]
        there = super().names_like(prefix)
        return there + [x for x in dict.fromkeys(names) if x.startswith(prefix) and x not in there]

    def warning(self) -> str:
        """What must stay on the screen while something is not saved; empty if everything is."""
        if self.trouble is None:
            return ""
        if not self.unsaved:
            return f"CAN'T BE SAVED NOW: {self.trouble.reason}. {self.trouble.way_out}."
        text = f"NOT SAVED: {how_many(self.unsaved)} ({self.trouble.reason})."
        return (
            f"{text} Keep working: presses stay in memory and are saved once the disk works again."
        )


def how_many(unsaved: Sequence[Unsaved]) -> str:
    """Unsaved entries in words: presses, or entries if there was no press, and since when."""
    stamp = unsaved[0].stamp
    since = local_time(stamp.wall_ms, stamp.offset_s)[11:16] or "--:--"
    entries = [entry for x in unsaved for entry in x.entries]
    presses = len({(x.run, x.event.press) for x in entries if x.event.press})
    number, word = (presses, "press") if presses else (len(entries), "entry")
    plural = {"press": "presses", "entry": "entries"}[word]
    return f"{number} {word if number == 1 else plural} since {since}"
