"""A progress line for long work, only at a terminal and never among results."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TextIO

AFTER_S = 2.0
"""Work that takes no longer than this shows nothing."""

AGAIN_S = 0.25
"""How often the line is written again."""


class Meter:
    """Rewrites one line, and removes it when the work is done.

    Args:
        to: where the line goes: messages, not results.
        clock: seconds that never go back.
    """

    def __init__(
        self, to: TextIO | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._to = to if to is not None else sys.stderr
        self._clock = clock
        self._what = ""
        self._begun = self._next = 0.0
        self._width = 0

    def __call__(self, what: str, done: int, total: int) -> None:
        """Take a report of the progress; see ``progress.Listener``."""
        now = self._clock()
        if what != self._what:
            self._what, self._begun, self._next = what, now, now + AFTER_S
        if done >= total > 0:
            self.clear()
            self._what = ""
        elif now >= self._next:
            self._next = now + AGAIN_S
            self._write(_line(what, done, total, now - self._begun))

    def clear(self) -> None:
        """Remove the line."""
        if self._width:
            self._put(f"\r{' ' * self._width}\r")
            self._width = 0

    def _write(self, line: str) -> None:
        self._put(f"\r{line.ljust(self._width)}")
        self._width = len(line)

    def _put(self, text: str) -> None:
        self._to.write(text)
        self._to.flush()


def _line(what: str, done: int, total: int, spent_s: float) -> str:
    if not total:
        return f"{done:,} {what}; CTRL-C stops"
    left = round(spent_s * (total - done) / done) if done else 0
    return f"{done:,} of {total:,} {what}, about {left} s left; CTRL-C stops"


def at_terminal() -> bool:
    """Whether messages go to a terminal."""
    return sys.stderr is not None and sys.stderr.isatty()
