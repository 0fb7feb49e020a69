"""A maker at the bench who presses anything possible, for the campaigns on the store."""

from __future__ import annotations

import random
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

from benchtimer.bath.bath_decide import MixBath
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.events import PROGRAM, Event
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import RunState
from benchtimer.store.entries import Stamp
from benchtimer.store.log import EventLog, LogEntry
from tests.support import GEARED, small_recipe, table

NOON = 1_770_000_000_000
PARTS = ("bolster", "ferrule", "butt cap")
NEW = NewRun("Campaign", {"small": table(small_recipe())}, [(name, "small") for name in PARTS])


@dataclass
class Hands:
    """Hands at a driver, with the events the driver returned.

    Attributes:
        told: the events of every run that the driver has written or claims to keep, by run.
    """

    driver: OpenBench
    clock: ManualClock
    rng: random.Random
    told: dict[str, list[Event]] = field(default_factory=dict)

    def set_up(self) -> str:
        """Set up a new run and start it."""
        name = self.driver.set_up(NEW)
        self.told[name] = [x.event for x in self.driver._log.entries(name)]
        for command in GEARED:
            self.press(name, command)
        return name

    def press(self, name: str, command: c.Command) -> None:
        """Press and keep the events: a press may affect other runs, too."""
        write = self.driver.writer._write
        done: dict[str, Sequence[Event]] = {}

        def kept(
            run: str, events: list[Event], stamp: Stamp, also: Mapping[str, Sequence[Event]]
        ) -> None:
            write(run, events, stamp, also)
            done.update({run: events, **also})

        with patch.object(self.driver.writer, "_write", kept):
            self.driver.press(name, command)
        for run in done.keys() & self.told.keys():  # others may have set up runs
            self.told[run] += done[run]

    def work(self, presses: int, names: Sequence[str]) -> None:
        """Make presses that the engine accepts, with time in between."""
        for _ in range(presses):
            self.clock.advance(self.rng.randrange(1, 120_000))
            name = self.rng.choice(names)
            for command in self._wishes():
                with suppress(Refused):
                    self.press(name, command)
                    break

    def _wishes(self) -> list[c.Command]:
        part = self.rng.choice(PARTS)
        likely: list[c.Command] = [
            c.Begin(part), c.Finish(part), c.Answer(part, "even", self.rng.random() < 0.7),
            c.Answer(part, "heat", "25 C"), c.Read("tank", f"{self.rng.randrange(55, 75)} C"),
            c.Undo(), c.Redo(), c.BackDate(5000), c.Hold(part), c.Resume(part),
        ]  # fmt: skip
        self.rng.shuffle(likely)
        return [*likely, c.Note(f"note {self.rng.randrange(10**6)}")]

    def states(self) -> dict[str, RunState]:
        """The expected runs, from the returned events alone."""
        return {name: fold(events) for name, events in self.told.items()}


def same_benches(driver: OpenBench, wanted: dict[str, RunState]) -> bool:
    """Whether a driver shows the runs as expected, undo included."""
    found = {name: driver.state(name) for name in wanted}
    return all(
        (found[name].bench, found[name].past, found[name].future)
        == (wanted[name].bench, wanted[name].past, wanted[name].future)
        for name in wanted
    )


def by_hand(entries: Sequence[LogEntry]) -> list[LogEntry]:
    """The entries from presses, without the program's own."""
    return [entry for entry in entries if entry.event.by != PROGRAM]


def on_disk(folder: Path) -> list[LogEntry]:
    """Every entry another program would find in a folder now."""
    log = EventLog(folder, read_only=True)
    try:
        return log.entries_after(0)
    finally:
        log.close()


def dies(driver: OpenBench) -> None:
    """Drop the process: the lease is free, and nothing was closed properly."""
    driver.writer._backups.end()
    driver.writer._lease.release()
    _LEFT_OPEN.append(driver)


_LEFT_OPEN: list[OpenBench] = []
"""Benches whose process died; their memory is freed after the try."""


@contextmanager
def folder() -> Iterator[Path]:
    """A separate data folder for one try."""
    place = Path(tempfile.mkdtemp(prefix="benchtimer-faults-"))
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)
        while _LEFT_OPEN:
            _LEFT_OPEN.pop()._log._db.close()


def mixed(driver: OpenBench) -> None:
    """Mix a bath in the bath book, for another stream."""
    driver.write_bath("brew 1", MixBath("Brew"))
