"""Searches orders of moves by precedences: an earlier end, or a proof that there is none.

Every move has a window of starts for a trial end. A precedence ("b begins at least this long after
a") moves the ends of windows, and the hours are jumps. Two moves of one pair of hands, or two stays
in a place with one slot, are a *choice* between two precedences: when one has no time left, the
other holds. The search decides only choices that the earliest starts break, and goes back when a
window is empty. If no choice is broken, the earliest starts are a plan; if every way is closed, no
plan ends by then.

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
from itertools import combinations
from math import inf, sqrt

from benchtimer.plan.instance import FAR_S, NOWHERE, Instance, entry_s
from benchtimer.plan.network import OrderedMove, hands_now
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.values import dataclass

FIRST, LAST, LINK, CHOICE = range(4)
"""Kinds of changes on the trail."""
PRESENT = 0
"""The node of the present; moves follow."""
ODD = 0.03
"""How often a choice is first tried the other way."""
STRETCH, MOST_FREE, SLACKS = (6, 14), 3, (2, 6)
"""Moves in a stretch, parts, and the largest distance in the order that a neighbor leaves free."""
OFTEN = 2
"""A window moved more often than this by one decision may be in a ring of precedences."""

Precedence = tuple[int, int, int]
"""(a, b, w): node b begins at least w seconds after node a."""
Choice = tuple[Precedence, Precedence]
"""At least one of the two holds."""
Way = tuple[int | None, Precedence | None]
"""(choice, the way it goes), or (None, a precedence at a peak)."""


@dataclass(frozen=True, slots=True)
class Use:
    """One slot or pair of hands in use: from ``lead_s`` after node ``begin`` until ``lag_s`` after
    node ``end``.
    """

    begin: int
    lead_s: int
    end: int
    lag_s: int


class ClosedError(Exception):
    """A window is empty."""


def are_known(instance: Instance) -> bool:
    """Whether precedences say all about an instance: no walks with several pairs of hands, and no
    loads that take no time.
    """
    if instance.is_alone:
        return True
    loads = (m for m in range(instance.moves) if instance.dwell_of[m] != NOWHERE)
    return not instance.has_walks and all(instance.hands_of[m] for m in loads)


class Precedences:
    """The rules of one instance as precedences and choices.

    Attributes:
        moves: the moves left, as (move, part of line); the move of node k is ``moves[k - 1]``.
        rules: precedences that always hold.
        choices: pairs of precedences.
        uses: for each place with several slots, or several pairs of hands, how many there are, and
            their uses.
    """

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        made = instance.next_counts()
        self.moves = [
            (m, n)
            for line in instance.lines
            for n in range(len(line.parts))
            for m in range(line.first_m, line.last_m + 1)
            if made[m] <= n
        ]
        self.node_of = {move: node for node, move in enumerate(self.moves, 1)}
        self.hands_s = [0, *(instance.hands_of[m] for m, _ in self.moves)]
        best: dict[tuple[int, int], int] = {}
        for a, b, w in self._rules():
            best[a, b] = max(w, best.get((a, b), -FAR_S))
        self.rules: list[Precedence] = [(a, b, w) for (a, b), w in best.items()]
        self.choices: list[Choice] = []
        self.uses: list[tuple[int, list[Use]]] = []
        self._find_choices()

    def _rules(self) -> Iterator[Precedence]:
        instance = self.instance
        now_s = instance.problem.now_s
        free_s = min(free for free, _ in hands_now(instance)[: instance.problem.hands])
        for node, (m, n) in enumerate(self.moves, 1):
            line = instance.lines[instance.line_of[m]]
            yield (
                PRESENT,
                node,
                int(max(free_s, instance.opens_of[m] - instance.hands_of[m])) - now_s,
            )
            if m == line.first_m:
                yield PRESENT, node, line.release_s[n] - now_s
                for other in line.awaited:
                    if other in self.node_of:
                        yield self.node_of[other], node, instance.hands_of[other[0]]
            else:
                least_s, most_s = instance.least_of[m - 1], instance.most_of[m - 1]
                before, shift_s = self._entry(m - 1, n)
                yield before, node, shift_s + least_s
                if most_s < inf:
                    yield node, before, -shift_s - int(most_s)
                follower = (m - 1, n + instance.capacity[instance.dwell_of[m - 1]])
                if follower in self.node_of:
                    yield node, self.node_of[follower], instance.refill_s[m]
            if (m, n + 1) in self.node_of:
                yield node, self.node_of[m, n + 1], instance.next_s[m]

    def _entry(self, m: int, n: int) -> tuple[int, int]:
        """The node that a part's entry after move m depends on, and the seconds from it."""
        instance = self.instance
        if (m, n) in self.node_of:
            return self.node_of[m, n], instance.hands_of[m]
        part = instance.problem.parts[instance.lines[instance.line_of[m]].parts[n]]
        return PRESENT, (entry_s(instance.problem, part) or 0) - instance.problem.now_s

    def _find_choices(self) -> None:
        instance = self.instance
        moves = [Use(k, 0, k, self.hands_s[k]) for k in range(1, len(self.hands_s))]
        if not instance.is_alone:
            now_s = instance.problem.now_s
            moves += [Use(PRESENT, -FAR_S, PRESENT, free_s - now_s)
                      for free_s, _ in hands_now(instance) if free_s > now_s]  # fmt: skip
        self._add(instance.problem.hands, moves)
        stays: list[list[Use]] = [[] for _ in instance.capacity]
        for node, (m, n) in enumerate(self.moves, 1):
            if m > instance.first_of[m]:
                stays[instance.dwell_of[m - 1]].append(self._stay(node, m, n))
        for slots, uses in zip(instance.capacity, stays, strict=True):
            self._add(slots, uses)

    def _stay(self, node: int, m: int, n: int) -> Use:
        """The use of a slot that ends with move m."""
        instance = self.instance
        before, shift_s = self._entry(m - 1, n)
        if before == PRESENT:
            shift_s = -FAR_S if instance.is_alone else shift_s
        elif not instance.returns[m - 1]:
            shift_s -= instance.alone_of[m - 1]
        return Use(before, shift_s, node, instance.empty_of[m])

    def _add(self, units: int, uses: list[Use]) -> None:
        """Choices between the uses of one unit; with more, they are resolved at peaks."""
        if len(uses) <= units:
            return
        if units != 1:
            self.uses.append((units, uses))
            return
        for one, two in combinations(uses, 2):
            if self._in_order(one, two):
                continue
            self.choices.append((self._then(one, two), self._then(two, one)))

    def _in_order(self, one: Use, two: Use) -> bool:
        """Whether two uses are of one part, or of equal parts and so in order anyway."""
        if one.end == PRESENT or two.end == PRESENT:
            return False
        (m, n), (other_m, other_n) = self.moves[one.end - 1], self.moves[two.end - 1]
        same = self.instance.line_of[m] == self.instance.line_of[other_m]
        return same and (n == other_n or m == other_m)

    def _then(self, one: Use, two: Use) -> Precedence:
        """The second use after the first."""
        instance = self.instance
        walk_s = 0
        if instance.has_walks and PRESENT not in (one.end, two.begin):
            m, other = self.moves[one.end - 1][0], self.moves[two.begin - 1][0]
            walk_s = instance.way[instance.to_of[m]][instance.from_of[other]]
        return one.end, two.begin, one.lag_s + walk_s - two.lead_s

    def starts_of(self, turns: Sequence[OrderedMove], starts: Sequence[int]) -> list[int]:
        """The starts of a plan by node.

        Args:
            turns: its moves, with equal parts in order.
            starts: when each begins.
        """
        place = {
            part: (line.first_m, n)
            for line in self.instance.lines
            for n, part in enumerate(line.parts)
        }
        found = [self.instance.problem.now_s] * len(self.hands_s)
        for turn, start in zip(turns, starts, strict=True):
            first_m, n = place[turn.part]
            found[self.node_of[first_m + turn.move, n]] = start
        return found

    def turns_of(self, starts: Sequence[int]) -> tuple[list[OrderedMove], list[int]]:
        """The moves in order of their starts, and these; the other way from ``starts_of``."""
        lines, line_of = self.instance.lines, self.instance.line_of
        order = sorted(
            range(1, len(starts)),
            key=lambda node: (starts[node], starts[node] + self.hands_s[node]),
        )
        turns = []
        for m, n in (self.moves[node - 1] for node in order):
            line = lines[line_of[m]]
            turns.append(OrderedMove(line.parts[n], m - line.first_m))
        return turns, [starts[node] for node in order]

    def peak(self, starts: Sequence[int]) -> list[Precedence] | None:
        """At the first moment with too many uses, the ways to put one after another; None: none.

        Args:
            starts: of the nodes.
        """
        for units, uses in self.uses:
            spans = sorted((starts[use.begin] + use.lead_s, k) for k, use in enumerate(uses))
            inside: list[Use] = []
            for since, k in spans:
                inside = [u for u in inside if starts[u.end] + u.lag_s > since]
                inside.append(uses[k])
                if len(inside) > units:
                    return [self._then(a, b) for a in inside for b in inside if a is not b]
        return None


class PrecedenceSearch:
    """Looks for plans that end by a trial end.

    Args:
        rules: of the instance.
        rng: for ties and random neighbors.
    """

    def __init__(self, rules: Precedences, rng: random.Random) -> None:
        self.rules, self.rng = rules, rng
        self.limits = SearchLimits()
        self.left = 0
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
        """A plan that ends by a moment, as starts of the nodes, and whether none does.

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
        """Settle a choice one way, without its effects."""
        self.decided[choice] = True
        self.trail.append((CHOICE, choice, 0))
        self._link(way)

    def _link(self, way: Precedence) -> None:
        a, b, w = way
        self.after[a].append((b, w))
        self.before[b].append((a, w))
        self.trail.append((LINK, a, b))

    def _undo(self, mark: int) -> None:
        """Take back everything since a length of the trail."""
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
        """The ways on: of the most urgent broken choice, else of a peak; one without a precedence
        if the first starts are a plan.
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
            # The slack over the root of how alike the two are, by failures so far.
            urgency = sqrt((low + 1) * (high + 1)) / weight[c]
            if urgency < least:
                best, least = c, urgency
        return best


class _Rings:
    """Finds rings of precedences that push their own moves on and on."""

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
