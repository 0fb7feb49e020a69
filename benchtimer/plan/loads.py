"""Whether the work that must be done between two moments fits between them.

Pieces of work can be interrupted here, and several units count as one that is as many times as
fast, so what doesn't fit here fits nowhere. The piece that is due first goes first: if any order
keeps all limits, this one does (J. R. Jackson 1955, from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from heapq import heappop, heappush

from benchtimer.plan.windows import FAR, Fact
from benchtimer.values import dataclass

Job = tuple[int, int, int, int]
"""(earliest begin, latest end, length, number of the piece)."""


@dataclass(frozen=True, slots=True)
class Work:
    """A piece of work: from ``lead_s`` after one number until ``lag_s`` after another.

    Attributes:
        begin: the lower bound of the first number.
        lead_s: seconds from it.
        end: the lower bound of the second.
        lag_s: seconds from it.
        least_s: how long it takes at least.
    """

    begin: int
    lead_s: int
    end: int
    lag_s: int
    least_s: int


class Load:
    """The work of a place or of the hands.

    Args:
        units: slots or pairs of hands.
        works: the pieces.
        hours: spans in which work goes on; () means always.
    """

    def __init__(
        self, units: int, works: Sequence[Work], hours: Sequence[tuple[int, int]] = ()
    ) -> None:
        self.units, self.works = units, works
        self.opens = [open_s for open_s, _ in hours]
        self.lengths = [close_s - open_s for open_s, close_s in hours]
        self.before = [sum(self.lengths[:n]) for n in range(len(hours))]

    def _worked_s(self, time_s: int) -> int:
        """Seconds of working hours up to a time."""
        at = bisect_right(self.opens, time_s) - 1
        if at < 0:
            return 0 if self.opens else time_s
        return self.before[at] + min(time_s - self.opens[at], self.lengths[at])

    def clash(self, least: Sequence[int]) -> list[Fact] | None:
        """Facts that leave too little time for some of the work; None if there are none.

        Args:
            least: the value of each bound.
        """
        units, jobs = self.units, []
        for n, work in enumerate(self.works):
            begin = self._worked_s(least[work.begin] + work.lead_s)
            end = self._worked_s(work.lag_s - least[work.end + 1])
            jobs.append((begin * units, end * units, work.least_s, n))
        jobs.sort()
        jobs.append((FAR * units, 0, 0, -1))
        waiting: list[tuple[int, int]] = []
        spells: list[tuple[int, int]] = []
        """(begin, latest end of the work then) for each spell of work."""
        time, following = 0, 0
        while waiting or following < len(jobs) - 1:
            if not waiting:
                time = jobs[following][0]
                spells.append((time, FAR))
            while jobs[following][0] <= time:
                _, end, length, _ = jobs[following]
                heappush(waiting, (end, length))
                following += 1
            end, left = heappop(waiting)
            if spells[-1][1] != end:
                spells.append((time, end))
            until = min(time + left, jobs[following][0])
            if until - time < left:
                heappush(waiting, (end, left - (until - time)))
            time = until
            if time > end:
                return self._facts(jobs, spells, least)
        return None

    def _facts(
        self, jobs: list[Job], spells: list[tuple[int, int]], least: Sequence[int]
    ) -> list[Fact]:
        """The limits of the work that doesn't fit before the end of the last spell."""
        end = spells[-1][1]
        since = end
        for begin, due in reversed(spells):
            if due > end:
                break
            since = begin
        inside = sorted(
            (length, n) for begin, due, length, n in jobs if since <= begin and due <= end
        )
        spare_s = sum(length for length, _ in inside) - (end - since) - 1
        chosen = []
        for length, n in inside:
            if length <= spare_s:
                spare_s -= length
            else:
                chosen.append(self.works[n])
        since_s = min(least[work.begin] + work.lead_s for work in chosen)
        end_s = max(work.lag_s - least[work.end + 1] for work in chosen)
        facts = [(work.begin, since_s - work.lead_s) for work in chosen]
        return facts + [(work.end + 1, work.lag_s - end_s) for work in chosen]
