"""Whole numbers with lower and upper bounds, rules between them, and what conflicts teach.

A number x has two bounds: the least x, and the least -x. Rules and decisions only raise them; going
back undoes that. A fact (b, k) says that bound b is at least k; its opposite is (b ^ 1, 1 - k). An
edge says that one bound is at least another plus a step, always, or only while a fact holds. A
clause says that one of its facts holds.

Every raise keeps its reason. When a rule is broken, the reasons lead back to a clause that was not
known: it holds for every later search, so the same mistake is not made twice. The method is lazy
clause generation (O. Ohrimenko, P. Stuckey and M. Codish 2009), from memory.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from collections.abc import Callable, Sequence
from heapq import heappop, heappush

FAR = 10**12
"""More than every bound."""
OFTEN = 4
"""After this many raises at once, and each time their number doubles, look for a ring of edges."""
LONGEST_RING = 1000
"""The most edges to follow when looking for a ring."""
DECAY = 1.05
"""How much more each conflict counts than the one before it."""
HIGH = 1e100
"""Above this weight, all weights are divided by it, so that they stay finite."""
MOST_LEARNED = 6000
"""With more learned clauses than this, keep only the shortest: half this many."""

Fact = tuple[int, int]
"""(bound, its least value)."""
Reason = tuple[int, int] | tuple[int, int, int, int] | list[Fact] | None
"""An edge as (bound, step), also with its condition; a clause, the raised fact first; None."""
Check = Callable[[Sequence[int]], list[Fact] | None]
"""For the value of each bound, facts that can't all hold, or None."""


def opposite(fact: Fact) -> Fact:
    """The fact that holds if and only if this one doesn't."""
    return fact[0] ^ 1, 1 - fact[1]


