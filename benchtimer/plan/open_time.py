"""Time that counts: the hours of the hands, and the time of slots less breaks.

During a break, a slot keeps its part and takes no other. Only that part's shortest dwell is useful,
so the rest of the break is lost to the slot, or all of it if no dwell may last that long.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from benchtimer.plan.instance import Instance

Gaps = Sequence[tuple[float, float]]
"""Spans of time that count, in order."""


class OpenTime:
    """How much of the time up to a moment counts, and the other way around."""

    def __init__(self, gaps: Gaps) -> None:
        self.gaps = gaps
        self.opens = [open_s for open_s, _ in gaps]
        self.before: list[float] = []
        total = 0.0
        for open_s, close_s in gaps:
            self.before.append(total)
            total += close_s - open_s

    def open_until(self, time: float) -> float:
        """Seconds that count from the present up to a moment."""
        stretch = bisect_right(self.opens, time) - 1
        if stretch < 0:
            return 0.0
        open_s, close_s = self.gaps[stretch]
        return self.before[stretch] + min(time, close_s) - open_s

    def when(self, worked_s: float) -> float:
        """The first moment by which this many seconds have counted."""
        stretch = max(0, bisect_left(self.before, worked_s) - 1)
        return self.gaps[stretch][0] + worked_s - self.before[stretch]


class SlotTimes:
    """The clocks of the slots of each place, with one pair of hands or several."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        now_s = float(instance.problem.now_s)
        begins = [(now_s, now_s)] if instance.gaps[0][0] > now_s else []  # you are away now
        self.since_s = now_s
        self.breaks = [(a[1], b[0]) for a, b in pairwise([*begins, *instance.gaps])]
        self._useful: dict[int, list[list[float]]] = {}
        self._clocks: dict[tuple[int, tuple[int, ...]], OpenTime] = {}

    def _of(self, place: int) -> list[list[float]]:
        """For each break, how much of it a slot can use at most, largest first."""
        instance = self.instance
        slots = max(1, instance.capacity[place])
        found = []
        for begin, end in self.breaks:
            long_s = end - begin
            useful: list[float] = []
            for line in instance.lines:
                for m in range(line.first_m, line.last_m):
                    if instance.dwell_of[m] == place and instance.most_of[m] >= long_s:
                        useful += [min(instance.least_of[m], long_s)] * len(line.parts)
            useful.sort(reverse=True)
            found.append([*useful, *[0.0] * slots][:slots])
        return found

    def clock(self, place: int, stays: Sequence[tuple[float, float]] = ()) -> OpenTime:
        """The clock of each slot of a place.

        Args:
            place: its number.
            stays: the spans during which parts in it count fully.
        """
        full = tuple(
            sum(since <= begin and until >= end for since, until in stays)
            for begin, end in (self.breaks if stays else ())
        )
        clock = self._clocks.get((place, full))
        if clock is None:
            clock = self._clocks[place, full] = OpenTime(self._gaps(place, full))
        return clock

    def _gaps(self, place: int, full: tuple[int, ...]) -> Gaps:
        if place not in self._useful:
            self._useful[place] = self._of(place)
        slots = max(1, self.instance.capacity[place])
        open_s = self.since_s
        full = full or (0,) * len(self.breaks)
        gaps = []
        for (begin, end), useful, whole in zip(self.breaks, self._useful[place], full, strict=True):
            some = min(whole, slots)
            used_s = (some * (end - begin) + sum(useful[: slots - some])) / slots
            if used_s < end - begin:
                gaps.append((open_s, begin + used_s))
                open_s = end
        return [*gaps, (open_s, float("inf"))]
