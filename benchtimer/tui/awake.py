"""Keeps the laptop from going to sleep while parts are in process. A helper program of the
operating system keeps the machine awake while it runs. It runs ``cat`` on a pipe that only this
process holds, so it ends with this process in any case.
"""

from __future__ import annotations

import subprocess
import sys
from contextlib import suppress

HELPERS = {
    "linux": (
        "systemd-inhibit", "--what=idle:sleep", "--who=benchtimer", "--why=parts are in process",
        "--mode=block", "cat",
    ),
    "darwin": ("caffeinate", "-i", "-s", "cat"),
}  # fmt: skip
"""By operating system. Both run a command and keep the machine awake until it ends."""

PATIENCE_S = 2.0
"""A helper that has not ended this long after its pipe closes is killed."""

MAY_SLEEP = "MAY SLEEP"

ES_CONTINUOUS, ES_SYSTEM_REQUIRED = 0x80000000, 0x00000001
"""Flags of SetThreadExecutionState (Microsoft, Win32 API, winbase.h)."""


class Awake:
    """Keeps the machine awake while needed.

    Args:
        platform: the operating system, as ``sys.platform`` names it.
    """

    def __init__(self, platform: str = sys.platform) -> None:
        self._platform = platform
        self._wanted = False
        self._helper: subprocess.Popen[bytes] | None = None
        self._failed = False

    @property
    def mark(self) -> str:
        """A short line for the screen: the machine may go to sleep although it must not."""
        return MAY_SLEEP if self._wanted and self._failed else ""

    def want(self, on: bool) -> None:
        """Keep the machine awake from now on, or let it sleep again."""
        if on != self._wanted:
            self._wanted = on
            self._failed = not self._set(on)
        if self._helper is not None and self._helper.poll() is not None:
            self._failed = on  # it was refused or has ended
            self._release()

    def close(self) -> None:
        """Let the machine sleep again."""
        self.want(False)

    def _set(self, on: bool) -> bool:
        """Start the helper. Returns whether that worked."""
        if self._platform == "win32":
            return _set_windows(ES_CONTINUOUS | (ES_SYSTEM_REQUIRED if on else 0))
        return self._start() if on else self._release()

    def _start(self) -> bool:
        words = HELPERS.get(self._platform)
        if words is None:
            return False
        try:
            self._helper = subprocess.Popen(  # noqa: S603 - fixed words, and no shell
                words,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        except OSError:
            return False
        return True

    def _release(self) -> bool:
        helper, self._helper = self._helper, None
        if helper is not None:
            with suppress(OSError):
                if helper.stdin is not None:
                    helper.stdin.close()
            try:
                helper.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                helper.kill()
                helper.wait()
        return True


def _set_windows(flags: int) -> bool:
    """Ask Windows, which forgets the flags when this thread ends.

    Returns whether it accepted them.
    """
    import ctypes

    windows = vars(ctypes).get("windll")  # only on Windows
    return windows is not None and bool(windows.kernel32.SetThreadExecutionState(flags))
