"""Whole parts placed into calendars: a plan in milliseconds, whatever the hours.

All other parts fixed, one part is placed exactly: the *set* of possible starts of each move is
carried forward through dwells, rooms and hours, and a way back is traced. Nothing branches on
hours. A part that does not fit ejects others, which are placed again.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import inf

from benchtimer.plan.instance import NOWHERE, Instance, entry_s, progress
from benchtimer.plan.timetable import ALWAYS, FAR_S, Times, Timetable, merged

MOST_EJECTIONS = 60
"""After so many ejections a new order is tried."""
NEAR, NEAR_MORE_S = 2, 3 * 3600
"""A part is looked for a place within so many times its least time, and so much more, first."""
EARLIER_ENTRY = 0.4
LATER_END = 0.3
"""How often a random placing enters a place earlier than it could, and ends later."""

Entry = tuple[int, int, int]
"""(first entry, last entry, end of the room they lie in)."""


@dataclass(slots=True)
class Chain:
    """The moves that a part has left, in numbers; dwell k comes before move k.

    Attributes:
        part: index into the parts of the problem.
        first: number of the first move that is left.
        hands_s: how long each move takes.
        ways: places each move leads from and to.
        places: place of the dwell before each move, ``NOWHERE`` where there is none.
        least_s: least time of that dwell, and ``most_s`` its most.
        tail_s: least time from the start of each move to the end of the last.
        entered_s: entry of the present dwell.
        release_s: before that the first move can't begin.
        after: parts that must be done before.
        feeds: parts that wait for this one.
    """

    part: int
    first: int
    hands_s: list[int]
    ways: list[tuple[int, int]]
    places: list[int]
    least_s: list[int]
    most_s: list[int]
    tail_s: list[int]
    entered_s: int | None
    release_s: int
    after: list[int] = field(default_factory=list)
    feeds: list[int] = field(default_factory=list)

    @property
    def deadline_s(self) -> float:
        """When the part must have left the dwell it is in."""
        return inf if self.entered_s is None else self.entered_s + self.most_s[0]


def chains_of(instance: Instance) -> dict[int, Chain]:
    """The chain of every part that has a move left, by its index."""
    problem = instance.problem
    index = {part.name: i for i, part in enumerate(problem.parts)}
    chains = {
        i: _chain(instance, i)
        for i, part in enumerate(problem.parts)
        if not part.held and progress(part) < len(part.route.moves)
    }
    for i, chain in chains.items():
        if not chain.first:
            chain.after = [
                a for name in problem.parts[i].after if (a := index[name]) in chains
            ]
        # A last move that is under way ends by itself.
        ends = [
            problem.now_s + (part.moving_s or 0)
            for name in problem.parts[i].after
            if (part := problem.parts[index[name]]).moving_s is not None and not part.is_done
            and index[name] not in chains
        ]  # fmt: skip
        chain.release_s = max([chain.release_s, *ends])
        for feeder in chain.after:
            chains[feeder].feeds.append(i)
    return chains


def _chain(instance: Instance, index: int) -> Chain:
    problem, places = instance.problem, instance.places
    part = problem.parts[index]
    route, first = part.route, progress(part)
    ways = []
    for number in range(first, len(route.moves)):
        a, b = route.came_from(number), route.goes_to(number)
        ways.append((NOWHERE if a is None else places[a], NOWHERE if b is None else places[b]))
    dwells = [route.dwells[n - 1] if n else None for n in range(first, len(route.moves))]
    hands_s = [move.hands_s for move in route.moves[first:]]
    least_s = [0 if d is None else d.least_s for d in dwells]
    tail_s = hands_s[:]
    for k in reversed(range(len(hands_s) - 1)):
        tail_s[k] += least_s[k + 1] + tail_s[k + 1]
    return Chain(
        index,
        first,
        hands_s,
        ways,
        [NOWHERE if d is None else places[d.station] for d in dwells],
        least_s,
        [FAR_S if d is None or d.most_s is None else d.most_s for d in dwells],
        tail_s,
        entry_s(problem, part),
        max(part.release_s, problem.now_s),
    )


@dataclass(slots=True)
class Reach:
    """How far a part gets: the starts of each move, and the entries of each dwell.

    Attributes:
        starts: of each move, as sets of times.
        entries: of each dwell, by the move after it.
        wanted: times at which the move that can't begin could have left its place.
        stuck: that move, by its place in the chain; None: the part gets through.
    """

    starts: list[Times]
    entries: list[list[Entry]]
    wanted: Times
    stuck: int | None = None


def reach(table: Timetable, chain: Chain, limit_s: int = FAR_S, floor_s: int = 0) -> Reach:
    """Carry the possible starts of a part forward through everything that is placed.

    Args:
        table: what is placed.
        chain: the part.
        limit_s: when its last move must have ended.
        floor_s: before that no move begins.
    """
    now_s = max(table.instance.problem.now_s, floor_s)
    ends = Reach([], [], [])
    wanted: Times = []
    if chain.entered_s is None:
        ends.entries.append([])
        wanted = [(max(chain.release_s, now_s), limit_s - chain.tail_s[0])]
    else:
        out = _left_by(table, chain.places[0], chain.entered_s)
        ends.entries.append([(chain.entered_s, chain.entered_s, out)])
        last = min(chain.entered_s + chain.most_s[0], out, limit_s - chain.tail_s[0])
        wanted = [(max(now_s, chain.entered_s + chain.least_s[0]), last)]
    count = len(chain.hands_s)
    for k in range(count):
        wanted = [span for span in wanted if span[0] <= span[1]]
        starts = table.starts(wanted, chain.hands_s[k], *chain.ways[k])
        ends.wanted = wanted
        if not starts:
            ends.stuck = k
            return ends
        ends.starts.append(starts)
        if k + 1 < count:
            entries, wanted = _through(table, chain, k + 1, starts, limit_s)
            ends.entries.append(entries)
            if not wanted:
                ends.wanted, ends.stuck = wanted, k + 1
                return ends
    return ends


def _left_by(table: Timetable, place: int, entered_s: int) -> int:
    """Until when a part can stay where it is: others come, or the place closes."""
    now_s = max(entered_s, table.instance.problem.now_s)
    return next((g for f, g in table.rooms(place) if f <= now_s <= g), now_s)


def _through(
    table: Timetable, chain: Chain, k: int, starts: Times, limit_s: int
) -> tuple[list[Entry], Times]:
    """The entries of dwell k, and the times at which it can be left."""
    hands_s, least_s, most_s = chain.hands_s[k - 1], chain.least_s[k], chain.most_s[k]
    rooms = table.rooms(chain.places[k])
    latest = limit_s - chain.tail_s[k]
    entries: list[Entry] = []
    wanted: Times = []
    if rooms is ALWAYS:
        for begin, end in starts:
            first = begin + hands_s
            last = min(end + hands_s, latest - least_s)
            if first <= last:
                entries.append((first, last, FAR_S))
                wanted.append((first + least_s, min(last + most_s, latest)))
        return entries, _in_order(wanted)
    index = 0
    for begin, end in starts:
        first, last = begin + hands_s, end + hands_s
        while index < len(rooms) and rooms[index][1] < first:
            index += 1
        room = index
        while room < len(rooms) and rooms[room][0] <= last:
            opens, closes = rooms[room]
            low, high = max(first, opens), min(last, closes - least_s, latest - least_s)
            if low <= high:
                entries.append((low, high, closes))
                wanted.append((low + least_s, min(high + most_s, closes, latest)))
            room += 1
    return entries, _in_order(wanted)


def _in_order(wanted: Times) -> Times:
    for one, two in zip(wanted, wanted[1:], strict=False):
        if two[0] <= one[1] + 1:
            return merged(wanted)
    return wanted


def trace(
    ends: Reach, chain: Chain, rng: random.Random | None = None, *, late: bool = False
) -> list[int]:
    """Starts of all moves, from the last one back: each dwell as near its least as it goes.

    Args:
        ends: how far the part gets; it gets through.
        chain: the part.
        rng: where to draw other choices from; None for none.
        late: end as late as possible, not as early.
    """
    last = ends.starts[-1]
    start = last[-1][1] if late else last[0][0]
    if rng is not None and not late and rng.random() < LATER_END:
        begin, end = last[min(len(last) - 1, rng.randrange(3))]
        start = rng.randint(begin, min(end, begin + 3600))
    starts = [start]
    for k in range(len(chain.hands_s) - 1, 0, -1):
        entry = _entry(ends.entries[k], chain.least_s[k], chain.most_s[k], start, rng)
        start = entry - chain.hands_s[k - 1]
        starts.append(start)
    return starts[::-1]


def _entry(
    entries: Sequence[Entry],
    least_s: int,
    most_s: int,
    start: int,
    rng: random.Random | None,
) -> int:
    """An entry from which the dwell can end at ``start``.

    The latest, so that the dwell is short; the earliest where time in it costs nothing, so that
    the place before is free again; or a drawn one.
    """
    rests = most_s >= FAR_S
    for first, last, closes in entries if rests else reversed(entries):
        low, high = max(first, start - most_s), min(last, start - least_s)
        if low <= high and start <= closes:
            if rng is not None and rng.random() < EARLIER_ENTRY:
                return rng.randint(low, high)
            return low if rests else high
    raise AssertionError("a start that no entry leads to")


def with_feeders(chains: dict[int, Chain], parts: list[int]) -> list[int]:
    """The parts in their order, each behind those of them that it waits for."""
    if not any(chains[part].after for part in parts):
        return parts
    chosen, done, order = set(parts), set[int](), list[int]()

    def add(part: int) -> None:
        if part not in done:
            done.add(part)
            for other in chains[part].after:
                if other in chosen:
                    add(other)
            order.append(part)

    for part in parts:
        add(part)
    return order


class Placer:
    """Parts in and out of timetables of one instance.

    Args:
        instance: the problem in numbers.
        over: asked now and then whether to give up.
        spent: called once for every part that is placed.
    """

    def __init__(
        self,
        instance: Instance,
        over: Callable[[], bool] = lambda: False,
        spent: Callable[[], None] = lambda: None,
    ) -> None:
        self.instance = instance
        self.chains = chains_of(instance)
        self.over, self.spent = over, spent

    def fits(
        self,
        table: Timetable,
        part: int,
        limit_s: int = FAR_S,
        rng: random.Random | None = None,
        *,
        late: bool = False,
    ) -> bool:
        """Place a part if it fits among those that are placed.

        Args:
            table: what is placed; it has the part afterwards if it fits.
            part: index of the part.
            limit_s: when its last move must have ended.
            rng: where to draw other choices from.
            late: as late as possible, not as early.
        """
        self.spent()
        chain = self.chains[part]
        near_s = self._near_s(table, chain)
        if late or near_s >= limit_s:
            near_s = limit_s
        # The sets are short where the end is near; whatever ends by then ends earliest.
        ends = self.reach(table, part, near_s)
        if ends.stuck is not None and near_s < limit_s:
            ends = self.reach(table, part, limit_s)
        if ends.stuck is None:
            table.put(part, chain.first, trace(ends, chain, rng, late=late))
        return ends.stuck is None

    def reach(self, table: Timetable, part: int, limit_s: int = FAR_S) -> Reach:
        """How far a part gets among those that are placed, joins included."""
        chain = self.chains[part]
        floor_s = 0
        for other in chain.after:
            if other in table.starts_of:
                floor_s = max(floor_s, self.end_s(table, other))
        for other in chain.feeds:
            if other in table.starts_of:
                limit_s = min(limit_s, table.starts_of[other][0])
        if chain.entered_s is None:
            return reach(table, chain, limit_s, floor_s)
        table.keep_slot(part, FAR_S, free=True)
        ends = reach(table, chain, limit_s)
        table.keep_slot(part, FAR_S)
        return ends

    def _near_s(self, table: Timetable, chain: Chain) -> int:
        """An end that a part keeps more often than not."""
        begin = max([chain.release_s, self.instance.problem.now_s]
                    + [self.end_s(table, p) for p in chain.after if p in table.starts_of])  # fmt: skip
        return begin + NEAR * chain.tail_s[0] + NEAR_MORE_S

    def end_s(self, table: Timetable, part: int) -> int:
        """When a placed part is done."""
        return table.starts_of[part][-1] + self.chains[part].hands_s[-1]

    def take_out(self, table: Timetable, part: int) -> None:
        """Take a placed part out."""
        table.take_out(part, self.chains[part].first)

    def with_feeders(self, parts: list[int]) -> list[int]:
        """The parts in their order, each behind those it waits for."""
        return with_feeders(self.chains, parts)

    def urgent_first(self) -> list[int]:
        """Parts with a running deadline, then those with the longest chain."""
        weight = dict.fromkeys(self.chains, 0)

        def chain_s(part: int) -> int:
            if not weight[part]:
                chain = self.chains[part]
                weight[part] = chain.tail_s[0] + max(map(chain_s, chain.feeds), default=0)
            return weight[part]

        return sorted(self.chains, key=lambda p: (self.chains[p].deadline_s, -chain_s(p), p))

    def first_plan(self, rng: random.Random, tries: int = 12) -> Timetable | None:
        """All parts placed, whatever the end; None if no try gets there.

        Args:
            rng: where other orders are drawn from.
            tries: how many orders to try.
        """
        order = self.urgent_first()
        for number in range(tries):
            table = Timetable(self.instance)
            if number:
                keys = {p: (self.chains[p].deadline_s, rng.random()) for p in order}
                if number % 2:
                    keys = {p: (inf, rng.random()) for p in order}
                order = sorted(order, key=keys.__getitem__)
            if self.place_all(table, order, rng, rng if number > 1 else None):
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
        limit_s: int = FAR_S,
        most: int = MOST_EJECTIONS,
    ) -> bool:
        """Place parts in an order; one that does not fit ejects others, which come again.

        Args:
            table: where to.
            order: the parts, by index.
            rng: breaks ties.
            draws: where the placing draws other choices from.
            limit_s: when each must be done.
            most: how many ejections are allowed.
        """
        waiting = self.with_feeders(order)
        weight = dict.fromkeys(self.chains, 0)
        ejections = 0
        while waiting:
            part = waiting.pop(0)
            if self.fits(table, part, limit_s, draws):
                continue
            weight[part] += 1
            if self.over():
                return False
            rivals = sorted(table.starts_of, key=lambda p: (weight[p], rng.random()))
            ejected = []
            for rival in rivals:
                self.take_out(table, rival)
                ejected.append(rival)
                ejections += 1
                if self.fits(table, part, limit_s, draws):
                    break
                if ejections > most:
                    return False
            else:
                # It waits for a part that is still in its way.
                if weight[part] > len(self.chains) or not (ejected or waiting):
                    return False
                waiting = [*ejected, *waiting]
                waiting.insert(1 + rng.randrange(len(waiting)), part)
                waiting = self.with_feeders(waiting)
                continue
            waiting = self.with_feeders([*ejected, *waiting])
        return True
