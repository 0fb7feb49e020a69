"""The calendars of hands and places that parts are placed in.

Every pair of hands has a list of its moves; the hours between them are free. Every place that can
be full has a list of stays; its *rooms* are the longest spans of seconds in which it can take one
more part. A stay includes the seconds of its entry and its exit, because a full place is emptied
before the next part goes in. With one pair of hands, the freeing move has ended before the bringing
one begins; with more, it has begun before the bringing one ends.

Sets of times are sorted lists of disjoint closed intervals of whole seconds.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable, Sequence
from math import inf

from benchtimer.plan.instance import FAR_S, NOWHERE, Instance, common, entry_s, joined
from benchtimer.plan.network import hands_now
from benchtimer.plan.sections import PartSection, places_that_fill

Times = list[tuple[int, int]]
Stay = tuple[int, int]
Piece = tuple[int, int, int, int, int, int]
"""(start, end, from place, to place, part, number of the move)."""
Free = tuple[int, int, int, int, int, int]
"""(from, to, end of the move before, its place, start of the move after, its place)."""
Room = tuple[int, int]

ALWAYS: list[Room] = [(-FAR_S, FAR_S)]


class Timetable:
    """The calendars of one problem; ``copy`` is cheap, for trying a neighbor."""

    __slots__ = (
        "_free", "_rooms", "hands", "instance", "late", "pieces", "starts_of", "stays", "tight"
    )  # fmt: skip

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.hands = hands_now(instance)
        self.pieces: list[list[Piece]] = [[] for _ in self.hands]
        self.tight = places_that_fill(instance)
        self.stays: list[list[Stay]] = [[] for _ in instance.capacity]
        self.starts_of: dict[int, tuple[int, ...]] = {}
        """The starts of the moves of each placed section, by its number."""
        self.late: list[Free] | None = None
        """The open spans after the last move, where no walk is needed."""
        if not instance.has_walks:
            self.late = [
                (int(o), FAR_S if c == inf else int(c), int(o), NOWHERE, FAR_S, NOWHERE)
                for o, c in instance.gaps
            ]
        self._free: list[list[Free] | None] = [None] * len(self.pieces)
        self._rooms: list[list[Room] | None] = [None] * len(self.stays)
        problem = instance.problem
        for index, part in enumerate(problem.parts):
            entered = entry_s(problem, part)
            if entered is not None and not part.held:
                # Until it is placed, a part keeps the slot it is in.
                self.keep_slot(index, FAR_S)

    def copy(self) -> Timetable:
        """An independent copy."""
        other = object.__new__(Timetable)
        other.instance, other.tight, other.late = self.instance, self.tight, self.late
        other.hands = self.hands
        other.pieces = [pieces[:] for pieces in self.pieces]
        other.stays = [stays[:] for stays in self.stays]
        other.starts_of = dict(self.starts_of)
        other._free = self._free[:]
        other._rooms = self._rooms[:]
        return other

    def keep_slot(self, part: int, until_s: int, *, free: bool = False) -> None:
        """Take or release a part's present slot.

        Args:
            part: index of the part.
            until_s: when it leaves.
            free: release it.
        """
        problem = self.instance.problem
        entered = entry_s(problem, problem.parts[part])
        if entered is None:
            return
        route, made = problem.parts[part].route, problem.parts[part].moves_made
        number = made if problem.parts[part].moving_s is not None else made - 1
        self._stay(self.instance.places[route.dwells[number].station], (entered, until_s), free)

    def _stay(self, place: int, stay: Stay, free: bool) -> None:
        if self.tight[place]:
            if free:
                self.stays[place].remove(stay)
            else:
                insort(self.stays[place], stay)
            self._rooms[place] = None

    def rooms(self, place: int) -> list[Room]:
        """When a place can take one more part."""
        if not self.tight[place]:
            return ALWAYS
        rooms = self._rooms[place]
        if rooms is None:
            instance = self.instance
            rooms = self._rooms[place] = rooms_between(
                self.stays[place], instance.capacity[place], instance.closed[place]
            )
        return rooms

    def starts(
        self,
        wanted: Times,
        hands_s: int,
        from_place: int,
        to_place: int,
        pairs: Iterable[int] | None = None,
    ) -> Times:
        """When a move can begin, out of the possible times.

        Args:
            wanted: times that the part allows.
            hands_s: how long the move takes.
            from_place: where it begins.
            to_place: where it ends.
            pairs: the pairs of hands that can make it; None means any.
        """
        if to_place != NOWHERE and self.instance.closed[to_place]:
            wanted = common(wanted, self.instance.open_spans[to_place])
        found: Times = []
        for pair in range(len(self.pieces)) if pairs is None else pairs:
            found += self._starts(pair, wanted, hands_s, from_place, to_place)
        return found if len(self.pieces) == 1 else joined(found)

    def _starts(self, pair: int, wanted: Times, hands_s: int, a: int, b: int) -> Times:
        free = self._free[pair]
        if free is None:
            free = self._free[pair] = self._left(pair)
        walk = self.instance.walk if self.instance.has_walks else None
        found: Times = []
        index = bisect_left(free, wanted[0][0], key=_to) if wanted else 0
        turn = 0
        while index < len(free) and turn < len(wanted):
            low, high, since, at, until, then = free[index]
            if walk is None:
                high -= hands_s
            else:
                low = max(low, since + walk[at][a])
                high = min(high, until - walk[b][then]) - hands_s
            first, last = wanted[turn]
            begin = low if low > first else first
            end = high if high < last else last
            if begin <= end:
                found.append((begin, end))
            if high < last:
                index += 1
            else:
                turn += 1
        return found

    def _left(self, pair: int) -> list[Free]:
        """The remaining hours of one pair of hands."""
        instance = self.instance
        since, at = self.hands[pair]
        spans = [(int(o), FAR_S if c == inf else int(c)) for o, c in instance.gaps]
        left: list[Free] = []
        span = 0
        late = self.late
        for start, end, a, b, _, _ in [
            *self.pieces[pair], (FAR_S, FAR_S, NOWHERE, NOWHERE, -1, -1)
        ]:  # fmt: skip
            while span < len(spans):
                opens, closes = spans[span]
                low, high = max(opens, since), min(closes, start)
                if high > low or (high == low and instance.has_instant_moves):
                    left.append((low, high, since, at, start, a))
                if closes >= start:
                    break
                span += 1
                if start == FAR_S and late is not None:
                    return left + late[span:]
            since, at = end, b
        return left

    def put(
        self, section: PartSection, starts: Sequence[int], pairs: Sequence[int] | None = None
    ) -> None:
        """Place a section: its moves into free hands, its stays into their places.

        Args:
            section: what is placed.
            starts: when its moves begin.
            pairs: the pair of hands for each; None means any that is free.
        """
        since = None
        for k, start in enumerate(starts):
            end = start + section.hands_s[k]
            pair = pairs[k] if pairs else self._pair(start, end - start, *section.ways[k])
            piece = (start, end, *section.ways[k], section.part, section.first + k)
            insort(self.pieces[pair], piece)
            self._free[pair] = None
            if since is not None:
                self._stay(section.places[k], (since, start), False)
            since = end
        if section.entered_s is not None:
            self.keep_slot(section.part, FAR_S, free=True)
            self.keep_slot(section.part, starts[0])
        self.starts_of[section.number] = tuple(starts)

    def _pair(self, start: int, hands_s: int, a: int, b: int) -> int:
        """The pair of hands that can make a move; the one whose last move ended latest."""
        if len(self.pieces) == 1:
            return 0
        walk = self.instance.walk
        best, latest = 0, -FAR_S
        for pair, pieces in enumerate(self.pieces):
            index = bisect_left(pieces, (start, start + hands_s, a, b))
            since, at = (pieces[index - 1][1], pieces[index - 1][3]) if index else self.hands[pair]
            until, _, then = pieces[index][:3] if index < len(pieces) else (FAR_S, 0, NOWHERE)
            is_free = since + walk[at][a] <= start and start + hands_s + walk[b][then] <= until
            if is_free and since > latest:
                best, latest = pair, since
        return best

    def take_out(self, section: PartSection) -> None:
        """Remove a placed section; a part that is in a place keeps its slot there."""
        starts = self.starts_of.pop(section.number)
        moves = range(section.first, section.first + len(starts))
        for pair, pieces in enumerate(self.pieces):
            kept = [p for p in pieces if p[4] != section.part or p[5] not in moves]
            if len(kept) < len(pieces):
                self.pieces[pair] = kept
                self._free[pair] = None
        for k in range(1, len(starts)):
            stay = (starts[k - 1] + section.hands_s[k - 1], starts[k])
            self._stay(section.places[k], stay, True)
        if section.entered_s is not None:
            self.keep_slot(section.part, starts[0], free=True)
            self.keep_slot(section.part, FAR_S)


def _to(free: Free) -> int:
    return free[1]


def rooms_between(stays: Sequence[Stay], slots: int, closed: Sequence[Room]) -> list[Room]:
    """The longest spans of seconds with fewer than ``slots`` stays, without closed spans.

    Args:
        stays: entry and exit, both included.
        slots: how many parts fit.
        closed: spans in which no part can be there; exactly at their ends a part can leave or
            enter.
    """
    steps: list[tuple[int, int]] = []
    for begin, end in stays:
        steps += [(begin, 1), (end + 1, -1)]
    for begin, end in closed:
        if end - begin > 1:
            steps += [(begin + 1, slots), (end, -slots)]
    steps.sort()
    rooms: list[Room] = []
    inside, since = 0, -FAR_S
    open_now = slots > 0
    for time, change in steps:
        inside += change
        if open_now and inside >= slots:
            if since < time:
                rooms.append((since, time - 1))
            open_now = False
        elif not open_now and inside < slots:
            since, open_now = time, True
    if open_now:
        rooms.append((since, FAR_S))
    return joined(rooms)  # within a second, parts leave before others enter
