"""A program on its own pseudo-terminal, whose output is searched and thrown away."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Sequence
from pathlib import Path

COLUMNS, ROWS = 120, 40
BENCH = (sys.executable, "-m", "benchtimer", "--data")
BARE = (sys.executable, "-m", "tests.benchmarks.bare_clock")


class Program:
    """A process on a terminal of 120x40.

    Args:
        command: the command to start.

    Attributes:
        begun: time of the start, or of the last key.
    """

    def __init__(self, command: Sequence[str]) -> None:
        self._file, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        environment = {**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8"}
        self.begun = time.perf_counter()
        self._process = subprocess.Popen(
            command, stdin=slave, stdout=slave, stderr=slave, env=environment,
            start_new_session=True,
        )  # fmt: skip
        os.close(slave)

    def until(self, wanted: bytes, seconds: float = 20) -> float:
        """Seconds from ``begun`` until the output has a text.

        Raises:
            SystemExit: the text does not appear.
        """
        seen = b""
        while wanted not in seen:
            if not select.select([self._file], [], [], seconds)[0]:
                raise SystemExit(f"no {wanted!r} came in {seconds:g} s")
            seen += os.read(self._file, 65536)
        return time.perf_counter() - self.begun

    def press(self, key: str) -> None:
        """Press a key; drops earlier output."""
        while select.select([self._file], [], [], 0)[0]:
            os.read(self._file, 65536)
        self.begun = time.perf_counter()
        os.write(self._file, key.encode())

    def leave_alone(self) -> None:
        """Read and drop all output from now on."""
        threading.Thread(target=self._swallow, daemon=True).start()

    def _swallow(self) -> None:
        try:
            while os.read(self._file, 65536):
                pass
        except OSError:
            pass

    @property
    def cpu_s(self) -> float:
        """Processor time so far, user and system, of all its threads."""
        clock = (~self._process.pid << 3) | 2  # clock id of a process, see clock_getcpuclockid(3)
        return time.clock_gettime(clock)

    @property
    def memory_mb(self) -> float:
        """Resident memory."""
        pages = int(Path(f"/proc/{self._process.pid}/statm").read_text().split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 2**20

    def end(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.wait()
        os.close(self._file)


def whole_s(command: Sequence[str]) -> float:
    """Seconds a whole process takes."""
    begun = time.perf_counter()
    subprocess.run(command, capture_output=True, check=True)
    return time.perf_counter() - begun
