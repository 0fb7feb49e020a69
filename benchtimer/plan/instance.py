"""The problem in numbers, for the search.

Parts with the same route and the same joins form a *line* and keep their order (first in,
first out). Nothing is lost: if one overtakes the other in a dwell, swapping their names from there
on gives two dwells between the old ones, so windows, stations and hands see the same plan. All
moves of all lines are numbered consecutively; ``m`` is such a number.
"""

from __future__ import annotations

from bisect import bisect_right
from math import gcd, inf

from benchtimer.plan.problem import PlanPart, Problem, Route
from benchtimer.values import dataclass, field

NOWHERE = -1
FAR_S = 2 * 10**9
"""After every time of a plan."""

Spans = list[tuple[int, int]]
"""Disjoint closed intervals of whole seconds, in order."""


@dataclass(slots=True)
class EqualParts:
    """Parts with equal routes in their fixed order;

    ``first_m`` is the number of their first move.
    """

    route: Route
    first_m: int
    last_m: int
    parts: list[int]
    """Indices into ``Problem.parts``, most advanced first."""
    release_s: list[int]
    awaited: list[tuple[int, int]] = field(default_factory=list)
    """(last move, part of line) of each part that the parts of this line wait for."""


def _route_key(route: Route) -> tuple[object, ...]:
    moves = tuple(
        (move.hands_s, route.came_from(i), route.goes_to(i)) for i, move in enumerate(route.moves)
    )
    dwells = tuple((d.station, d.min_s, d.max_s, d.wished_s) for d in route.dwells)
    return moves, dwells


def progress(part: PlanPart) -> int:
    """Moves made, including the one in progress."""
    return part.moves_made + (part.moving_s is not None and not part.is_done)


def entry_s(problem: Problem, part: PlanPart) -> int | None:
    """When the part entered (or will enter) its present dwell; None if it is in none."""
    if part.is_done or not progress(part) or progress(part) == len(part.route.moves):
        return None
    if part.moving_s is not None:
        return problem.now_s + part.moving_s
    return part.entered_s


