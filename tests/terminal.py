"""The real program in a real pseudo-terminal, with an emulator to read its screen."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

import pyte

A_MOMENT_S = 0.35
"""Longer than the time in which the program counts two presses as one."""

A_SLOW_ANSWER_S = 10
"""A busy machine can answer this late; a second press before that would skip a page."""

MOST_PAGES = 40
"""No setup has more pages than this."""

ASKS_A_FIGURE = "SPACE saves it"
FLASH_POINT_F = "185"
"""The flash point of an oil, which the setup of the tests' recipes asks for."""


class Terminal:
    """One process of the program on its own terminal.

    Args:
        arguments: the command line after ``benchtimer``.
        home: an empty home folder.
        width: columns.
        height: rows.
        environment: what differs from a usual terminal, such as its locale.
    """

    def __init__(
        self,
        arguments: list[str],
        home: Path,
        width: int = 80,
        height: int = 24,
        environment: Mapping[str, str] | None = None,
    ) -> None:
        self.screen = pyte.Screen(width, height)
        self._stream = pyte.ByteStream(self.screen)
        self.output = b""
        found = {
            "HOME": str(home),
            "PATH": os.environ["PATH"],
            "TERM": "xterm-256color",
            "LANG": "C.UTF-8",
            **(environment or {}),
        }
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            # The test runner may ignore hang-ups (nohup does); the child must not.
            signal.signal(signal.SIGHUP, signal.SIG_DFL)
            _set_size(0, width, height)
            self._become(arguments, found)

    def resize(self, width: int, height: int) -> None:
        """Resize the window, as when you drag its corner."""
        self.screen.resize(height, width)
        self.set_size(width, height)

    def set_size(self, width: int, height: int) -> None:
        """Report another size to the program; after this only ``drain`` can read its output."""
        _set_size(self._fd, width, height)

    def _become(self, arguments: list[str], environment: dict[str, str]) -> NoReturn:
        """Turn the new process into the program."""
        command = [sys.executable, "-m", "benchtimer", *arguments]
        os.execve(sys.executable, command, environment)

    @property
    def text(self) -> str:
        """The text on the screen."""
        return "\n".join(self.screen.display)

    def send(self, keys: str) -> None:
        """Press keys."""
        os.write(self._fd, keys.encode())

    def pour(self, data: bytes, seconds: float = 30) -> bool:
        """Send bytes as fast as the program takes them, and read meanwhile.

        Returns:
            False if the process is gone. Bytes that are not taken in time are dropped.
        """
        os.set_blocking(self._fd, False)
        until = time.monotonic() + seconds
        try:
            while data:
                with suppress(BlockingIOError):
                    data = data[os.write(self._fd, data) :]
                if time.monotonic() >= until:
                    break
                self.drain(0.001)
        except OSError:
            return False
        finally:
            os.set_blocking(self._fd, True)
        return True

    def drain(self, seconds: float) -> int:
        """Read the program's output for some seconds without parsing it; return the bytes."""
        until, count = time.monotonic() + seconds, 0
        while select.select([self._fd], [], [], max(0.0, until - time.monotonic()))[0]:
            try:
                data = os.read(self._fd, 65_536)
            except OSError:
                break  # the process is gone
            if not data:
                break
            count += len(data)
            self.output = self.output[-10_000:] + data
            if time.monotonic() > until:
                break
        return count

    def ended(self) -> int | None:
        """The exit status if the process has ended, or None while it runs."""
        pid, status = os.waitpid(self.pid, os.WNOHANG)
        if not pid:
            return None
        self.drain(0.2)
        os.close(self._fd)
        return os.waitstatus_to_exitcode(status)

    def wait(self, wanted: str | Callable[[str], bool], seconds: float = 15) -> str:
        """Read until the screen shows a text or meets a condition; return the screen.

        Raises:
            AssertionError: it does not come in time; the message has the screen.
        """
        good = (lambda text: wanted in text) if isinstance(wanted, str) else wanted
        until = time.monotonic() + seconds
        while not good(self.text):
            left = until - time.monotonic()
            assert left > 0, f"waited for {wanted!r}:\n{self.text}"
            self._read(min(left, 0.2))
        return self.text

    def confirm(self, unless: str | None = None) -> None:
        """Press SPACE until the screen changes; a long page is read to its end.

        Two presses within a moment count as one, so each press waits a moment first. Nothing is
        pressed on a screen with a certain text.
        """
        more = True
        while more:
            self.settle(0.1)
            if unless is not None and unless in self.text:
                return
            if ASKS_A_FIGURE in self.text:
                self.send(FLASH_POINT_F)
                self.wait(f"{FLASH_POINT_F}_")
            more, shown = "MORE BELOW" in self.text, self._without_digits()
            tries = 0
            while self._without_digits() == shown:
                assert (tries := tries + 1) <= 10, f"SPACE changes nothing:\n{self.text}"
                time.sleep(A_MOMENT_S)
                self.send(" ")
                until = time.monotonic() + A_SLOW_ANSWER_S
                while self._without_digits() == shown and time.monotonic() < until:
                    self._read(0.05)
            self._read(A_MOMENT_S)  # it may be half drawn

    def set_up(self, until: str = "SPACE starts the run") -> str:
        """Confirm every page, mix and heat of the setup until the screen shows a text."""
        self.wait("SPACE")
        for _ in range(MOST_PAGES):
            if until in self.settle(0.1):
                return self.text
            self.confirm(unless=until)
        raise AssertionError(f"no {until!r} after {MOST_PAGES} pages:\n{self.text}")

    def _without_digits(self) -> str:
        """The screen without its digits, which change with the clock."""
        return re.sub(r"\d", "", self.text)

    def settle(self, seconds: float = 0.03) -> str:
        """Read until nothing comes for a moment, so that the screen is complete.

        A screen that is drawn all the time, as in practice, gets two seconds.
        """
        until = time.monotonic() + 2
        while self._read(seconds) and time.monotonic() < until:
            pass
        return self.text

    def _read(self, seconds: float) -> bool:
        """Read what comes within some seconds; return whether anything came."""
        ready, _, _ = select.select([self._fd], [], [], seconds)
        if not ready:
            return False
        try:
            data = os.read(self._fd, 65_536)
        except OSError:
            data = b""  # the process is gone
        self.output += data
        self._stream.feed(data)
        return bool(data)

    def kill(self, signal_number: int = signal.SIGKILL) -> int:
        """Kill the process and wait for it; return its exit status."""
        os.kill(self.pid, signal_number)
        return self.close()

    def hang_up(self) -> int:
        """Close the terminal like a window; return the process's exit status."""
        os.close(self._fd)
        until = time.monotonic() + 15
        while time.monotonic() < until:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.01)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        raise AssertionError("it did not end with its terminal")

    def close(self) -> int:
        """Wait for the process to end and read its last output; return its exit status."""
        until = time.monotonic() + 15
        while time.monotonic() < until:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                os.close(self._fd)
                return os.waitstatus_to_exitcode(status)
            self._read(0.05)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self._fd)
        raise AssertionError(f"it did not end:\n{self.text}")


def _set_size(file: int, width: int, height: int) -> None:
    fcntl.ioctl(file, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))
