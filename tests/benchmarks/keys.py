"""How long after a key the changed screen arrives, beside the disk's own fsync, in one run.

    python -m tests.benchmarks.keys [--presses 1000]

The real program in a pseudo-terminal of 120x40 with eight parts dwelling; the planner
thinks again after each press, so every key arrives while it is at work. The keys take the
last press back and make it count again in turn: each is decided, written to the log and
forced to the disk before the screen changes. The time counts from the key's byte to the
arrival of the line that only the changed screen has. After each press the same disk forces
as many bytes as a press writes, by a plain fsync, to be taken off.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import sys
import tempfile
import time
from pathlib import Path
from statistics import quantiles

from benchtimer.bench import Driver
from benchtimer.clock import SystemClock
from tests.benchmarks.idle import prepared
from tests.terminal import Terminal

PRESS_BYTES = 3 * 4096
"""About what a press writes: a few pages of the log."""


def _seen_after(terminal: Terminal, key: str, wanted: bytes) -> float:
    """Seconds from a key to the line that it changes."""
    file = terminal._fd
    begin = time.perf_counter()
    os.write(file, key.encode())
    seen = b""
    while wanted not in seen:
        ready, _, _ = select.select([file], [], [], 10)
        if not ready:
            raise SystemExit(f"{key} brought no {wanted!r} in 10 s")
        seen += os.read(file, 65536)
    return time.perf_counter() - begin


def _forced(file: int) -> float:
    """Seconds to force a press's worth of bytes to the same disk."""
    begin = time.perf_counter()
    os.write(file, os.urandom(PRESS_BYTES))
    os.fsync(file)
    return time.perf_counter() - begin


def main() -> int:
    """Print the middle and the slow end of both."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--presses", type=int, default=1000)
    presses = parser.parse_args().presses
    pauses = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        prepared(Path(folder))
        words = _undo_words(Path(folder))
        terminal = Terminal(["--data", folder], Path(folder), 120, 40)
        terminal.wait("U takes back")
        file = os.open(Path(folder) / "forced", os.O_CREAT | os.O_WRONLY)
        seen, forced = [], []
        for number in range(presses):
            time.sleep(pauses.uniform(0.02, 0.12))
            _drain(terminal)
            seen.append(_seen_after(terminal, "ur"[number % 2], words[number % 2]))
            forced.append(_forced(file))
        terminal.kill()
    beyond = [s - f for s, f in zip(seen, forced, strict=True)]
    for name, times in (("key to screen", seen), ("fsync alone", forced), ("beyond", beyond)):
        cuts = quantiles(times, n=100)
        sys.stdout.write(
            f"{name:14} middle {1000 * cuts[49]:6.1f} ms   p99 {1000 * cuts[98]:6.1f} ms   "
            f"worst {1000 * max(times):6.1f} ms\n"
        )
    return 0


def _undo_words(folder: Path) -> tuple[bytes, bytes]:
    """What the undo line says after the last press is taken back, and when it counts again."""
    from benchtimer.run import commands as c
    from benchtimer.tui.view import undo_line

    driver = Driver(folder, SystemClock())
    (name,) = driver.names
    counts = undo_line(driver.state(name)).encode()
    driver.press(name, c.Undo())
    taken_back = undo_line(driver.state(name)).encode()
    driver.press(name, c.Redo())
    driver.close()
    return taken_back, counts


def _drain(terminal: Terminal) -> None:
    """Leave nothing to read that was drawn before the key."""
    while select.select([terminal._fd], [], [], 0)[0]:
        os.read(terminal._fd, 65536)


if __name__ == "__main__":
    sys.exit(main())
