"""Looks for a plan that ends earlier, or proves that there is none, by decisions.

For a trial end, every move has a window of starts. Precedences narrow the windows, and a start
outside the hours jumps to the next opening. When one way of a choice has no time left, the other
holds. The search decides only choices that the earliest starts break, and goes back when a window
is empty. If no choice is broken, the earliest starts are a plan; if every way is closed, no plan
ends by then.

Which choice comes first follows C.-C. Cheng and S. Smith (1997: least slack) and F. Boussemart et
al. (2004: the choices that failed most); which way it goes follows the best plan known (J. C. Beck
2007). Peaks of places with several slots are resolved like those of A. Cesta et al. (2002). All
four from memory.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Sequence
from math import inf, sqrt

from benchtimer.plan.precedences import Precedence, Precedences
from benchtimer.plan.search_limits import SearchLimits

FIRST, LAST, LINK, CHOICE = range(4)
"""Kinds of changes on the trail."""
ODD = 0.03
"""How often a choice is first tried the other way."""
STRETCH, MOST_FREE, SLACKS = (6, 14), 3, (2, 6)
"""Moves in a stretch, parts, and the largest distance in the order that a neighbor leaves free."""
OFTEN = 2
"""A window moved more often than this by one decision may be in a ring of precedences."""

Way = tuple[int | None, Precedence | None]
"""(choice, the way it goes), or (None, a precedence at a peak)."""


class ClosedError(Exception):
    """A window is empty."""


class PrecedenceSearch:
    """Looks for plans that end by a trial end.

    Args:
        rules: of the instance.
        rng: for ties and random neighbors.
    """

    def __init__(self, rules: Precedences, rng: random.Random) -> None:
        self.rules, self.rng = rules, rng
        self.limits = SearchLimits()
        self.weight = [1.0] * len(rules.choices)
        self.of: list[list[int]] = [[] for _ in rules.hands_s]
        for c, ((u, v, _), (x, y, _)) in enumerate(rules.choices):
            for node in {u, v, x, y}:
                self.of[node].append(c)
        of_part: dict[tuple[int, int], list[int]] = {}
        for node, (m, n) in enumerate(rules.moves, 1):
            of_part.setdefault((rules.instance.line_of[m], n), []).append(node)
        self.parts = list(of_part.values())
        """The nodes of each part."""
        self.guide: Sequence[int] = ()
        """Starts of a known plan, by node: the way that each choice is tried first."""

    def earlier(self, end_s: int, nodes: int) -> tuple[list[int] | None, bool]:
        """The starts of a plan that ends by a moment, by node, and whether no plan does.

        Args:
            end_s: the moment.
            nodes: the most decisions.
        """
        try:
            self._begin(end_s)
        except ClosedError:
            return None, True
        return self._search(nodes)

    def near(self, end_s: int, nodes: int) -> list[int] | None:
        """A plan that ends by a moment and keeps most of the order of the guide, drawn at random.

        Args:
            end_s: the moment.
            nodes: the most decisions.
        """
        guide = self.guide
        try:
            self._begin(end_s)
            for c in self._kept():
                if not self.decided[c]:
                    one, two = self.rules.choices[c]
                    self._decide(c, one if guide[one[0]] < guide[one[1]] else two)
            self._settle(range(len(guide)))
        except ClosedError:
            return None
        self.trail.clear()
        return self._search(nodes)[0]

    def _kept(self) -> list[int]:
        """The choices outside a drawn stretch of the guide, a few parts, or close moves."""
        rules, rng = self.rules, self.rng
        order = sorted(range(1, len(self.guide)), key=self.guide.__getitem__)
        place = [0] * len(self.guide)
        for at, node in enumerate(order):
            place[node] = at
        kind, slack, enough = rng.randrange(3), 0, 1
        free: Collection[int] = ()
        if kind == 0:
            begin = rng.randrange(len(order))
            free, enough = set(order[begin : begin + rng.randint(*STRETCH)]), 4
        elif kind == 1:
            chosen = rng.sample(self.parts, min(len(self.parts), rng.randint(1, MOST_FREE)))
            free, slack = {node for part in chosen for node in part}, rng.choice((0, 0, 1))
        else:
            slack = rng.randint(*SLACKS)
        return [
            c
            for c, ((u, v, _), (x, y, _)) in enumerate(rules.choices)
            if (u in free) + (v in free) + (x in free) + (y in free) < enough
            and abs(place[u] - place[v]) > slack
            and abs(place[x] - place[y]) > slack
        ]

    def _begin(self, end_s: int) -> None:
        rules, instance = self.rules, self.rules.instance
        now_s, count = instance.problem.now_s, len(rules.hands_s)
        self.after: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        self.before: list[list[tuple[int, int]]] = [[] for _ in range(count)]
        self.decided = [False] * len(rules.choices)
        self.trail: list[tuple[int, int, int]] = []
        self.first = [now_s] * count
        self.last = [now_s, *(end_s - hands_s for hands_s in rules.hands_s[1:])]
        self.spans: list[tuple[list[int], list[int]]] = []
        if len(instance.gaps) > 1:
            alive = [([a for a, _ in s], [b for _, b in s]) for s in instance.alive_starts(end_s)]
            self.spans = [([now_s], [now_s]), *(alive[m] for m, _ in rules.moves)]
            for node in range(1, count):
                self.first[node] = self._opens(node, now_s)
                self.last[node] = self._closes(node, self.last[node])
        for a, b, w in rules.rules:
            self.after[a].append((b, w))
            self.before[b].append((a, w))
        self._settle(range(count))

    def _opens(self, node: int, time_s: int) -> int:
        """The first time from then on at which a move can begin within the hours."""
        if not self.spans:
            return time_s
        begins, ends = self.spans[node]
        at = bisect_left(ends, time_s)
        if at == len(ends):
            raise ClosedError
        return max(time_s, begins[at])

    def _closes(self, node: int, time_s: int) -> int:
        """The last time up to then at which a move can begin within the hours."""
        if not self.spans:
            return time_s
        begins, ends = self.spans[node]
        at = bisect_right(begins, time_s) - 1
        if at < 0:
            raise ClosedError
        return min(time_s, ends[at])

    def _raise(self, node: int, time_s: int) -> None:
        """No start of a node before a time."""
        time_s = self._opens(node, time_s)
        if time_s > self.last[node]:
            raise ClosedError
        self.trail.append((FIRST, node, self.first[node]))
        self.first[node] = time_s

    def _lower(self, node: int, time_s: int) -> None:
        """No start of a node after a time."""
        time_s = self._closes(node, time_s)
        if time_s < self.first[node]:
            raise ClosedError
        self.trail.append((LAST, node, self.last[node]))
        self.last[node] = time_s

    def _decide(self, choice: int, way: Precedence) -> None:
        """Take one way of a choice; no window moves yet."""
        self.decided[choice] = True
        self.trail.append((CHOICE, choice, 0))
        self._link(way)

    def _link(self, way: Precedence) -> None:
        a, b, w = way
        self.after[a].append((b, w))
        self.before[b].append((a, w))
        self.trail.append((LINK, a, b))

    def _undo(self, mark: int) -> None:
        """Undo all changes after this length of the trail."""
        trail = self.trail
        while len(trail) > mark:
            kind, a, b = trail.pop()
            if kind == FIRST:
                self.first[a] = b
            elif kind == LAST:
                self.last[a] = b
            elif kind == LINK:
                self.after[a].pop()
                self.before[b].pop()
            else:
                self.decided[a] = False

    def _settle(self, nodes: Iterable[int]) -> None:
        """Move windows until every precedence holds, and decide the choices with one way left.

        Raises:
            ClosedError: a window is empty.
        """
        first, last, decided, choices = self.first, self.last, self.decided, self.rules.choices
        waiting = deque(nodes)
        queued = set(waiting)
        earlier, later = _Rings(), _Rings()
        while waiting:
            node = waiting.popleft()
            queued.discard(node)
            begin, end = first[node], last[node]
            moved = []
            for other, w in self.after[node]:
                if begin + w > first[other]:
                    self._raise(other, begin + w)
                    earlier.note(node, other, w)
                    moved.append(other)
            for other, w in self.before[node]:
                if end - w < last[other]:
                    self._lower(other, end - w)
                    later.note(node, other, w)
                    moved.append(other)
            for c in self.of[node]:
                if decided[c]:
                    continue
                one, two = choices[c]
                if first[one[0]] + one[2] > last[one[1]]:
                    if first[two[0]] + two[2] > last[two[1]]:
                        self.weight[c] += 1
                        raise ClosedError
                    self._decide(c, two)
                    moved += two[:2]
                elif first[two[0]] + two[2] > last[two[1]]:
                    self._decide(c, one)
                    moved += one[:2]
            for other in moved:
                if other not in queued:
                    queued.add(other)
                    waiting.append(other)

    def _search(self, nodes: int) -> tuple[list[int] | None, bool]:
        """Decide broken choices, and go back when every way is closed.

        Args:
            nodes: the most decisions.

        Returns the starts of a plan, and whether there is none.
        """
        ways: list[tuple[int, Iterator[Way]]] = [(len(self.trail), self._ways())]
        while ways:
            mark, open_ways = ways[-1]
            self._undo(mark)
            way = next(open_ways, None)
            if way is None:
                ways.pop()
                continue
            choice, precedence = way
            if precedence is None:
                return self.first[:], False
            nodes -= 1
            self.limits.spend()
            if nodes < 0 or (nodes % 32 == 0 and self.limits.over()):
                return None, False
            try:
                if choice is None:
                    self._link(precedence)
                else:
                    self._decide(choice, precedence)
                self._settle(precedence[:2])
            except ClosedError:
                if choice is not None:
                    self.weight[choice] += 1
                continue
            ways.append((len(self.trail), self._ways()))
        return None, True

    def _ways(self) -> Iterator[Way]:
        """The ways to go on: those of the most urgent broken choice, or else of a peak.

        One without a precedence means that the first starts are a plan.
        """
        choice = self._broken()
        if choice is not None:
            one, two = self.rules.choices[choice]
            if self.guide:
                turned = self.guide[one[0]] > self.guide[one[1]]
            else:
                turned = self._slack_s(one) < self._slack_s(two)
            if self.rng.random() < ODD:
                turned = not turned
            yield choice, two if turned else one
            yield choice, one if turned else two
            return
        peak = self.rules.peak(self.first)
        if peak is None:
            yield None, None
            return
        for way in sorted(peak, key=self._slack_s, reverse=True):
            if self._slack_s(way) >= 0:
                yield None, way

    def _slack_s(self, way: Precedence) -> int:
        return self.last[way[1]] - self.first[way[0]] - way[2]

    def _broken(self) -> int | None:
        """The most urgent choice that the first starts break; None if they keep all."""
        first, last, decided, weight = self.first, self.last, self.decided, self.weight
        best, least = None, inf
        for c, ((u, v, w), (x, y, z)) in enumerate(self.rules.choices):
            if decided[c] or first[u] + w <= first[v] or first[x] + z <= first[y]:
                continue
            low, high = last[v] - first[u] - w, last[y] - first[x] - z
            if low > high:
                low, high = high, low
            # The least slack first, more so if both are small; failures make it more urgent.
            urgency = sqrt((low + 1) * (high + 1)) / weight[c]
            if urgency < least:
                best, least = c, urgency
        return best


class _Rings:
    """Finds rings of precedences that push their own moves without end."""

    def __init__(self) -> None:
        self.count: dict[int, int] = {}
        self.pushed: dict[int, tuple[int, int]] = {}

    def note(self, node: int, other: int, w: int) -> None:
        """One node has moved another by a precedence.

        Args:
            node: the cause.
            other: the node that moved.
            w: the seconds between them.

        Raises:
            ClosedError: it is part of a ring that has no times.
        """
        count = self.count[other] = self.count.get(other, 0) + 1
        if count > OFTEN:
            total, at = w, node
            for _ in self.pushed:
                if at == other:
                    break
                if at not in self.pushed:
                    total = 0
                    break
                at, step_s = self.pushed[at]
                total += step_s
            if at == other and total > 0:
                raise ClosedError
        self.pushed[other] = node, w
