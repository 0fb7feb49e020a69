"""Opening a bench as its log grows: ``python -m tests.benchmarks.opening``.

Two logs, each too large for a full check, have the same run with eight parts on the bench and
different numbers of closed runs. Opening checks the open run and the newest entries against the
register, so it should take the same time. Read-only opening is measured too.
"""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from unittest.mock import patch

from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import SystemClock
from benchtimer.store.backups import BackupKeeper
from benchtimer.store.check import SMALL_BYTES
from benchtimer.store.log import FILE_NAME, EventLog
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.benchmarks.logs import dwelling

FEW, MANY = 1_000, 10_000
QUICK = 2_000
AIM = 1.25
"""Flat: within the difference of two measurements of the same thing."""


def measure(asked: Asked) -> Iterator[Figure]:
    """Opening to write, opening to watch, and opening only the file."""
    many = QUICK if asked.quick else MANY
    few_place, many_place = (dwelling(asked.folder, runs) for runs in (FEW, many))
    assert (few_place / FILE_NAME).stat().st_size > SMALL_BYTES
    for what, opened in (("opening the bench", _driver_ms), ("looking on", _watcher_ms),
                         ("opening the log to write", _log_ms)):  # fmt: skip
        opened(few_place), opened(many_place)  # one-time work is done
        pairs = alternate(
            asked.rounds(20, 5),
            lambda opened=opened: opened(many_place),  # type: ignore[misc]
            lambda opened=opened: opened(few_place),  # type: ignore[misc]
        )
        yield Figure(f"{what}, {many:,} runs that are over", f"{FEW:,} runs", pairs, "ms", aim=AIM)


def _driver_ms(place: Path) -> float:
    begun_s = _begin()
    with (
        patch.object(BackupKeeper, "begin", lambda *_: None),  # the backup comes 5 s later
        closing(drive(place, SystemClock())),
    ):
        return 1000 * (time.perf_counter() - begun_s)


def _watcher_ms(place: Path) -> float:
    begun_s = _begin()
    with closing(look_on(place, SystemClock())):
        return 1000 * (time.perf_counter() - begun_s)


def _log_ms(place: Path) -> float:
    begun_s = _begin()
    with closing(EventLog(place)):
        return 1000 * (time.perf_counter() - begun_s)


def _begin() -> float:
    gc.collect()
    return time.perf_counter()


if __name__ == "__main__":
    sys.exit(alone(__file__))
