"""Which presses of a key are intended, and which are a bounce or a held key.

The rule, for the keys that confirm, answer or leave:

1. A press counts right away if another key came before it, or the same key ``HELD_S`` ago or more.
2. The same key again within ``GUARD_S`` of its last press is a slip: a wet glove bounced, or
   the key is held down and repeats. It does not count.
3. In between, it can be intended or be the first repeat of a held key. It counts if that key does
   not repeat within ``QUIET_S``.

So a press every 0.4 s always counts, and a key held down counts once.

A press is for the line you read. When time changes the large line, a press within ``CHANGED_S``
is for the line before it (``LineRead``). A pull of the same part is the exception: a due pull is
never put off.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

from benchtimer.bench.moment import Moment
from benchtimer.run.actions import Action, ActionKind
from benchtimer.view.focus import about

GUARD_S = 0.25
"""The same key twice within this time is one press. From trials at a keyboard, no source."""

HELD_S = 1.1
"""Longer than a held key waits before it repeats: 0.25 to 1 s by the settings of the common
operating systems (from memory)."""

QUIET_S = 0.12
"""Longer than the time between two repeats of a held key: 30 a second is usual, 11 a second the
slowest common setting (from memory).
"""


CHANGED_S = 0.4
"""A press this soon after the line changed is for the line before: seeing, choosing and pressing
take longer. Choosing between a few things takes 0.3 to 0.6 s (from memory).
"""


class LineRead:
    """Remembers the action on the large line, and the one before it.

    Args:
        monotonic: a clock in seconds that only goes forward.
        guarded: whether a press right after a change by itself is for the line before.
    """

    def __init__(self, monotonic: Callable[[], float], *, guarded: bool) -> None:
        self._monotonic, self._guarded = monotonic, guarded
        self._drawn = False
        self._shown: Action | None = None
        self._before: Action | None = None
        self._changed_at = float("-inf")

    def saw(self, action: Action | None, *, by_itself: bool) -> None:
        """Note that the large line shows an action.

        Args:
            action: the action; None if there is nothing to do.
            by_itself: whether time changed it, not a press.
        """
        if not _same(action, self._shown):
            self._before = self._read
            self._changed_at = self._monotonic() if by_itself else float("-inf")
        self._shown, self._drawn = action, True

    @property
    def _read(self) -> Action | None:
        """The action on the line when you decided on a press made now."""
        new = self._guarded and self._monotonic() - self._changed_at < CHANGED_S
        return self._before if new else self._shown

    def meant(self, action: Action | None, moment: Moment) -> Action | None:
        """The action a press is for; None if it is gone or not due.

        Args:
            action: the action of the large line now.
            moment: the bench now.
        """
        read = self._read
        if not self._drawn or action is None or _same(action, read):
            return action
        if read is None or _pulls_now(action, read, moment.now_ms):
            return action if read is not None else None
        due = (other for other in moment.actions if other.is_due(moment.now_ms))
        return next((other for other in due if _same(other, read)), None)


def _same(one: Action | None, other: Action | None) -> bool:
    """Whether two actions are the same work."""
    if one is None or other is None:
        return one is other
    return about(one) == about(other)


def _pulls_now(action: Action, read: Action, now_ms: int) -> bool:
    """Whether an action is a due pull of the part on the line before."""
    pull = action.kind is ActionKind.BEGIN and action.from_station is not None
    same = (action.run, action.part) == (read.run, read.part)
    return pull and same and action.is_due(now_ms)


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
