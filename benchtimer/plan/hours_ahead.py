"""Bounds and dead ends that account for the hours.

For one part alone, the set of possible starts of each of its moves is carried through the hours, as
in ``placement`` but with nothing else placed. An empty set is a dead end; the earliest end of its
last move is a bound. Everything due by a deadline must also fit into the open hours before it, and
into the slots of each place.
"""

from __future__ import annotations

from bisect import bisect_right
from math import ceil, inf

from benchtimer.plan.bounds import Bounds
from benchtimer.plan.instance import FAR_S, NOWHERE, Instance, common, joined
from benchtimer.plan.jackson import Jackson, Job, shared_end
from benchtimer.plan.open_time import OpenTime, SlotTimes
from benchtimer.plan.placement import Reach, reach
from benchtimer.plan.search_state import SearchState, root
from benchtimer.plan.sections import PartSection, sections_of, with_feeders
from benchtimer.plan.timetable import Times, Timetable

MOST_KEPT = 200_000
"""How many sets are cached."""

MOST_BEGINS = 150
"""How many starts one trial considers; with more moves, the bound is a little lower."""

Task = tuple[float, float, float]
"""(earliest start, latest end, seconds of work)."""


class HoursAhead:
    """The effect of the hours on the states of a search with one pair of hands."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.clock = OpenTime(instance.gaps)
        self._ends: dict[tuple[int, float, float], float] = {}

    def bound(self, state: SearchState) -> float:
        """A lower bound on the end of every plan that begins this way; inf if there is none."""
        instance, rows = self.instance, state.rows
        now = rows[0][-1]
        best = now
        due: list[tuple[float, int]] = []
        for node, (m, _) in enumerate(state.active, 1):
            low = max(rows[0][node] + instance.least_of[m], now)
            high = -rows[node][0] + instance.most_of[m]
            best = max(best, self.end(m + 1, low, high))
            if best == inf:
                return inf
            if high < inf:
                due.append((high + instance.hands_of[m + 1], instance.hands_of[m + 1]))
        due.sort()
        work = 0
        done = self.clock.open_until(now)
        for end, hands_s in due:
            work += hands_s
            if self.clock.open_until(end) - done < work:
                return inf
        for line in instance.lines:
            n = state.counts[line.first_m]
            if n < len(line.parts):
                best = max(best, self.end(line.first_m, max(now, line.release_s[n]), inf))
        return best

    def end(self, m: int, low: float, high: float) -> float:
        """The earliest end of a part whose move m begins from ``low`` to ``high``.

        Args:
            m: the move's number.
            low: its earliest begin, in seconds.
            high: its latest begin, in seconds.
        """
        key = (m, low, high)
        found = self._ends.get(key)
        if found is None:
            if len(self._ends) > MOST_KEPT:
                self._ends.clear()
            found = self._ends[key] = self._end(m, low, min(high, FAR_S))
        return found

    def _end(self, m: int, low: float, high: float) -> float:
        instance = self.instance
        wanted: Times = [(ceil(low), int(high))]
        for number in range(m, instance.last_of[m] + 1):
            hands_s = instance.hands_of[number]
            starts = common(wanted, instance.starts_in_hours(hands_s))
            if not starts:
                return inf
            if number == instance.last_of[m]:
                return starts[0][0] + hands_s
            min_s, max_s = instance.least_of[number], min(instance.most_of[number], FAR_S)
            wanted = joined([(a + hands_s + min_s, int(b + hands_s + max_s)) for a, b in starts])
        return inf


class Due:
    """When each move must begin so that all end by a moment, including hours.

    Attributes:
        end_s: that moment.
        tails: for each move and part of its line, the time from its latest start to that moment.
    """

    def __init__(self, instance: Instance, end_s: float) -> None:
        self.end_s = end_s
        self.tails = [[0.0] * len(instance.lines[number].parts) for number in instance.line_of]
        alive = instance.alive_starts(end_s)
        for m, n in instance.backward():
            tail_s = instance.shortest_after(m, n, self.tails)
            at = bisect_right(alive[m], end_s - tail_s, key=_begin) - 1
            late = min(end_s - tail_s, alive[m][at][1]) if at >= 0 else -inf
            self.tails[m][n] = end_s - late

    def end_with(self, instance: Instance, state: SearchState) -> float:
        """A lower bound on the end if all must end by then; a later result means that they
        can't.
        """
        row, now = state.rows[0], state.rows[0][-1]
        best = now
        for node, (m, n) in enumerate(state.active, 1):
            start = instance.alive_from(m + 1, max(row[node] + instance.least_of[m], now))
            best = max(best, start + self.tails[m + 1][n])
        for line in instance.lines:
            n = state.counts[line.first_m]
            if n < len(line.parts):
                start = instance.alive_from(line.first_m, max(line.release_s[n], now))
                best = max(best, start + self.tails[line.first_m][n])
        return best


def _begin(span: tuple[int, int]) -> int:
    return span[0]


def least_end(instance: Instance, upper_s: int) -> int:
    """A lower bound on the end of every plan.

    Args:
        instance: the problem in numbers.
        upper_s: an end known to be possible, where the search for a bound stops.
    """
    now_s, unit_s = instance.problem.now_s, instance.unit_s
    low, high = ceil(_static(instance)), upper_s  # no plan ends before low
    if low >= high:
        return high
    test = _Trial(instance)
    if test.fails(high - 1):
        return high
    while high - low > 1:
        middle = (low + high) // 2
        if test.fails(middle):
            low = middle + 1
        else:
            high = middle
    return min(upper_s, now_s + unit_s * ceil((low - now_s) / unit_s))


def is_hopeless(instance: Instance) -> bool:
    """Whether no end, however late, is possible: a single part, hands or places rule it out."""
    return _Trial(instance).fails(FAR_S)


class _Trial:
    """Whether a trial end can be ruled out: windows of every move, then hands and places."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.clock = OpenTime(instance.gaps)
        self.slots = SlotTimes(instance)
        self.sections = sections_of(instance)
        self.empty = Timetable(instance)
        for section in self.sections.values():
            if section.entered_s is not None:
                self.empty.keep_slot(section.part, FAR_S, free=True)
        self.order = with_feeders(self.sections, list(self.sections))

    def fails(self, end_s: int) -> bool:
        hands: list[Task] = []
        places: list[list[Task]] = [[] for _ in self.instance.capacity]
        stays: list[list[tuple[float, float]]] = [[] for _ in places]
        floor_s: dict[int, int] = {}
        until_s = dict.fromkeys(self.sections, end_s)
        for index in reversed(self.order):
            start = until_s[index] - self.sections[index].tail_s[0]
            for other, lag_s in self.sections[index].after:
                until_s[other] = min(until_s[other], start - lag_s)
        for index in self.order:
            section = self.sections[index]
            first = max((floor_s[other] + lag_s for other, lag_s in section.after), default=-FAR_S)
            ends = reach(self.empty, section, until_s[index], first)
            if ends.stuck is not None or not self._windows(section, ends, hands, places):
                return True
            if section.places[0] != NOWHERE:
                stays[section.places[0]].append((self._since_s(section), ends.starts[0][0][0]))
            floor_s[index] = ends.starts[-1][0][0] + section.hands_s[-1]
        if _overfull(hands, self.instance.problem.hands, self.clock.open_until):
            return True
        return any(
            _overfull(tasks, slots, self.slots.clock(place, stays[place]).open_until)
            for place, (tasks, slots) in enumerate(zip(places, self.instance.capacity, strict=True))
            if slots > 0 and len(tasks) > slots
        )

    def _windows(
        self, section: PartSection, ends: Reach, hands: list[Task], places: list[list[Task]]
    ) -> bool:
        """Add each move and dwell with its window; False if a window is empty."""
        count = len(section.hands_s)
        latest = [0] * count
        until = FAR_S
        for k in reversed(range(count)):
            last = next((min(b, until) for a, b in reversed(ends.starts[k]) if a <= until), None)
            if last is None:
                return False
            latest[k] = last
            until = last - section.min_s[k] - (section.hands_s[k - 1] if k else 0)
        for k in range(count):
            begin = ends.starts[k][0][0]
            hands.append((begin, latest[k] + section.hands_s[k], section.hands_s[k]))
            place = section.places[k]
            if place != NOWHERE and k:
                entry = ends.starts[k - 1][0][0] + section.hands_s[k - 1]
                places[place].append((entry, latest[k], section.min_s[k]))
            elif place != NOWHERE:
                since_s = self._since_s(section)
                places[place].append((since_s, latest[k], max(0, begin - since_s)))
        return True

    def _since_s(self, section: PartSection) -> int:
        """From when on a part keeps the slot it is in or on its way to."""
        now_s = self.instance.problem.now_s
        return now_s if self.instance.is_alone else max(now_s, section.entered_s or 0)


