"""What an idle bench costs, beside a bare Textual clock: ``python -m tests.benchmarks.idle``.

Both programs run at the same time, each in a pseudo-terminal that is read and thrown away: the
bench with eight parts dwelling, so that eight timers count, and a clock of six digits. After
a while for starting, the processor time of each process (user and system, as the kernel
counts it) is taken over the same seconds.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, Pair
from tests.benchmarks.logs import dwelling
from tests.benchmarks.program import BARE, BENCH, Program

WARM_S = 10.0
"""After so long the pages are loaded and the backup of opening is made."""


def measure(asked: Asked) -> Iterator[Figure]:
    """The ratio of their processor times."""
    place, seconds = dwelling(asked.folder), asked.rounds(40, 5)
    pairs = tuple(_round(place, seconds) for _ in range(asked.rounds(3, 1)))
    yield Figure("idle with 8 timers", "a bare Textual clock", pairs, "ms/s", note="processor time")


def _round(place: Path, seconds: float) -> Pair:
    """Processor time of both over the same seconds, in ms a second."""
    programs = Program([*BENCH, str(place)]), Program(BARE)
    for program in programs:
        program.leave_alone()
    try:
        time.sleep(WARM_S)
        before = [program.cpu_s for program in programs]
        time.sleep(seconds)
        bench, clock = (
            1000 * (program.cpu_s - begun) / seconds
            for program, begun in zip(programs, before, strict=True)
        )
    finally:
        for program in programs:
            program.end()
    return bench, clock


if __name__ == "__main__":
    sys.exit(alone(__file__))
