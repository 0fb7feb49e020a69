"""Places whole sections of parts into calendars: a plan in milliseconds, with any hours.

With all others fixed, one section is placed exactly: the *set* of possible starts of each move is
carried forward through dwells, rooms and hours, and a path is traced back. Nothing branches on
hours. A section that does not fit ejects others, which are placed again.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from itertools import pairwise
from math import inf

from benchtimer.plan.instance import FAR_S, Instance, joined
from benchtimer.plan.sections import PartSection, sections_of, with_feeders
from benchtimer.plan.timetable import ALWAYS, Times, Timetable
from benchtimer.values import dataclass

MOST_EJECTIONS = 60
"""After this many ejections, a new order is tried."""
NEAR, NEAR_MORE_S = 2, 3 * 3600
"""First try to place a part within this many times its shortest time."""
EARLIER_ENTRY = 0.4
LATER_END = 0.3
"""How often a random placing enters a place earlier than it could, and ends later."""

Entry = tuple[int, int, int]
"""(first entry, last entry, end of their room)."""


@dataclass(slots=True)
class Reach:
    """How far a part gets: the starts of each move, and the entries of each dwell.

    Attributes:
        starts: of each move, as sets of times.
        entries: of each dwell, by the move after it.
        wanted: times at which the move that can't begin could have left its place.
        stuck: that move's index in the section; None: the part gets through.
    """

    starts: list[Times]
    entries: list[list[Entry]]
    wanted: Times
    stuck: int | None = None


def reach(
    table: Timetable, section: PartSection, limit_s: int = FAR_S, floor_s: int = -FAR_S
) -> Reach:
    """Carry the possible starts of a part forward through everything placed.

    Args:
        table: what is placed.
        section: the part.
        limit_s: when its last move must have ended.
        floor_s: no move begins before this.
    """
    now_s = max(table.instance.problem.now_s, floor_s)
    ends = Reach([], [], [])
    wanted: Times = []
    if section.entered_s is None:
        ends.entries.append([])
        wanted = [(max(section.release_s, now_s), limit_s - section.tail_s[0])]
    else:
        out = _left_by(table, section.places[0], section.entered_s)
        ends.entries.append([(section.entered_s, section.entered_s, out)])
        last = min(section.entered_s + section.max_s[0], out, limit_s - section.tail_s[0])
        wanted = [(max(now_s, section.entered_s + section.min_s[0]), last)]
    count = len(section.hands_s)
    for k in range(count):
        wanted = [span for span in wanted if span[0] <= span[1]]
        starts = table.starts(wanted, section.hands_s[k], *section.ways[k])
        ends.wanted = wanted
        if not starts:
            ends.stuck = k
            return ends
        ends.starts.append(starts)
        if k + 1 < count:
            entries, wanted = _through(table, section, k + 1, starts, limit_s)
            ends.entries.append(entries)
            if not wanted:
                ends.wanted, ends.stuck = wanted, k + 1
                return ends
    return ends


def _left_by(table: Timetable, place: int, entered_s: int) -> int:
    """How long a part can stay where it is before others arrive or the place closes."""
    now_s = max(entered_s, table.instance.problem.now_s)
    return next((g for f, g in table.rooms(place) if f <= now_s <= g), now_s)


def _through(
    table: Timetable, section: PartSection, k: int, starts: Times, limit_s: int
) -> tuple[list[Entry], Times]:
    """The entries of dwell k, and the times at which it can be left."""
    hands_s, min_s, max_s = section.hands_s[k - 1], section.min_s[k], section.max_s[k]
    rooms = table.rooms(section.places[k])
    latest = limit_s - section.tail_s[k]
    entries: list[Entry] = []
    wanted: Times = []
    if rooms is ALWAYS:
        for begin, end in starts:
            first = begin + hands_s
            last = min(end + hands_s, latest - min_s)
            if first <= last:
                entries.append((first, last, FAR_S))
                wanted.append((first + min_s, min(last + max_s, latest)))
        return entries, _in_order(wanted)
    index = 0
    for begin, end in starts:
        first, last = begin + hands_s, end + hands_s
        while index < len(rooms) and rooms[index][1] < first:
            index += 1
        room = index
        while room < len(rooms) and rooms[room][0] <= last:
            opens, closes = rooms[room]
            low, high = max(first, opens), min(last, closes - min_s, latest - min_s)
            if low <= high:
                entries.append((low, high, closes))
                wanted.append((low + min_s, min(high + max_s, closes, latest)))
            room += 1
    return entries, _in_order(wanted)


def _in_order(wanted: Times) -> Times:
    for one, two in pairwise(wanted):
        if two[0] <= one[1] + 1:
            return joined(wanted)
    return wanted


def trace(
    ends: Reach, section: PartSection, rng: random.Random | None = None, *, late: bool = False
) -> list[int]:
    """Starts of all moves, from the last one back, with each dwell as short as possible.

    Args:
        ends: how far the part gets; it gets through.
        section: the part.
        rng: for random choices; None for none.
        late: end as late as possible, not as early.
    """
    last = ends.starts[-1]
    start = last[-1][1] if late else last[0][0]
    if rng is not None and not late and rng.random() < LATER_END:
        begin, end = last[min(len(last) - 1, rng.randrange(3))]
        start = rng.randint(begin, min(end, begin + 3600))
    starts = [start]
    for k in range(len(section.hands_s) - 1, 0, -1):
        entry = _entry(ends.entries[k], section.min_s[k], section.max_s[k], start, rng, late)
        start = entry - section.hands_s[k - 1]
        starts.append(start)
    return starts[::-1]


def _entry(
    entries: Sequence[Entry],
    min_s: int,
    max_s: int,
    start: int,
    rng: random.Random | None,
    late: bool,
) -> int:
    """An entry from which the dwell can end at ``start``.

    The latest one, for a short dwell; the earliest one if time in it costs nothing, so
    that the previous place is free again; or a random one.
    """
    rests = max_s >= FAR_S and not late
    for first, last, closes in entries if rests else reversed(entries):
        low, high = max(first, start - max_s), min(last, start - min_s)
        if low <= high and start <= closes:
            if rng is not None and rng.random() < EARLIER_ENTRY:
                return rng.randint(low, high)
            return low if rests else high
    raise AssertionError("a start that no entry leads to")


class Placer:
    """Puts sections in and out of timetables of one instance.

    Args:
        instance: the problem in numbers.
        over: called now and then; True means give up.
        spent: called once for every placed section.
    """

    def __init__(
        self,
        instance: Instance,
        over: Callable[[], bool] = lambda: False,
        spent: Callable[[], None] = lambda: None,
    ) -> None:
        self.instance = instance
        self.sections = sections_of(instance)
        self.over, self.spent = over, spent
        self.weight_s = self._weights()
        """The shortest time from the start of each section to the end of all that wait for it."""

    def _weights(self) -> dict[int, int]:
        weights: dict[int, int] = {}
        for number in reversed(with_feeders(self.sections, list(self.sections))):
            section = self.sections[number]
            behind = (lag_s + weights[other] for other, lag_s in section.feeds)
            weights[number] = section.tail_s[0] + max(behind, default=0)
        return weights

    def fits(
        self,
        table: Timetable,
        number: int,
        limit_s: int = FAR_S,
        rng: random.Random | None = None,
        *,
        late: bool = False,
    ) -> bool:
        """Place a section if it fits among those already placed.

        Args:
            table: what is placed; it gets the section if it fits.
            number: of the section.
            limit_s: when its last move must have ended.
            rng: for random choices.
            late: as late as possible, not as early.
        """
        self.spent()
        section = self.sections[number]
        near_s = limit_s if late else min(limit_s, self._near_s(table, section))
        # The sets are small near the end, and a section that ends by then ends earliest.
        ends = self.reach(table, number, near_s)
        if ends.stuck is not None and near_s < limit_s:
            ends = self.reach(table, number, limit_s)
        if ends.stuck is None:
            table.put(section, trace(ends, section, rng, late=late))
        return ends.stuck is None

    def reach(self, table: Timetable, number: int, limit_s: int = FAR_S) -> Reach:
        """How far a section gets among those already placed.

        Args:
            table: what is placed.
            number: of the section.
            limit_s: when its last move must have ended.
        """
        section = self.sections[number]
        for other, lag_s in section.feeds:
            if other in table.starts_of:
                limit_s = min(limit_s, table.starts_of[other][0] - lag_s)
        if section.entered_s is None:
            return reach(table, section, limit_s, self.floor_s(table, section))
        table.keep_slot(section.part, FAR_S, free=True)
        ends = reach(table, section, limit_s)
        table.keep_slot(section.part, FAR_S)
        return ends

    def floor_s(self, table: Timetable, section: PartSection) -> int:
        """No section that it waits for is done before this."""
        ends = (self.end_s(table, n) + lag_s for n, lag_s in section.after if n in table.starts_of)
        return max(ends, default=-FAR_S)

    def _near_s(self, table: Timetable, section: PartSection) -> int:
        """An end that a section usually keeps."""
        now_s = self.instance.problem.now_s
        begin = max(section.release_s, now_s, self.floor_s(table, section))
        return begin + NEAR * section.tail_s[0] + NEAR_MORE_S

    def end_s(self, table: Timetable, number: int) -> int:
        """When a placed section is done."""
        return table.starts_of[number][-1] + self.sections[number].hands_s[-1]

    def take_out(self, table: Timetable, number: int) -> None:
        """Remove a placed section."""
        table.take_out(self.sections[number])

    def with_feeders(self, numbers: list[int]) -> list[int]:
        """The sections in order, each after the ones it waits for."""
        return with_feeders(self.sections, numbers)

    def urgent_first(self) -> list[int]:
        """Sections with a running deadline, then those with the most after them."""
        key = {n: (s.deadline_s, -self.weight_s[n], n) for n, s in self.sections.items()}
        return sorted(self.sections, key=key.__getitem__)

    def first_plan(self, rng: random.Random, tries: int = 12) -> Timetable | None:
        """All sections placed, with any end; None if no try succeeds.

        Args:
            rng: for random orders.
            tries: how many orders to try.
        """
        order = self.urgent_first()
        for attempt in range(tries):
            table = Timetable(self.instance)
            if attempt:
                keys = {n: (self.sections[n].deadline_s, rng.random()) for n in order}
                if attempt % 2:
                    keys = {n: (inf, rng.random()) for n in order}
                order = sorted(order, key=keys.__getitem__)
            if self.place_all(table, order, rng, rng if attempt > 1 else None):
                return table
            if self.over():
                return None
        return None

    def place_all(
        self,
        table: Timetable,
        order: list[int],
        rng: random.Random,
        draws: random.Random | None = None,
    ) -> bool:
        """Place sections in an order; one that does not fit ejects others, which are placed again.

        Args:
            table: where to place them.
            order: numbers of the sections.
            rng: breaks ties.
            draws: random choices for placing.
        """
        waiting = self.with_feeders(order)
        weight = dict.fromkeys(self.sections, 0)
        ejections = 0
        while waiting:
            number = waiting.pop(0)
            if self.fits(table, number, rng=draws):
                continue
            weight[number] += 1
            ejected = self._eject(table, number, weight, rng, draws)
            ejections += len(ejected)
            if self.over() or ejections > MOST_EJECTIONS or weight[number] > len(self.sections) + 1:
                return False
            waiting = [*ejected, *waiting]
            if number not in table.starts_of:  # it waits for a part that is still in its way
                if not waiting:
                    return False
                waiting.insert(1 + rng.randrange(len(waiting)), number)
            waiting = self.with_feeders(waiting)
        return True

    def _eject(
        self,
        table: Timetable,
        number: int,
        weight: dict[int, int],
        rng: random.Random,
        draws: random.Random | None,
    ) -> list[int]:
        """Remove sections until one fits: first those that wait for it, then the lightest."""
        behind = {other for other, _ in self.sections[number].feeds}
        rivals = sorted(table.starts_of, key=lambda n: (n not in behind, weight[n], rng.random()))
        ejected = []
        for rival in rivals:
            self.take_out(table, rival)
            ejected.append(rival)
            if self.fits(table, number, rng=draws):
                break
        return ejected