def _overfull(tasks: list[Task], units: int, measure: object) -> bool:
    """Whether the work of some tasks does not fit between their first start and last end."""
    by_end = sorted(tasks, key=lambda task: task[1])
    spans = [(measure(end), begin, work) for begin, end, work in by_end]  # type: ignore[operator]
    begins = sorted({task[0] for task in tasks})
    for since in begins[:: 1 + len(begins) // MOST_BEGINS]:
        offset = measure(since)  # type: ignore[operator]
        total = 0.0
        for end, begin, work in spans:
            if begin >= since:
                total += work
                if total > units * (end - offset):
                    return True
    return False


def _static(instance: Instance) -> float:
    """A bound from routes, lines, slots and the work of all hands, without the hours."""
    if instance.problem.hands == 1:
        return float(instance.problem.now_s)
    bounds = Bounds(instance)
    tails = bounds.tail_s
    hands: list[Job] = []
    places: list[list[Job]] = [[] for _ in instance.capacity]
    best = float(instance.problem.now_s)
    for (m, n), head in Jackson(instance, bounds).heads(root(instance)).items():
        best = max(best, head + tails[m][n])
        hands_s = instance.hands_of[m]
        hands.append((head, hands_s, tails[m][n] - hands_s))
        place = instance.dwell_of[m]
        if place != NOWHERE:  # the second in which it leaves is its own
            stay_s = instance.least_of[m] + 1
            places[place].append((head + hands_s, stay_s, tails[m + 1][n] - 1))
    best = max(best, shared_end(hands, instance.problem.hands))
    for place, jobs in enumerate(places):
        best = max(best, shared_end(jobs, max(1, instance.capacity[place])))
    return best
