"""Whether the work that must be done between two moments fits between them.

Here work can be interrupted, and several units count as one faster unit. So work that does not fit
here does not fit on the bench. The work due first goes first: if any order meets every limit, this
one does (J. R. Jackson 1955, from memory).

Work that no closing may interrupt is also counted in whole pieces: an evening of four hours has
room for one stay of three. Rounding down is a dual feasible function (G. S. Lueker 1983, from
memory).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from heapq import heappop, heappush

from benchtimer.plan.precedences import PRESENT, Shared
from benchtimer.plan.windows import FAR, Fact

Job = tuple[int, int, int, int]
"""(earliest begin, latest end, length, number of the work), in pieces."""


class Load:
    """The work of a place or of the hands.

    Args:
        shared: the place or the hands; number k of the windows is its node k.
        piece_s: work and hours are counted in pieces of this length, rounded down.
    """

    def __init__(self, shared: Shared, piece_s: int = 1) -> None:
        self.units, self.piece_s = shared.units, piece_s
        self.works = [
            (2 * use.begin, use.lead_s, 2 * use.end + 1, use.lag_s, use.least_s // piece_s)
            for use in shared.uses
            if use.end and use.least_s >= piece_s
        ]
        self.opens = [open_s for open_s, _ in shared.hours]
        self.lengths = [(close_s - open_s) // piece_s for open_s, close_s in shared.hours]
        self.before = [sum(self.lengths[:n]) for n in range(len(self.lengths))]

    def _worked(self, time_s: int) -> int:
        """Pieces of the hours up to a time; those before the first opening count, too, because a
        part can be in its place since then.
        """
        at = max(0, bisect_right(self.opens, time_s) - 1)
        return self.before[at] + min((time_s - self.opens[at]) // self.piece_s, self.lengths[at])

    def clash(self, least: Sequence[int]) -> list[Fact] | None:
        """Facts that leave too little time for some of the work; None if there are none.

        Args:
            least: the value of each bound.
        """
        units, worked, hours = self.units, self._worked, self.opens
        jobs = []
        for n, (begin, lead_s, end, lag_s, length) in enumerate(self.works):
            begin_s, end_s = least[begin] + lead_s, lag_s - least[end]
            if hours:
                begin_s, end_s = worked(begin_s), worked(end_s)
            jobs.append((begin_s * units, end_s * units, length, n))
        jobs.sort()
        waiting: list[tuple[int, int]] = []
        """(latest end, length left) of the work that has come."""
        time = -FAR
        for begin, end, length, _ in [*jobs, (FAR * units, 0, 0, -1)]:
            while waiting and time < begin:
                due, left = waiting[0]
                if time + left > due:
                    return self._facts(jobs, due, least)
                if time + left > begin:
                    waiting[0] = due, time + left - begin
                    break
                time += left
                heappop(waiting)
            time = begin
            heappush(waiting, (end, length))
        return None

    def _facts(self, jobs: Sequence[Job], end: int, least: Sequence[int]) -> list[Fact]:
        """The limits of some work that doesn't fit before its latest end.

        Args:
            jobs: all work, in order of the earliest begins.
            end: the latest end of work that is too late, if work due earlier goes first.
            least: the value of each bound.
        """
        inside: list[tuple[int, int]] = []
        total = 0
        for begin, due, length, n in reversed(jobs):
            if due <= end:
                inside.append((length, n))
                total += length
                if begin + total > end:
                    break
        spare_s = begin + total - end - 1
        chosen = []
        for length, n in sorted(inside):
            if length <= spare_s:
                spare_s -= length
            else:
                chosen.append(self.works[n])
        since_s = min(least[begin] + lead_s for begin, lead_s, *_ in chosen)
        end_s = max(lag_s - least[end] for _, _, end, lag_s, _ in chosen)
        facts = [(begin, since_s - lead_s) for begin, lead_s, *_ in chosen]
        return facts + [(end, lag_s - end_s) for _, _, end, lag_s, _ in chosen]


def loads_of(shared: Shared) -> list[Load]:
    """What to check for a place or for the hands; stays are also counted in whole pieces."""
    stays = [use.least_s for use in shared.uses if use.begin not in (PRESENT, use.end)]
    shortest_s = min(stays, default=0)
    return [Load(shared), *([Load(shared, shortest_s)] if shared.hours and shortest_s else [])]
