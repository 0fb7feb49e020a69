"""From key to screen, against a bare Textual program: ``python -m tests.benchmarks.keys``.

The real program runs with eight parts dwelling. The planner plans again after each press, so
every key arrives while it works. The keys undo and redo the last press in turn; each press is
checked, written to the log and forced to the disk before the screen changes. The time runs from
the key's byte to the first line that only the changed screen has. After each press a plain fsync
writes as many bytes to the same disk, and its time is subtracted. The same keys change a word of
a program that does nothing else.
"""

from __future__ import annotations

import os
import random
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import quantiles

from benchtimer.bench.writer import drive
from benchtimer.clock import SystemClock
from benchtimer.run import commands as c
from benchtimer.view.board_text import undo_of
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, Pair
from tests.benchmarks.logs import dwelling
from tests.benchmarks.program import BARE, BENCH, Program

PRESS_BYTES = 3 * 4096
"""About as much as a press writes: a few pages of the log."""

KEYS = "ur"
BARE_WORDS = (b"taken back", b"counts again")
SLOW_AIM = 4
"""Limit for the slow end over that of the bare program."""

BLOCKS = 5
"""Stretches of presses, each with its own slow end, for a spread."""


def measure(asked: Asked) -> Iterator[Figure]:
    """The middle, then the slow end."""
    place = dwelling(asked.folder)
    rounds = _pressed(place, asked.rounds(500, 20))
    bare = "the same keys in a bare Textual program"
    beyond = tuple((seen - forced, other) for seen, forced, other in rounds)
    yield Figure("key to screen beyond the disk's fsync", bare, beyond, "ms", note="every press")
    size = len(beyond) // BLOCKS
    blocks = [beyond[n * size : (n + 1) * size] for n in range(BLOCKS)]
    note = f"each of {size} presses"
    slow = tuple(map(_p99, blocks))
    yield Figure("the same, slowest in a hundred", bare, slow, "ms", SLOW_AIM, note=note)
    whole = tuple((seen, forced) for seen, forced, _ in rounds)
    yield Figure("key to screen, all of it", "the disk's fsync", whole, "ms", note="every press")


def _p99(pairs: Sequence[Pair]) -> Pair:
    ours, other = (quantiles(side, n=100, method="inclusive")[98] for side in zip(*pairs))  # noqa: B905
    return ours, other


def _pressed(place: Path, presses: int) -> list[tuple[float, float, float]]:
    """Key to screen, fsync alone, and the bare program's key to screen, in ms, a press each."""
    words, pauses = _undo_words(place), random.Random(1)
    bench, bare = Program([*BENCH, str(place)]), Program(BARE)
    file = os.open(place / "forced", os.O_CREAT | os.O_WRONLY)
    try:
        bench.until(b"U undoes")
        bare.until(b"counts")
        found = []
        for number in range(presses):
            time.sleep(pauses.uniform(0.02, 0.12))
            key, at = KEYS[number % 2], number % 2
            seen, forced = _seen(bench, key, words[at]), _forced(file)
            found.append((1000 * seen, 1000 * forced, 1000 * _seen(bare, key, BARE_WORDS[at])))
    finally:
        os.close(file)
        bench.end()
        bare.end()
    return found


def _seen(program: Program, key: str, wanted: bytes) -> float:
    """Seconds from a key to the line it changes."""
    program.press(key)
    return program.until(wanted)


def _forced(file: int) -> float:
    """Seconds to force a press's worth of bytes to the same disk."""
    begun = time.perf_counter()
    os.write(file, os.urandom(PRESS_BYTES))
    os.fsync(file)
    return time.perf_counter() - begun


def _undo_words(place: Path) -> tuple[bytes, bytes]:
    """The undo line after an undo of the last press, and after the redo."""
    driver = drive(place, SystemClock())
    (name,) = driver.names
    counts = undo_of(driver.state(name), driver.stamp()).encode()
    driver.press(name, c.Undo())
    taken_back = undo_of(driver.state(name), driver.stamp()).encode()
    driver.press(name, c.Redo())
    driver.close()
    return taken_back, counts


if __name__ == "__main__":
    sys.exit(alone(__file__))
