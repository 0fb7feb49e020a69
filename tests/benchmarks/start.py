"""Start to first frame, against importing Textual: ``python -m tests.benchmarks.start``.

The program starts on a pseudo-terminal. The time ends at the first frame of the board with eight
parts, or of the home page of a bench without a run. Both are timed with 10 and with 10,000 runs in
the log, in turn with a process that imports ``textual.app`` and exits.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.benchmarks.logs import dwelling, many_runs
from tests.benchmarks.program import BENCH, Program, whole_s

AIM = 2.5
MANY = 10_000
IMPORT = (sys.executable, "-c", "import textual.app")
ON_BOARD, ON_HOME = b"U undoes", b"RECIPES"


def measure(asked: Asked) -> Iterator[Figure]:
    """Board and home page, with few runs and with many."""
    many = 200 if asked.quick else MANY
    for page, made, sign in (("board", dwelling, ON_BOARD), ("home", many_runs, ON_HOME)):
        for runs in (10, many):
            place = made(asked.folder, runs)
            _first_frame_ms(place, sign)  # one-time work is done
            pairs = alternate(
                asked.rounds(20),
                lambda place=place, sign=sign: _first_frame_ms(place, sign),  # type: ignore[misc]
                lambda: 1000 * whole_s(IMPORT),
            )
            yield Figure(
                f"start to the {page}'s first frame, {runs:,} runs",
                "importing Textual", pairs, "ms", aim=AIM,
            )  # fmt: skip


def _first_frame_ms(place: Path, sign: bytes) -> float:
    program = Program([*BENCH, str(place)])
    try:
        return 1000 * program.until(sign)
    finally:
        program.end()


if __name__ == "__main__":
    sys.exit(alone(__file__))
