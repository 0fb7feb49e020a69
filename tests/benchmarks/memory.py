"""Memory with 24 parts, against a bare Textual clock: ``python -m tests.benchmarks.memory``.

The bench is on the screen with 24 parts, a third of them done and many late, which keeps the
planner busy; a bare clock runs beside it. Resident memory is read after a delay. A second figure
is the peak of a process that only plans 24 mixed parts.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, Pair
from tests.benchmarks.logs import at_work
from tests.benchmarks.program import BARE, BENCH, Program

PARTS = 24

PLAN = """
import resource, sys, time
from benchtimer.plan.planner import solve
from tests.plan.build import any_order
solve(any_order(24, 1), seconds=float(sys.argv[1]), clock=time.perf_counter)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def measure(asked: Asked) -> Iterator[Figure]:
    """The program on the screen, and the planner alone."""
    place, seconds = at_work(asked.folder, PARTS), asked.rounds(25, 3)
    pairs = tuple(_round(place, seconds) for _ in range(asked.rounds(3, 1)))
    clock = "a bare Textual clock"
    yield Figure(f"memory, bench with {PARTS} parts, {seconds} s", clock, pairs, "MB")
    planner = tuple((_planner_mb(asked.rounds(20, 1)), bare) for _, bare in pairs[:1])
    yield Figure(f"memory, planner alone, {PARTS} mixed parts", clock, planner, "MB")


def _round(place: Path, seconds: float) -> Pair:
    programs = Program([*BENCH, str(place)]), Program(BARE)
    for program in programs:
        program.leave_alone()
    try:
        time.sleep(seconds)
        bench, clock = (program.memory_mb for program in programs)
    finally:
        for program in programs:
            program.end()
    return bench, clock


def _planner_mb(seconds: float) -> float:
    command = [sys.executable, "-c", PLAN, str(seconds)]
    return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


if __name__ == "__main__":
    sys.exit(alone(__file__))
