"""The runs on the bench, folded from the log and kept up to date entry by entry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from benchtimer.progress import counted
from benchtimer.run.events import Created
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import RunPhase, RunState
from benchtimer.store.entries import is_of_run
from benchtimer.store.log import EventLog, LogEntry, RunLine, Stamp, StoreError, read_through


class OpenRuns:
    """The open runs of a log, kept up to date entry by entry."""

    def __init__(self, log: EventLog) -> None:
        self._log = log
        self._states: dict[str, RunState] = {}
        self._created: dict[str, LogEntry] = {}
        self._folded_seq: dict[str, int] = {}

    def load(self, name: str, entries: Sequence[LogEntry] = ()) -> RunState:
        """Read a run from the log, unless its entries have been read already."""
        entries = entries or self._log.entries(name)
        if not entries:
            raise StoreError(self._log.path, f"it has no run {name}", "See benchtimer record")
        self._states[name] = self._after(RunState(), entries)
        self._created[name] = entries[0]
        self._folded_seq[name] = entries[-1].seq
        return self._states[name]

    def follow(
        self, entries: Sequence[LogEntry], known: Mapping[str, RunState] | None = None
    ) -> None:
        """Apply new entries to the states; entries that were already applied change nothing.

        Args:
            entries: the new entries.
            known: the state of a run after them, if it has been folded already.

        Raises:
            StoreError: an entry is damaged; the ones before it have been applied.
        """
        for entry in entries:
            if not is_of_run(entry.event):
                continue  # baths and jobs are not runs
            if known is not None and entry.run in known:
                self._states[entry.run] = known[entry.run]
                self._folded_seq[entry.run] = entry.seq
            elif entry.seq > self._folded_seq.get(entry.run, 0):
                self._follow(entry)

    def _follow(self, entry: LogEntry) -> None:
        name = entry.run
        if isinstance(entry.event, Created):
            self._created[name] = entry
        elif name not in self._states:
            self.load(name)
            return
        self._states[name] = self._after(self._states.get(name, RunState()), [entry])
        self._folded_seq[name] = entry.seq

    def _after(self, state: RunState, entries: Sequence[LogEntry]) -> RunState:
        return read_through(self._log.path, entries, partial(_folded, state))

    @property
    def names(self) -> list[str]:
        """The runs here, in the order of their setup."""
        return list(self._states)

    def state(self, name: str) -> RunState:
        """The state of a run."""
        return self._states[name] if name in self._states else self.load(name)

    def line(self, name: str, state: RunState) -> RunLine:
        """The register's line of a run."""
        return run_line(name, state, self._created[name].stamp)


def run_line(name: str, state: RunState, stamp: Stamp) -> RunLine:
    """A run's line in the register.

    Args:
        name: the run's name.
        state: the run.
        stamp: both clocks when it was set up.
    """
    bench = state.bench
    return RunLine(
        name, bench.phase.value, bench.title, tuple(bench.parts), stamp.wall_ms, stamp.offset_s
    )


def is_at_work(state: RunState) -> bool:
    """Whether a run has timers. If its start was undone, a redo brings them back."""
    phase = state.bench.phase
    return phase in (RunPhase.RUNNING, RunPhase.HELD) or (
        phase is RunPhase.IDLE and state.presses > 0
    )


def _folded(state: RunState, entries: Sequence[LogEntry]) -> RunState:
    after = fold((entry.event for entry in counted(entries, "entries followed")), state)
    for part in after.bench.parts.values():
        after.bench.recipe_of(part)  # every run has one unless the log is damaged
    return after
