"""A bench that can be looked at while another process drives it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from benchtimer.bath.bath_events import BathEvent
from benchtimer.bench.bench_time import Timeline, bench_clock
from benchtimer.bench.openruns import OpenRuns
from benchtimer.bench.shown import Shown
from benchtimer.clock import Clock
from benchtimer.store.lease import is_held
from benchtimer.store.log import EventLog, LogEntry


class Watcher(Shown):
    """A bench that can be looked at while another process drives it.

    Raises:
        StoreError: there is no log, or it can't be read.
    """

    def __init__(self, folder: Path, clock: Clock, *, speed: float = 1) -> None:
        super().__init__(folder)
        self.speed = speed
        self._log = EventLog(folder, read_only=True)
        with ExitStack() as opened:
            opened.callback(self._log.close)
            self._read_in(clock)
            opened.pop_all()  # a log that could be followed stays open

    def _read_in(self, clock: Clock) -> None:
        self._clock = bench_clock(clock, self._log, self.speed)
        self._runs = OpenRuns(self._log)
        # First the number: what is written while the runs are read is read once more.
        self._seq = self._log.last_seq()
        for line in reversed(self._log.runs(open_only=True)):
            self._runs.load(line.name)
        self._timeline = Timeline(
            self._clock, self._log.last_entry(), self.speed, from_ms=self._log.open_from_ms()
        )

    @property
    def driven(self) -> bool:
        """Whether some process drives this bench now."""
        return is_held(self.folder)

    def look(self) -> None:
        """Read what is new."""
        self.refresh()

    def refresh(self) -> Sequence[LogEntry]:
        """Read what is new; the new entries."""
        self._log.want_own_file()
        self.plans.refresh()
        fresh = self._log.entries_after(self._seq)
        if fresh:
            self._runs.follow(fresh)
            if any(isinstance(entry.event, BathEvent) for entry in fresh):
                self._kept = None
            self._seq = fresh[-1].seq
            self._timeline = Timeline(self._clock, fresh[-1], self.speed)
        return fresh

    def close(self) -> None:
        """Let go of the log."""
        self._log.close()