class Instance:
    """Numbers for one problem. Attributes named ``..._of`` are indexed by move number."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.is_alone = problem.hands == 1
        self.places = {station.name: i for i, station in enumerate(problem.stations)}
        self.capacity = self._free_slots()
        self.lines = self._make_lines()
        self._number_moves()
        self._find_joins()
        self._measure_walks()
        self._find_links()
        self.gaps = _gaps(problem)
        self.has_hours = self.gaps != [(problem.now_s, inf)]
        self.closed = [list(station.closed) for station in problem.stations]
        self.open_spans = [_between(spans) for spans in self.closed]
        """When a move into each place can begin."""
        self.opens = [_opens(spans, problem.now_s) for spans in self.closed]
        """When each place that is closed now opens; -inf for the open ones."""
        self._starts_in_hours: dict[int, Spans] = {}
        self.has_instant_moves = 0 in self.hands_of
        self.unit_s = self._unit()

    def _free_slots(self) -> list[int]:
        """Slots of a station for the planned parts: held parts keep theirs."""
        taken = [p.station for p in self.problem.parts if p.held]
        return [s.holds - taken.count(s.name) for s in self.problem.stations]

    def _make_lines(self) -> list[EqualParts]:
        problem = self.problem
        joins = {
            part.name: tuple(other.name for other in problem.parts if part.name in other.after)
            for part in problem.parts
        }
        groups: dict[tuple[object, ...], list[int]] = {}
        for index, part in enumerate(problem.parts):
            if not part.held and not part.is_done:
                key = (_route_key(part.route), part.after, joins[part.name])
                groups.setdefault(key, []).append(index)
        lines: list[EqualParts] = []
        first_m = 0
        for indices in groups.values():
            indices.sort(key=self._advance)
            route = problem.parts[indices[0]].route
            last_m = first_m + len(route.moves) - 1
            release = [max(problem.parts[i].release_s, problem.now_s) for i in indices]
            lines.append(EqualParts(route, first_m, last_m, indices, release))
            first_m = last_m + 1
        return lines

    def _advance(self, index: int) -> tuple[int, int, int, int]:
        part = self.problem.parts[index]
        entered = entry_s(self.problem, part)
        return -progress(part), entered if entered is not None else 0, part.release_s, index

    def _place(self, name: str | None) -> int:
        return NOWHERE if name is None else self.places[name]

    def _number_moves(self) -> None:
        self.line_of: list[int] = []
        self.hands_of: list[int] = []
        self.from_of: list[int] = []
        self.to_of: list[int] = []
        self.dwell_of: list[int] = []
        """Place of the dwell the move leads into, ``NOWHERE`` for a last move."""
        self.least_of: list[int] = []
        self.most_of: list[float] = []
        for number, line in enumerate(self.lines):
            route = line.route
            for i, move in enumerate(route.moves):
                dwell = route.dwells[i] if i < len(route.dwells) else None
                self.line_of.append(number)
                self.hands_of.append(move.hands_s)
                self.from_of.append(self._place(route.came_from(i)))
                self.to_of.append(self._place(route.goes_to(i)))
                self.dwell_of.append(NOWHERE if dwell is None else self.places[dwell.station])
                self.least_of.append(0 if dwell is None else dwell.min_s)
                none = dwell is None or dwell.max_s is None
                self.most_of.append(inf if none else dwell.max_s)  # type: ignore[union-attr,arg-type]
        self.moves = len(self.line_of)
        self.returns = [
            m > 0
            and self.line_of[m] == self.line_of[m - 1]
            and self.dwell_of[m] == self.dwell_of[m - 1] != NOWHERE
            for m in range(self.moves)
        ]
        """Whether the move takes its part back into the station it came from."""
        self.first_of = [self.lines[n].first_m for n in self.line_of]
        self.last_of = [self.lines[n].last_m for n in self.line_of]

    def _find_joins(self) -> None:
        """Parts that others wait for, by line; a part with its last move in progress no longer
        counts.
        """
        problem = self.problem
        at = {
            problem.parts[i].name: (line.last_m, n)
            for line in self.lines
            for n, i in enumerate(line.parts)
        }
        ends = {
            part.name: problem.now_s + part.moving_s
            for part in problem.parts
            if part.moving_s is not None and not part.is_done
        }
        for line in self.lines:
            names = problem.parts[line.parts[0]].after
            line.awaited = [at[name] for name in names if name in at]
            for name in names:
                if name in ends and progress(self._part(name)) == len(self._part(name).route.moves):
                    line.release_s = [max(ready, ends[name]) for ready in line.release_s]

    def _part(self, name: str) -> PlanPart:
        return next(part for part in self.problem.parts if part.name == name)

    def _measure_walks(self) -> None:
        """``walk[a][b]`` as given, ``way[a][b]`` the shortest time between, walking or carrying.

        The last row and column mean nowhere, where no walk takes time.
        """
        size = len(self.places) + 1
        self.walk = [[0] * size for _ in range(size)]
        for walk in self.problem.walks:
            row = self.walk[self.places[walk.from_station]]
            row[self.places[walk.to_station]] = walk.walk_s
        self.has_walks = any(any(row) for row in self.walk)
        way = [row[:] for row in self.walk]
        if self.has_walks:
            for m in range(self.moves):
                a, b = self.from_of[m], self.to_of[m]
                way[a][b] = min(way[a][b], self.hands_of[m])
            for c in range(size):
                for row in way:
                    through = row[c]
                    for b, rest in enumerate(way[c]):
                        row[b] = min(row[b], through + rest)
        self.way = way

    def _find_links(self) -> None:
        """The least seconds from the start of each move to that of others of its line.

        ``next_s``: to the same move of the next part; ``refill_s``: to the move that fills the slot
        it empties. With several pairs of hands, emptying only begins before bringing ends.
        """
        self.next_s = [0] * self.moves
        self.refill_s = [1 - self.hands_of[max(0, m - 1)] for m in range(self.moves)]
        self.alone_of = [0] * self.moves
        """For how long after the start of each move no other can begin."""
        self.empty_of = [1] * self.moves
        """How long after the start of each move its old slot is free."""
        if self.is_alone:
            self.alone_of = self.empty_of = self.hands_of
            for m, hands_s in enumerate(self.hands_of):
                way = self.way[self.to_of[m]]
                self.next_s[m] = hands_s + way[self.from_of[m]]
                before = max(0, m - 1)
                least_s = 1 - self.hands_of[before]
                self.refill_s[m] = max(least_s, hands_s + way[self.from_of[before]])

    def first_start_s(self, ready_s: float, hands_s: int) -> float:
        """The earliest start of a move from ``ready_s`` on within the hours; inf if none."""
        stretch = max(0, bisect_right(self.gaps, ready_s, key=_open) - 1)
        for open_s, close_s in self.gaps[stretch:]:
            start = ready_s if ready_s > open_s else open_s
            if start + hands_s <= close_s:
                return start
        return inf

    def span_at(self, start_s: int, hands_s: int) -> tuple[int, float]:
        """The span of the hours that a move is in.

        Args:
            start_s: when it begins.
            hands_s: how long it takes.
        """
        for open_s, close_s in self.gaps:
            if open_s <= start_s and start_s + hands_s <= close_s:
                return open_s, close_s
        raise ValueError(f"a move at {start_s} s falls outside the hours")

    def starts_in_hours(self, hands_s: int) -> Spans:
        """When a move of that length may begin."""
        found = self._starts_in_hours.get(hands_s)
        if found is None:
            found = self._starts_in_hours[hands_s] = [
                (int(o), int(min(c, FAR_S)) - hands_s)
                for o, c in self.gaps
                if min(c, FAR_S) - hands_s >= o
            ]
        return found

    def alive_starts(self, end_s: float = FAR_S) -> list[Spans]:
        """The starts of each move from which its part alone gets through the hours by an end."""
        alive: list[Spans] = [[] for _ in range(self.moves)]
        for m in reversed(range(self.moves)):
            hands_s = self.hands_of[m]
            starts = self.starts_in_hours(hands_s)
            if m == self.last_of[m] and end_s < FAR_S:
                starts = common(starts, [(-FAR_S, int(end_s) - hands_s)])
            if m < self.last_of[m]:
                min_s, max_s = self.least_of[m], int(min(self.most_of[m], 2 * FAR_S))
                goes_on = [(a - hands_s - max_s, b - hands_s - min_s) for a, b in alive[m + 1]]
                starts = common(starts, joined(goes_on))
            alive[m] = starts
        return alive

    def _unit(self) -> int:
        """The largest step that divides every possible end of a plan, counted from now."""
        problem = self.problem
        if problem.hands > 1 and any(slots < len(problem.parts) for slots in self.capacity):
            return 1  # a full place is emptied a second before the next part is there
        if self.has_instant_moves:
            return 1  # the same holds if one pair of hands does both in no time
        values = [v for row in self.walk for v in row] + self.hands_of + self.least_of
        values += [int(v) for v in self.most_of if v < inf]
        times = [r for line in self.lines for r in line.release_s]
        times += [t for away in problem.away for t in (away.from_s, away.to_s)]
        times += [t for spans in self.closed for span in spans for t in span]
        times += [e for part in problem.parts if (e := entry_s(problem, part)) is not None]
        times += [problem.now_s + part.moving_s for part in problem.parts if part.moving_s]
        return gcd(*values, *(t - problem.now_s for t in times)) or 1

    @property
    def has_work(self) -> bool:
        """Whether any part has a move left to begin."""
        counts = self.next_counts()
        return any(counts[line.last_m] < len(line.parts) for line in self.lines)

    @property
    def moves_left(self) -> int:
        """How many moves are left to begin."""
        counts = self.next_counts()
        lines = self.lines
        return sum(len(n.parts) - counts[m] for n in lines for m in range(n.first_m, n.last_m + 1))

    def next_counts(self) -> list[int]:
        """How many parts have made each move at the start, counting one in progress."""
        counts = [0] * self.moves
        for line in self.lines:
            for index in line.parts:
                for m in range(line.first_m, line.first_m + progress(self.problem.parts[index])):
                    counts[m] += 1
        return counts


def _open(gap: tuple[int, float]) -> int:
    return gap[0]


def joined(spans: Spans) -> Spans:
    """The same seconds as disjoint intervals in order."""
    found: Spans = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1] + 1:
            if end > found[-1][1]:
                found[-1] = (found[-1][0], end)
        else:
            found.append((begin, end))
    return found


def common(one: Spans, two: Spans) -> Spans:
    """The seconds in both."""
    found: Spans = []
    i = j = 0
    while i < len(one) and j < len(two):
        low, high = max(one[i][0], two[j][0]), min(one[i][1], two[j][1])
        if low <= high:
            found.append((low, high))
        if one[i][1] < two[j][1]:
            i += 1
        else:
            j += 1
    return found


def _between(closed: Spans) -> Spans:
    """The seconds outside closed spans, which may overlap; the last second of each is open."""
    spans: Spans = []
    since = -FAR_S
    for from_s, to_s in sorted(closed):
        if from_s > since:
            spans.append((since, from_s - 1))
        since = max(since, to_s)
    return [*spans, (since, FAR_S)]


def _opens(spans: list[tuple[int, int]], now_s: int) -> float:
    opens = -inf
    for from_s, to_s in sorted(spans):
        if from_s <= max(now_s, opens) and to_s > now_s:
            opens = max(opens, to_s)
    return opens


def _gaps(problem: Problem) -> list[tuple[int, float]]:
    """The spans from now on in which you are at the bench, in order."""
    gaps: list[tuple[int, float]] = [(problem.now_s, inf)]
    for away in sorted(problem.away, key=lambda a: a.from_s):
        start, end = gaps[-1]
        if away.to_s <= start:
            continue
        if away.from_s < start or away.from_s >= end:
            gaps[-1] = (max(start, away.to_s), end)
            continue
        gaps[-1] = (start, away.from_s)
        gaps.append((away.to_s, inf))
    return gaps
