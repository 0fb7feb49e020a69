"""Whether the work that must be done between two moments fits between them.

Here a piece of work can be interrupted, and several units count as one faster unit. So work that
does not fit here does not fit on the bench. The piece due first goes first: if any order meets
every limit, this one does (J. R. Jackson 1955, from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from heapq import heappop, heappush

from benchtimer.plan.precedences import Shared
from benchtimer.plan.windows import FAR, Fact

Job = tuple[int, int, int, int]
"""(earliest begin, latest end, length, number of the piece)."""


class Load:
    """The work of a place or of the hands.

    Args:
        shared: the place or the hands; number k of the windows is its node k.
    """

    def __init__(self, shared: Shared) -> None:
        self.units = shared.units
        self.works = [use for use in shared.uses if use.end and use.least_s]
        self.opens = [open_s for open_s, _ in shared.hours]
        self.lengths = [close_s - open_s for open_s, close_s in shared.hours]
        self.before = [sum(self.lengths[:n]) for n in range(len(self.lengths))]

    def _worked_s(self, time_s: int) -> int:
        """Seconds of working hours up to a time; those before the first opening count, too, because
        a part can be in its place since then.
        """
        at = bisect_right(self.opens, time_s) - 1
        if at < 0:
            return time_s - self.opens[0] if self.opens else time_s
        return self.before[at] + min(time_s - self.opens[at], self.lengths[at])

    def clash(self, least: Sequence[int]) -> list[Fact] | None:
        """Facts that leave too little time for some of the work; None if there are none.

        Args:
            least: the value of each bound.
        """
        units, jobs = self.units, []
        for n, work in enumerate(self.works):
            begin = self._worked_s(least[2 * work.begin] + work.lead_s)
            end = self._worked_s(work.lag_s - least[2 * work.end + 1])
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
        since_s = min(least[2 * work.begin] + work.lead_s for work in chosen)
        end_s = max(work.lag_s - least[2 * work.end + 1] for work in chosen)
        facts = [(2 * work.begin, since_s - work.lead_s) for work in chosen]
        return facts + [(2 * work.end + 1, work.lag_s - end_s) for work in chosen]
