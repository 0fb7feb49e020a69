"""Reading and folding a log as one run grows: ``python -m tests.benchmarks.replay``.

A run of twelve parts that repeat endlessly is cut off at 10 to 100,000 entries. For each length,
the time for an entry (read from the file, checksum verified, folded) is compared with that of the
run of 1,000; so is the time for opening a bench on it. A run's first entry holds its recipes, read
once: in a run of ten that is most of the time.
"""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run.evolve import fold
from benchtimer.store.log import EventLog
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.benchmarks.logs import START_MS, long_run, write_run

LENGTHS = (10, 100, 10_000, 100_000)
BASE = 1_000
AIM = 1.25
"""Flat: within the difference of two measurements of the same thing."""

FLAT_FROM = 10_000
"""Shorter runs are mostly their first entry, so they have no aim."""


def measure(asked: Asked) -> Iterator[Figure]:
    """Reading, then opening, for each length."""
    lengths = LENGTHS[:2] if asked.quick else LENGTHS
    events = long_run(max(lengths))
    for length in (*lengths, BASE):
        write_run(_place(asked, length), events[:length])
    for what, timed in (("replay", _replay_us), ("opening the bench", _open_us)):
        for length in lengths:
            yield Figure(
                f"{what} per entry, run of {length:,}",
                f"run of {BASE:,}",
                alternate(
                    asked.rounds(5),
                    _settled(partial(timed, _place(asked, length), length)),
                    _settled(partial(timed, _place(asked, BASE), BASE)),
                ),
                "us",
                aim=AIM if length >= FLAT_FROM else None,
                note="" if length >= FLAT_FROM else "mostly the first entry, with the recipe",
            )


def _place(asked: Asked, length: int) -> Path:
    return asked.folder / f"run-of-{length}"


def _settled(timed: Callable[[], float]) -> Callable[[], float]:
    """Collect the garbage of earlier measurements."""

    def clean() -> float:
        gc.collect()
        return timed()

    return clean


def _replay_us(place: Path, length: int) -> float:
    """Microseconds per entry; a short run is read several times."""
    log, times = EventLog(place, read_only=True), max(1, BASE // length)
    (line,) = log.runs()
    begun = time.perf_counter()
    for _ in range(times):
        fold(entry.event for entry in log.entries(line.name))
    spent = time.perf_counter() - begun
    log.close()
    return 1e6 * spent / times / length


def _open_us(place: Path, length: int) -> float:
    clock = ManualClock(START_MS + 400 * 86_400_000)
    gc.disable()  # as the program does until its screen appears
    begun = time.perf_counter()
    driver = drive(place, clock)
    spent = time.perf_counter() - begun
    gc.enable()
    driver.close()
    return 1e6 * spent / length


if __name__ == "__main__":
    sys.exit(alone(__file__))
