"""The cost of an idle bench against a bare Textual clock: ``python -m tests.benchmarks.idle``.

All programs run at the same time, each on a pseudo-terminal whose output is thrown away: a bench
with eight parts dwelling and eight timers counting, one with the eight overdue and calling, and a
clock of six digits. After a start-up delay, the processor time of each process (user and system,
as the kernel counts it) is measured over the same seconds.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure
from tests.benchmarks.logs import OVERDUE, dwelling
from tests.benchmarks.program import BARE, BENCH, Program

WARM_S = 10.0
"""Long enough to load the pages and finish the backup made on opening."""


QUIET_AIM, OVERDUE_AIM = 2, 3
"""Limits as multiples of the clock's cost."""


def measure(asked: Asked) -> Iterator[Figure]:
    """The ratios of their processor times."""
    places = dwelling(asked.folder), dwelling(asked.folder, dwell=OVERDUE)
    seconds = asked.rounds(40, 5)
    rounds = [_round(places, seconds) for _ in range(asked.rounds(3, 1))]
    beside, note = "a bare Textual clock", "processor time"
    quiet, overdue = (tuple((found[n], found[-1]) for found in rounds) for n in range(2))
    yield Figure("idle with 8 timers", beside, quiet, "ms/s", QUIET_AIM, note=note)
    yield Figure("idle with 8 parts overdue", beside, overdue, "ms/s", OVERDUE_AIM, note=note)


def _round(places: Sequence[Path], seconds: float) -> list[float]:
    """Processor time of each bench and of the clock over the same seconds, in ms a second."""
    programs = [*(Program([*BENCH, str(place)]) for place in places), Program(BARE)]
    for program in programs:
        program.leave_alone()
    try:
        time.sleep(WARM_S)
        before = [program.cpu_s for program in programs]
        time.sleep(seconds)
        return [
            1000 * (program.cpu_s - begun) / seconds
            for program, begun in zip(programs, before, strict=True)
        ]
    finally:
        for program in programs:
            program.end()


if __name__ == "__main__":
    sys.exit(alone(__file__))
