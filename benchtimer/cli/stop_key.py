"""Lets ESC or CTRL-C end planning early and keep the best plan so far."""

from __future__ import annotations

import os
import select
import signal
import sys
import time
from types import FrameType, TracebackType

from benchtimer.progress import reached

try:
    import termios
    import tty
except ImportError:  # not a POSIX system: CTRL-C only
    termios = tty = None  # type: ignore[assignment]

AGAIN_S = 0.1
"""How often the keyboard is checked."""
ESC = b"\x1b"


class StopKey:
    """Whether ESC or CTRL-C was pressed since planning began; the meter shows the time.

    A second CTRL-C ends the program.

    Args:
        seconds: how long the planning may take.
    """

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.pressed = False
        self._begun = self._next = time.monotonic()
        self._terminal: int | None = None

    def __enter__(self) -> StopKey:
        self._signal = signal.signal(signal.SIGINT, self._interrupted)
        if termios is not None and sys.stdin is not None and sys.stdin.isatty():
            self._terminal = sys.stdin.fileno()
            self._mode = termios.tcgetattr(self._terminal)
            tty.setcbreak(self._terminal)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        signal.signal(signal.SIGINT, self._signal)
        if self._terminal is not None:
            termios.tcsetattr(self._terminal, termios.TCSADRAIN, self._mode)
        reached("seconds of planning", 1, 1)

    def __call__(self) -> bool:
        """Whether to stop."""
        now = time.monotonic()
        if now >= self._next and not self.pressed:
            self._next = now + AGAIN_S
            self.pressed = self._is_escape()
            done = min(round(now - self._begun), round(self.seconds) - 1)
            reached("seconds of planning", max(0, done), round(self.seconds))
        return self.pressed

    def _is_escape(self) -> bool:
        if self._terminal is None or not select.select([self._terminal], [], [], 0)[0]:
            return False
        return os.read(self._terminal, 64) == ESC  # other keys start with it and have more bytes

    def _interrupted(self, number: int, frame: FrameType | None) -> None:
        del number, frame
        if self.pressed:
            raise KeyboardInterrupt
        self.pressed = True
