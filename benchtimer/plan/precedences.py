"""The rules of a bench as precedences and choices between two.

A precedence says that one move begins at least some seconds after another. Two moves of one pair of
hands, or two stays in a place with one slot, are a choice between two precedences. Places with
several slots, and several pairs of hands, have uses that must not be too many at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import inf

from benchtimer.plan.instance import FAR_S, NOWHERE, Instance, entry_s
from benchtimer.plan.network import OrderedMove, hands_now
from benchtimer.values import dataclass

PRESENT = 0
"""The node of the present; moves follow."""

Precedence = tuple[int, int, int]
"""(a, b, w): node b begins at least w seconds after node a."""
Choice = tuple[Precedence, Precedence]
"""At least one of the two holds."""


@dataclass(frozen=True, slots=True)
class Use:
    """One slot or pair of hands in use: from ``lead_s`` after node ``begin`` until ``lag_s`` after
    node ``end``.
    """

    begin: int
    lead_s: int
    end: int
    lag_s: int


def covers(instance: Instance) -> bool:
    """Whether precedences cover all rules of an instance.

    With several pairs of hands they don't cover walks, nor loads that take no time.
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
            soonest_s = int(max(free_s, instance.opens_of[m] - instance.hands_of[m]))
            yield PRESENT, node, soonest_s - now_s
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
