"""Jackson's preemptive bound on all remaining work.

From a state, the earliest start of each remaining move follows from routes, line order and
free slots (heads), the shortest time after it from ``Bounds.tail_s`` (tails). For one resource, the
schedule that always works on the job with the longest tail, interrupting others, ends no later than
any real plan (J. R. Jackson 1955; J. Carlier 1982 for heads and tails). The hands are such a
resource; a station with c slots is one that works c times as fast.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from heapq import heappop, heappush
from math import inf

from benchtimer.plan.bounds import Bounds
from benchtimer.plan.instance import NOWHERE, Instance
from benchtimer.plan.open_time import OpenTime, SlotTimes
from benchtimer.plan.search_state import SearchState

MOST_JOBS = 120
"""About this many moves are considered; those of later parts are in the tails anyway."""

Job = tuple[float, float, float]
"""(head, work, tail): a start no earlier than head, the work, then the tail."""


def preemptive_end(jobs: list[Job], real: Callable[[float], float] | None = None) -> float:
    """The least possible maximum of completion + tail when work may be interrupted.

    ``real`` turns the jobs' time into that of the tails, where the two differ.
    """
    jobs.sort()
    waiting: list[list[float]] = []
    best = now = -inf
    count = len(jobs)
    index = 0
    while index < count or waiting:
        if not waiting and jobs[index][0] > now:
            now = jobs[index][0]
        while index < count and jobs[index][0] <= now:
            heappush(waiting, [-jobs[index][2], jobs[index][1]])
            index += 1
        head = waiting[0]
        until = now + head[1]
        if index < count and jobs[index][0] < until:
            head[1] = until - jobs[index][0]
            now = jobs[index][0]
            continue
        heappop(waiting)
        now = until
        end = (now if real is None else real(now)) - head[0]
        if end > best:
            best = end
    return best


def shared_end(jobs: list[Job], units: int) -> float:
    """The bound for a resource whose speed is its number of units.

    Times are stretched instead of shortening the work, so whole seconds stay exact and the
    bound can be rounded up to the next possible end.
    """
    if units == 1:
        return preemptive_end(jobs)
    return preemptive_end([(head * units, work, tail * units) for head, work, tail in jobs]) / units


def _timed_end(jobs: list[Job], units: int, clock: OpenTime) -> float:
    """The bound for a resource with its own clock; tails are in real time."""
    timed = [(units * clock.open_until(head), work, tail) for head, work, tail in jobs]
    return preemptive_end(timed, lambda worked: clock.when(worked / units))


class Jackson:
    """The bound for states of one instance; ``bound`` is for one pair of hands."""

    def __init__(self, instance: Instance, bounds: Bounds) -> None:
        self.instance = instance
        self.tail_s = bounds.tail_s
        self.work_s = bounds.work_s
        # If one line visits a station once, the links through its slots say the same.
        visits = [place for place in instance.dwell_of if place != NOWHERE]
        self.has_rivals = len(visits) > len(set(visits))
        self.hours = OpenTime(instance.gaps) if len(instance.gaps) > 1 else None
        self.slots = SlotTimes(instance)
        self.window = max(3, MOST_JOBS // max(1, instance.moves))

    def bound(
        self,
        state: SearchState,
        tails: Sequence[Sequence[float]] | None = None,
        enough_s: float = inf,
    ) -> float:
        """A lower bound on the end of every plan that begins with the state's order.

        Args:
            state: the order.
            tails: of every move, if different from those of the routes.
            enough_s: stop at a bound above this.
        """
        hands, places, stays = self._jobs(state, self.tail_s if tails is None else tails)
        if self.hours is None:
            best = preemptive_end(hands)
        else:
            best = _timed_end(hands, 1, self.hours)
            best = max([best, *(head + work + tail for head, work, tail in hands if tail == 0)])
        for place, jobs in enumerate(places):
            if best > enough_s:
                break
            if len(jobs) <= 1:
                continue
            units = max(self.instance.capacity[place], 1)
            if self.hours is not None:
                clock = self.slots.clock(place, stays[place])
                best = max(best, _timed_end(jobs, units, clock))
            elif self.has_rivals:
                best = max(best, shared_end(jobs, units))
        return best

    def heads(self, state: SearchState) -> dict[tuple[int, int], float]:
        """Earliest start of every remaining move, by (move, part of line)."""
        instance = self.instance
        now = state.rows[0][-1]
        row = state.rows[0]
        away = len(instance.gaps) > 1
        inside = {(m, n): row[node] for node, (m, n) in enumerate(state.active, 1)}
        heads: dict[tuple[int, int], float] = {}
        for line in instance.lines:
            first = line.first_m
            oldest = state.counts[line.last_m]
            for n in range(oldest, min(len(line.parts), oldest + self.window)):
                ready = max(now, line.release_s[n])
                for m in range(first, line.last_m + 1):
                    if state.counts[m] > n:
                        if (m, n) in inside:
                            ready = max(inside[m, n] + instance.least_of[m], now)
                        continue
                    before = heads.get((m, n - 1))
                    if before is not None and before + instance.next_s[m] > ready:
                        ready = before + instance.next_s[m]
                    place = instance.dwell_of[m]
                    if place != NOWHERE:
                        leaver = heads.get((m + 1, n - instance.capacity[place]))
                        if leaver is not None and leaver + instance.refill_s[m + 1] > ready:
                            ready = leaver + instance.refill_s[m + 1]
                    ready = max(ready, instance.opens_of[m] - instance.hands_of[m])
                    if away:
                        ready = instance.alive_from(m, ready)
                    heads[m, n] = ready
                    ready += instance.hands_of[m] + instance.least_of[m]
        return heads

    def _jobs(
        self, state: SearchState, tails: Sequence[Sequence[float]]
    ) -> tuple[list[Job], list[list[Job]], list[list[tuple[float, float]]]]:
        instance = self.instance
        heads, work = self.heads(state), self.work_s
        now = state.rows[0][-1]
        hands: list[Job] = []
        places: list[list[Job]] = [[] for _ in instance.capacity]
        stays: list[list[tuple[float, float]]] = [[] for _ in instance.capacity]
        for (m, n), head in heads.items():
            hands_s = instance.hands_of[m]
            after = tails[m][n] - hands_s
            hands.append((head, hands_s, after))
            if m > instance.first_of[m]:
                brought = heads.get((m - 1, n))
                if brought is None:
                    job = (now, head + hands_s - now, after)
                    # It has been there since before a break that began before now.
                    stays[instance.dwell_of[m - 1]].append((-inf, head))
                elif instance.returns[m - 1]:
                    job = (brought + instance.hands_of[m - 1], work[m - 1], after)
                else:
                    job = (brought, work[m - 1], after)
                places[instance.dwell_of[m - 1]].append(job)
        return hands, places, stays
