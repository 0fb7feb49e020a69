"""When you work, in seconds from a zero, in quarter-hour slots for looking ahead."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property

from benchtimer.job.chain import LONG_S, NEVER, Soak
from benchtimer.shop.hours import Span

SLOT_S = 900
"""Starts are considered in steps of a quarter of an hour."""

AHEAD_S = 96 * 3600
"""The hours this far ahead decide whether a start is safe."""

EARLY_S = 120
"""A part that can't wait is pulled this long before its work would reach closing."""

OVER_S = 600
"""Work can end this long after closing without counting as late."""


class WorkTime:
    """Spans of work, in order.

    Args:
        spans: from and to in seconds; they don't touch.
    """

    def __init__(self, spans: Sequence[Span]) -> None:
        self.opens = [begin for begin, _ in spans]
        self.closes = [end for _, end in spans]

    @cached_property
    def slots(self) -> list[int]:
        """The starts of the quarter hours, in order."""
        pairs = zip(self.opens, self.closes, strict=True)
        return [slot for begin, end in pairs for slot in range(begin, end, SLOT_S)]

    def __len__(self) -> int:
        return len(self.opens)

    def slot(self, time_s: float) -> int:
        """The number of the slot that a moment is in or after; -1 before the first."""
        return bisect_right(self.slots, time_s) - 1

    def span(self, time_s: float) -> int:
        """The number of the span that a moment is in or after; -1 before the first."""
        return bisect_right(self.opens, time_s) - 1

    def is_open(self, time_s: float) -> bool:
        """Whether you work at a moment."""
        number = self.span(time_s)
        return number >= 0 and time_s < self.closes[number]

    def pull_s(self, entry_s: float, soak: Soak) -> float:
        """When a part that goes in at ``entry_s`` is pulled; ``NEVER`` if no hours allow it.

        At its target, if the work that follows fits before closing; otherwise just early enough for
        that work to fit, if its min has passed; otherwise at the next opening, if its max allows.
        """
        wanted_s = entry_s + soak.target_s
        number = bisect_right(self.opens, wanted_s) - 1
        if number >= 0:
            close_s = self.closes[number]
            if wanted_s + soak.need_s <= close_s:
                return wanted_s
            early_s = close_s - soak.need_s - EARLY_S
            if early_s >= entry_s + soak.min_s and early_s >= self.opens[number]:
                return early_s
        if number + 1 < len(self.opens) and self.opens[number + 1] <= entry_s + soak.max_s:
            return self.opens[number + 1]
        return NEVER

    def pull_or_stay_s(self, entry_s: float, soak: Soak) -> float:
        """The same, but the maker stays after closing for a short dwell, or a few minutes."""
        pull_s = self.pull_s(entry_s, soak)
        if pull_s != NEVER:
            return pull_s
        if soak.max_s <= LONG_S:
            return entry_s + soak.target_s
        least_s = entry_s + soak.min_s
        number = self.span(least_s)
        close_s = self.closes[number] if number >= 0 else -NEVER
        return least_s if least_s + soak.need_s <= close_s + OVER_S else NEVER

    @cached_property
    def patterns(self) -> list[tuple[Span, ...]]:
        """For each slot, the hours ahead of it."""
        found = []
        for slot_s in self.slots:
            ahead, number = [], self.span(slot_s)
            while number < len(self.opens) and self.opens[number] < slot_s + AHEAD_S:
                opens_s = max(0, self.opens[number] - slot_s)
                ahead.append((opens_s, min(AHEAD_S, self.closes[number] - slot_s)))
                number += 1
            found.append(tuple(ahead))
        return found