class Windows:
    """Numbers, edges and clauses.

    Attributes:
        least: the value of each bound.
        activity: how often each bound took part in conflicts, with more weight on recent ones.
        bump: the weight of the next conflict.
        checks: further rules, tested when everything else holds.
        marks: the length of the trail before each level of decisions.
    """

    def __init__(self) -> None:
        self.least: list[int] = []
        self.activity: list[float] = []
        self.bump = 1.0
        self.checks: list[Check] = []
        self.marks: list[int] = []
        self._always: list[list[tuple[int, int]]] = []
        self._if: list[list[tuple[int, int, int, int]]] = []
        self._given: list[list[tuple[int, int, int, int]]] = []
        self._spans: list[tuple[list[int], list[int]] | None] = []
        self._watches: list[list[tuple[int, list[Fact]]]] = []
        self._learned: list[list[Fact]] = []
        self._newest: list[int] = []
        self._trail: list[tuple[int, int, int, int, Reason]] = []
        self._contradiction: list[Fact] | None = None
        """Facts that can't all hold, found without any decision."""
        self._waiting: deque[int] = deque()
        self._waits: list[bool] = []

    def number(self, least: int, most: int, spans: Sequence[tuple[int, int]] | None = None) -> int:
        """A new number. Returns its lower bound; the next is its upper bound.

        Args:
            least: its least value.
            most: its greatest value.
            spans: the values it can have, as disjoint spans (first, last) in order; None: all.
        """
        bound = len(self.least)
        self._always += [[], []]
        self._if += [[], []]
        self._given += [[], []]
        self._watches += [[], []]
        self.activity += [0.0, 0.0]
        self._newest += [-1, -1]
        self._waits += [False, False]
        if spans is not None:
            self._spans.append(([a for a, _ in spans], [b for _, b in spans]))
            self._spans.append(([-b for _, b in reversed(spans)], [-a for a, _ in reversed(spans)]))
        else:
            self._spans += [None, None]
        self.least += [self._within(bound, least), self._within(bound + 1, -most)]
        if sum(self.least[bound:]) > 0:
            self._contradiction = []
        self._wake(bound)
        self._wake(bound + 1)
        return bound

    def edge(self, a: int, b: int, step: int, fact: Fact | None = None) -> None:
        """Number b is at least number a plus a step.

        Args:
            a: a lower bound.
            b: another.
            step: how much more.
            fact: the condition; None means always.
        """
        for one, two in ((a, b), (b ^ 1, a ^ 1)):
            if fact is None:
                self._always[one].append((two, step))
            else:
                self._if[one].append((two, step, *fact))
                self._given[fact[0]].append((fact[1], one, two, step))
            self._wake(one)

    @property
    def level(self) -> int:
        """How many levels of decisions there are."""
        return len(self.marks)

    def decide(self, *facts: Fact) -> None:
        """A new level with these facts; those already true or already false are skipped."""
        self.marks.append(len(self._trail))
        for bound, value in facts:
            if self.least[bound] < value <= -self.least[bound ^ 1]:
                self._raise(bound, value, None)

    def back(self, level: int) -> None:
        """Undo all decisions above a level."""
        if level >= len(self.marks):
            return
        mark = self.marks[level]
        del self.marks[level:]
        trail, least, newest = self._trail, self.least, self._newest
        while len(trail) > mark:
            bound, _, before, at, _ = trail.pop()
            least[bound], newest[bound] = before, at
        for bound in self._waiting:
            self._waits[bound] = False
        self._waiting.clear()

    def require(self, clause: list[Fact], *, lasting: bool = True) -> list[Fact] | None:
        """One of these facts holds. Returns facts that can't all hold, or None.

        Args:
            clause: the facts.
            lasting: it can't be forgotten.
        """
        if len(clause) == 1:
            self.back(0)
        clause.sort(key=self._when_false, reverse=True)
        if len(clause) > 1:
            self._watch(clause)
            if not lasting:
                self._learned.append(clause)
        clash = self._apply(clause)
        if clash is not None and not self.marks:
            self._contradiction = clash
        return clash

    def _when_false(self, fact: Fact) -> int:
        """Where on the trail a fact became false; past its end if it is not false."""
        bound, value = opposite(fact)
        return len(self._trail) if self.least[bound] < value else self._at(bound, value)

    def _apply(self, clause: list[Fact]) -> list[Fact] | None:
        """Raise the first fact of a clause if the others are false."""
        if len(clause) > 1:
            bound, value = opposite(clause[1])
            if self.least[bound] < value:
                return None
        bound, value = clause[0]
        return None if self.least[bound] >= value else self._raise(bound, value, clause)

    def _watch(self, clause: list[Fact]) -> None:
        for bound, value in clause[:2]:
            self._watches[bound ^ 1].append((1 - value, clause))

    def _wake(self, bound: int) -> None:
        if not self._waits[bound]:
            self._waits[bound] = True
            self._waiting.append(bound)

    def _within(self, bound: int, value: int) -> int:
        """The least value from one on that its number can have."""
        spans = self._spans[bound]
        if spans is None:
            return value
        begins, ends = spans
        at = bisect_left(ends, value)
        return FAR if at == len(ends) else max(value, begins[at])

    def _raise(self, bound: int, value: int, reason: Reason) -> list[Fact] | None:
        """Raise a bound. Returns facts that can't all hold if its number has no value left."""
        if self._spans[bound] is not None:
            value = self._within(bound, value)
        most = self.least[bound ^ 1]
        if value + most > 0:
            return [*self._why(bound, 1 - most, reason), (bound ^ 1, most)]
        self._trail.append((bound, value, self.least[bound], self._newest[bound], reason))
        self._newest[bound] = len(self._trail) - 1
        self.least[bound] = value
        if not self._waits[bound]:
            self._waits[bound] = True
            self._waiting.append(bound)
        return None

    def settle(self) -> list[Fact] | None:
        """Raise bounds until every rule holds. Returns facts that can't all hold, or None."""
        if self._contradiction is None:
            clash = self._settle()
            if clash is None or self.marks:
                return clash
            self._contradiction = clash
        return self._contradiction

    def _settle(self) -> list[Fact] | None:
        least, always, maybe, given = self.least, self._always, self._if, self._given
        raised: dict[int, int] = {}
        while self._waiting:
            bound = self._waiting.popleft()
            self._waits[bound] = False
            value = least[bound]
            moved: list[tuple[int, int, Reason]] = []
            for other, step in always[bound]:
                if value + step > least[other]:
                    moved.append((other, value + step, (bound, step)))
            for other, step, b, k in maybe[bound]:
                need = value + step
                if need > least[other]:
                    if least[b] >= k:
                        moved.append((other, need, (bound, step, b, k)))
                    elif need + least[other ^ 1] > 0 and least[b ^ 1] < 1 - k:
                        fact = b ^ 1, 1 - k
                        moved.append((*fact, [fact, (bound ^ 1, 1 - value), (other, need)]))
            for k, one, two, step in given[bound]:
                if k <= value and least[one] + step > least[two]:
                    moved.append((two, least[one] + step, (one, step, bound, k)))
            for other, need, reason in moved:
                if need > least[other]:
                    if clash := self._raise(other, need, reason):
                        return clash
                    count = raised[other] = raised.get(other, 0) + 1
                    often = count >= OFTEN and not count & (count - 1)
                    if often and (clash := self._ring(other)) is not None:
                        return clash
            if self._watches[bound] and (clash := self._try_clauses(bound)):
                return clash
        for check in self.checks:
            if (clash := check(least)) is not None:
                return clash
        return None

    def _try_clauses(self, bound: int) -> list[Fact] | None:
        """Look at the clauses in which a fact may have become false."""
        least, watches = self.least, self._watches
        value, watched = least[bound], watches[bound]
        kept = watches[bound] = []
        for n, watch in enumerate(watched):
            limit, clause = watch
            if value < limit:
                kept.append(watch)
                continue
            if clause[0] == (bound ^ 1, 1 - limit):
                clause[0], clause[1] = clause[1], clause[0]
            first, k = clause[0]
            if least[first] >= k:
                kept.append(watch)
                continue
            for i in range(2, len(clause)):
                b, v = clause[i]
                if least[b ^ 1] < 1 - v:
                    clause[1], clause[i] = clause[i], clause[1]
                    watches[b ^ 1].append((1 - v, clause))
                    break
            else:
                kept.append(watch)
                if clash := self._raise(first, k, clause):
                    kept += watched[n + 1 :]
                    return clash
        return None

    def _ring(self, bound: int) -> list[Fact] | None:
        """The conditions of a ring of edges that raises its own bound, if there is one."""
        at, total = bound, 0
        facts: list[Fact] = []
        since = self.marks[-1] if self.marks else 0
        for _ in range(LONGEST_RING):
            newest = self._newest[at]
            reason = self._trail[newest][4] if newest >= since else None
            if not isinstance(reason, tuple):
                return None
            at, total = reason[0], total + reason[1]
            if len(reason) == 4:
                facts.append((reason[2], reason[3]))
            if at == bound:
                return facts if total > 0 else None
        return None

    def _why(self, bound: int, value: int, reason: Reason) -> list[Fact]:
        """The facts by which a reason raises a bound to at least a value."""
        if reason is None:
            return []
        if isinstance(reason, list):
            return [opposite(fact) for fact in reason[1:]]
        spans = self._spans[bound]
        if spans is not None:
            # A value between two spans would have become the begin of the second one.
            begins, ends = spans
            at = bisect_left(begins, value)
            if at and value > ends[at - 1]:
                value = ends[at - 1] + 1
            elif at == 0:
                value = -FAR
        facts: list[Fact] = [(reason[0], value - reason[1])]
        if len(reason) == 4:
            facts.append((reason[2], reason[3]))
        return facts

    def _at(self, bound: int, value: int) -> int:
        """Where on the trail a bound became at least a value; -1 if before it."""
        trail, at = self._trail, self._newest[bound]
        while at >= 0 and trail[at][2] >= value:
            at = trail[at][3]
        return at

    def learn(self, clash: Sequence[Fact], base: int) -> bool:
        """Learn a clause from facts that can't all hold, go back, and apply it.

        Args:
            clash: the facts; all hold.
            base: how many levels are given, at least one.

        Returns whether a clause was found; if not, the given levels can't hold.
        """
        newest = max((self._at(*fact) for fact in clash), default=-1)
        while self.marks and self.marks[-1] > newest:
            self.back(self.level - 1)
        if not self.marks:
            self._contradiction = list(clash)
        if self.level <= base:
            return False
        first, rest = self._first_cause(clash)
        needed = {bound: (at, value) for at, (bound, value) in rest}
        clause = [opposite(first)]
        clause += [opposite(fact) for at, fact in rest if not self._follows(at, fact, needed)]
        last = rest[0][0] if rest else -1
        self.back(sum(mark <= last for mark in self.marks))
        self.bump *= DECAY
        if self.bump > HIGH:
            self.activity = [activity / HIGH for activity in self.activity]
            self.bump /= HIGH
        if len(clause) > 1:
            self._learned.append(clause)
            self._watch(clause)
        self._raise(*clause[0], clause)
        return True

    def _first_cause(self, clash: Sequence[Fact]) -> tuple[Fact, list[tuple[int, Fact]]]:
        """The fact of the newest level that leads to a clash with older ones.

        Returns it and the older ones, each with its place on the trail, newest first.
        """
        floor, mark = self.marks[0], self.marks[-1]
        needed: dict[int, tuple[int, int]] = {}
        heap: list[tuple[int, int]] = []
        here, facts = 0, list(clash)
        while True:
            for bound, value in facts:
                known = needed.get(bound)
                if known is not None and known[1] >= value:
                    continue
                at = self._at(bound, value)
                if at < floor:
                    continue
                self.activity[bound] += self.bump
                if at >= mark and (known is None or known[0] != at):
                    heappush(heap, (-at, bound))
                    here += known is None or known[0] < mark
                needed[bound] = at, value
            negative, bound = heappop(heap)
            while needed.get(bound, (-1, 0))[0] != -negative:
                negative, bound = heappop(heap)
            value = needed.pop(bound)[1]
            here -= 1
            if not here:
                rest = [(at, (b, v)) for b, (at, v) in needed.items()]
                return (bound, value), sorted(rest, reverse=True)
            facts = self._why(bound, value, self._trail[-negative][4])

    def _follows(self, at: int, fact: Fact, needed: dict[int, tuple[int, int]]) -> bool:
        """Whether a fact follows from older needed ones, so that a clause can leave it out.

        Args:
            at: where on the trail it became true.
            fact: the fact.
            needed: (place on the trail, value) of the others, by bound.
        """
        reason = self._trail[at][4]
        if reason is None:
            return False
        for bound, value in self._why(*fact, reason):
            known = needed.get(bound, (at, 0))
            if (known[0] >= at or known[1] < value) and self._at(bound, value) >= self.marks[0]:
                return False
        return True

    @property
    def learned(self) -> int:
        """How many learned clauses are kept."""
        return len(self._learned)

    def forget(self, most: int = MOST_LEARNED) -> bool:
        """Without decisions: with more learned clauses than ``most``, keep the shortest half.

        Returns whether any were forgotten.
        """
        if len(self._learned) <= most:
            return False
        self._learned.sort(key=len)
        gone = {id(clause) for clause in self._learned[most // 2 :]}
        del self._learned[most // 2 :]
        for bound, watched in enumerate(self._watches):
            self._watches[bound] = [watch for watch in watched if id(watch[1]) not in gone]
        return True
