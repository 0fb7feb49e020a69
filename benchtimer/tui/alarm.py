"""When the bell rings: when something falls due, and again until it is done."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Hashable

REPEAT_S = 10.0
"""The bell repeats this often while something is due."""

HUSH_S = 5.0
"""After a press the bell waits: somebody is there and working."""


class Bell:
    """Decides when to ring; ringing is the app's business."""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._known: set[Hashable] = set()
        self._next_at = 0.0

    def should_ring(self, due: Collection[Hashable]) -> bool:
        """Whether to ring now, given all that is due.

        Several things at once ring once. What is no longer due stops by itself.
        """
        now = self._monotonic()
        fresh = set(due) - self._known
        self._known = set(due)
        if not due or (not fresh and now < self._next_at):
            return False
        self._next_at = now + REPEAT_S
        return True

    def hush(self) -> None:
        """Somebody has pressed a key: wait a little before ringing again."""
        self._next_at = max(self._next_at, self._monotonic() + HUSH_S)
