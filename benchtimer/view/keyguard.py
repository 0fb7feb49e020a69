"""Which presses of a key are intended, and which are a bounce or a held key.

The rule, for the keys that confirm, answer or leave:

1. A press counts right away if another key came before it, or the same key ``HELD_S`` ago or more.
2. The same key again within ``GUARD_S`` of its last press is a slip: a wet glove bounced, or
   the key is held down and repeats. It does not count.
3. In between, it can be intended or be the first repeat of a held key. It counts if that key does
   not repeat within ``QUIET_S``.

So a press every 0.4 s always counts, and a key held down counts once.
"""

from __future__ import annotations

from enum import Enum

GUARD_S = 0.25
"""The same key twice within this time is one press. From trials at a keyboard, no source."""

HELD_S = 1.1
"""Longer than a held key waits before it repeats: 0.25 to 1 s by the settings of the common
operating systems (from memory)."""

QUIET_S = 0.12
"""Longer than the time between two repeats of a held key: 30 a second is usual, 11 a second the
slowest common setting (from memory)."""


class Verdict(Enum):
    """The outcome of a press."""

    COUNTS = "counts"
    WAITS = "waits"
    SLIP = "slip"


class KeyGuard:
    """Remembers the last key.

    Args:
        guard_s: the time in ``GUARD_S``; 0 lets every press count.
    """

    def __init__(self, guard_s: float = GUARD_S) -> None:
        self._guard_s = guard_s
        self._key = ""
        self._at_s = float("-inf")

    def verdict(self, key: str, at_s: float) -> Verdict:
        """The outcome of a press at a time in seconds."""
        gap_s = at_s - self._at_s if key == self._key else float("inf")
        self._key, self._at_s = key, at_s
        if gap_s < self._guard_s:
            return Verdict.SLIP
        if self._guard_s and gap_s < HELD_S:
            return Verdict.WAITS
        return Verdict.COUNTS
