"""The rules of a bench as precedences and choices between two.

A precedence says that one move begins at least some seconds after another. Two moves of one pair of
hands, or two stays in a place with one slot, are a choice between two precedences. Places with
several slots, and several pairs of hands, have uses that must not be too many at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import inf

from benchtimer.plan.instance import FAR_S, NOWHERE, Instance, Spans, entry_s
from benchtimer.plan.network import OrderedMove, hands_now
from benchtimer.values import dataclass

MOST_CHOICES = 20_000
"""With more choices, decisions take too long."""
PRESENT = 0
"""The node of the present; moves follow."""

Precedence = tuple[int, int, int]
"""(a, b, w): node b begins at least w seconds after node a."""
Way = tuple[Precedence, ...]
"""Precedences that hold together."""
Choice = tuple[Precedence, Precedence]
"""At least one of the two holds."""


@dataclass(frozen=True, slots=True)
class Use:
    """One slot or pair of hands in use: from ``lead_s`` after node ``begin`` until ``lag_s`` after
    node ``end``, and for at least ``least_s`` of that time.
    """

    begin: int
    lead_s: int
    end: int
    lag_s: int
    least_s: int


@dataclass(frozen=True, slots=True)
class Shared:
    """The hands, or a place with too few slots for all its parts.

    Attributes:
        units: pairs of hands or slots.
        uses: what uses one each.
        hours: when it can be in use; empty means always.
    """

    units: int
    uses: list[Use]
    hours: Spans


class Precedences:
    """The rules of one instance as precedences and choices.

    Attributes:
        moves: the moves left, as (move, part of line); the move of node k is ``moves[k - 1]``.
        rules: precedences that always hold.
        choices: pairs of precedences.
        is_whole: False if there are too many choices, or if several pairs of hands walk or load
            parts in 0 s; choices and crowds are then empty.
        shared: the hands and the places that parts may wait for.
        crowds: those with more than one unit, if ``is_whole``.
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
        self.shared = [*self._shared()]
        pairs = sum(len(s.uses) * (len(s.uses) - 1) // 2 for s in self.shared if s.units == 1)
        self.is_whole = pairs <= MOST_CHOICES and (instance.is_alone or not self._is_odd)
        self.crowds = [s for s in self.shared if s.units > 1 and self.is_whole]
        self.choices = [*self._orders(), *self._closings()] if self.is_whole else []

    def _shared(self) -> Iterator[Shared]:
        instance = self.instance
        gaps = [(int(a), int(min(b, FAR_S))) for a, b in instance.gaps]
        yield Shared(instance.problem.hands, self._moves(), gaps if instance.has_hours else [])
        for place, uses in enumerate(self._stays()):
            if len(uses) <= instance.capacity[place]:
                continue
            stays = [m for m in range(instance.moves) if instance.dwell_of[m] == place]
            longest_s = max(instance.most_of[m] for m in stays)
            hours = gaps[:1]
            for opens_s, closes_s in gaps[1:]:
                # No part can stay through a closing that is longer than any may stay.
                if opens_s - hours[-1][1] <= longest_s:
                    hours[-1] = hours[-1][0], closes_s
                else:
                    hours.append((opens_s, closes_s))
            yield Shared(instance.capacity[place], uses, hours if len(hours) > 1 else [])

    @property
    def _is_odd(self) -> bool:
        """Whether hands walk, or load parts in no time."""
        instance = self.instance
        loads = (m for m in range(instance.moves) if instance.dwell_of[m] != NOWHERE)
        return instance.has_walks or not all(instance.hands_of[m] for m in loads)

    def _orders(self) -> Iterator[Choice]:
        """Which of two uses of the only slot or pair of hands comes first."""
        for shared in self.shared:
            for one, two in combinations(shared.uses, 2) if shared.units == 1 else ():
                if not self._in_order(one, two):
                    yield self._then(one, two), self._then(two, one)

    def _rules(self) -> Iterator[Precedence]:
        instance = self.instance
        now_s = instance.problem.now_s
        free_s = min(free for free, _ in hands_now(instance)[: instance.problem.hands])
        for node, (m, n) in enumerate(self.moves, 1):
            line = instance.lines[instance.line_of[m]]
            yield PRESENT, node, free_s - now_s
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
                follower = n + instance.capacity[instance.dwell_of[m - 1]]
                if (m - 1, follower) in self.node_of:
                    yield node, self.node_of[m - 1, follower], instance.refill_s[m]
                elif n < follower < len(line.parts):  # it is on its way
                    yield node, PRESENT, instance.empty_of[m] - self._entry(m - 1, follower)[1]
            if (m, n + 1) in self.node_of:
                yield node, self.node_of[m, n + 1], instance.next_s[m]

    def _entry(self, m: int, n: int) -> tuple[int, int]:
        """The node that a part's entry after move m depends on, and the seconds from it."""
        instance = self.instance
        if (m, n) in self.node_of:
            return self.node_of[m, n], instance.hands_of[m]
        part = instance.problem.parts[instance.lines[instance.line_of[m]].parts[n]]
        return PRESENT, (entry_s(instance.problem, part) or 0) - instance.problem.now_s

    def _moves(self) -> list[Use]:
        """The uses of the hands."""
        instance = self.instance
        uses = [Use(k, 0, k, hands_s, hands_s) for k, hands_s in enumerate(self.hands_s) if k]
        if not instance.is_alone:
            now_s = instance.problem.now_s
            uses += [Use(PRESENT, 0, PRESENT, free_s - now_s, free_s - now_s)
                     for free_s, _ in hands_now(instance) if free_s > now_s]  # fmt: skip
        return uses

    def _stays(self) -> list[list[Use]]:
        """The uses of each place."""
        instance = self.instance
        steps = {(a, b): w for a, b, w in self.rules}
        stays: list[list[Use]] = [[] for _ in instance.capacity]
        for node, (m, n) in enumerate(self.moves, 1):
            if m == instance.first_of[m]:
                continue
            before, lead_s = self._entry(m - 1, n)
            if before == PRESENT:
                lead_s = -1 if instance.is_alone else lead_s  # it is there already
            elif not instance.returns[m - 1]:
                lead_s -= instance.alone_of[m - 1]
            emptying_s = instance.empty_of[m] if instance.is_alone else 0
            least_s = max(0, steps[before, node] + emptying_s - lead_s)
            use = Use(before, lead_s, node, instance.empty_of[m], least_s)
            stays[instance.dwell_of[m - 1]].append(use)
        return stays

    def _closings(self) -> Iterator[Choice]:
        """A stay ends before its place closes, or begins after it opens."""
        instance, now_s = self.instance, self.instance.problem.now_s
        for node, (m, n) in enumerate(self.moves, 1):
            if m == instance.first_of[m]:
                continue
            before, entered_s = self._entry(m - 1, n)
            for from_s, to_s in instance.closed[instance.dwell_of[m - 1]]:
                if before != PRESENT or from_s > now_s:
                    opens_s = to_s - now_s - entered_s
                    yield (node, PRESENT, now_s - from_s), (PRESENT, before, opens_s)

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
        step_s = one.lag_s + walk_s - two.lead_s
        if instance.is_alone and one.begin != one.end and not self.hands_s[two.begin]:
            step_s = max(1, step_s)  # a slot is not emptied and filled in one second
        return one.end, two.begin, step_s

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

    def faults(self, starts: Sequence[int]) -> list[Way] | None:
        """Ways to mend the first fault in starts that keep all rules and choices; None without one.

        Args:
            starts: of the nodes.
        """
        for shared in self.crowds:
            uses = shared.uses
            spans = sorted(
                (starts[use.begin] + use.lead_s, starts[use.end] + use.lag_s, k)
                for k, use in enumerate(uses)
            )
            inside: list[Use] = []
            for since, _, k in spans:
                inside = [u for u in inside if starts[u.end] + u.lag_s > since]
                inside.append(uses[k])
                if len(inside) > shared.units:
                    return [(self._then(a, b),) for a in inside for b in inside if a is not b]
        return self._short_walk(starts) if self.instance.has_walks else None

    def _short_walk(self, starts: Sequence[int]) -> list[Way] | None:
        """Ways to mend a walk that is too short, such as another move in between.

        Args:
            starts: of the nodes.
        """
        instance = self.instance
        uses = {use.end: use for use in self.shared[0].uses}
        before = PRESENT
        free_s, place = hands_now(instance)[0]
        end_s = free_s - instance.problem.now_s
        for node in sorted(uses, key=lambda k: (starts[k], starts[k] + self.hands_s[k])):
            m, _ = self.moves[node - 1]
            least_s = end_s + instance.walk[place][instance.from_of[m]]
            if starts[node] < starts[before] + least_s:
                others = [use for k, use in uses.items() if k not in (before, node)]
                ways: list[Way] = [((before, node, least_s),)]
                if before == PRESENT:
                    return ways + [(self._then(use, uses[node]),) for use in others]
                ways.append((self._then(uses[node], uses[before]),))
                return ways + [
                    (self._then(uses[before], use), self._then(use, uses[node])) for use in others
                ]
            before, place, end_s = node, instance.to_of[m], self.hands_s[node]
        return None
