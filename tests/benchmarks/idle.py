"""What an idle bench costs, beside a bare Textual clock, in one run.

    python -m tests.benchmarks.idle [--rounds 3] [--seconds 60]

Both programs run at the same time, each in a pseudo-terminal of 120x40 that is read and
thrown away: the bench with eight parts dwelling, so that eight timers count, and a clock of
six digits. After a while for starting, the processor time of each process (user and system,
as the kernel counts it) is taken over the same seconds. The middle of the rounds counts.
"""

from __future__ import annotations

import argparse
import os
import pty
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

from benchtimer.bench import Driver, NewRun
from benchtimer.clock import SystemClock
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from tests.support import SMALL, small_recipe
from tests.tui.scenes import FITTINGS

WARM_S = 6.0
COLUMNS, ROWS = 120, 40


def prepared(folder: Path) -> None:
    """Eight parts in a tank that holds them all, none due for hours."""
    text = SMALL.replace("holds = 1", "holds = 8").replace(
        'least = "4 min", aim = "5 min", most = "8 min"',
        'least = "3 h", aim = "4 h", most = "6 h"',
    )
    table = recipe_table(small_recipe(text.replace(', every = "10 min"', "")))
    driver = Driver(folder, SystemClock())
    name = driver.lay_out(NewRun("idle", {"small": table}, [(p, "small") for p in FITTINGS]))
    driver.press(name, c.Start())
    driver.press(name, c.Acknowledge("Hot tank"))
    driver.press(name, c.Read("tank", "65"))
    for part in FITTINGS:
        driver.press(name, c.Begin(part))
        driver.press(name, c.Finish(part))
        driver.press(name, c.Finish(part))
    driver.close()


def started(command: list[str]) -> subprocess.Popen[bytes]:
    """A program on its own terminal, whose output is read and thrown away."""
    master, slave = pty.openpty()
    import fcntl
    import struct
    import termios

    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    environ = {**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8"}
    process = subprocess.Popen(
        command, stdin=slave, stdout=slave, stderr=slave, env=environ, start_new_session=True
    )
    os.close(slave)

    def swallow() -> None:
        try:
            while os.read(master, 65536):
                pass
        except OSError:
            pass

    threading.Thread(target=swallow, daemon=True).start()
    return process


def cpu_s(process: subprocess.Popen[bytes]) -> float:
    """Processor time of a process so far, user and system."""
    fields = Path(f"/proc/{process.pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def one_round(folder: Path, seconds: float) -> tuple[float, float]:
    """Processor time of the bench and of the clock over the same seconds."""
    bench = started([sys.executable, "-m", "benchtimer", "--data", str(folder)])
    clock = started([sys.executable, "-m", "tests.benchmarks.bare_clock"])
    try:
        time.sleep(WARM_S)
        before = cpu_s(bench), cpu_s(clock)
        time.sleep(seconds)
        after = cpu_s(bench), cpu_s(clock)
    finally:
        for process in (bench, clock):
            process.kill()
            process.wait()
    return after[0] - before[0], after[1] - before[1]


def main() -> int:
    """Print the ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=60)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        prepared(Path(folder))
        rounds = [one_round(Path(folder), asked.seconds) for _ in range(asked.rounds)]
    ratios = [bench / clock for bench, clock in rounds]
    for bench, clock in rounds:
        sys.stdout.write(
            f"bench {1000 * bench / asked.seconds:5.1f} ms/s  "
            f"bare clock {1000 * clock / asked.seconds:5.1f} ms/s  ratio {bench / clock:.2f}\n"
        )
    sys.stdout.write(
        f"idle, 8 timers: {median(ratios):.2f} times a bare clock "
        f"({min(ratios):.2f} to {max(ratios):.2f} in {asked.rounds} rounds)\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
