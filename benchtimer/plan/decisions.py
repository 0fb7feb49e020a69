"""Looks for a plan that ends earlier, or proves that there is none, by decisions.

For a trial end, every move has a window of starts. The rules of the bench narrow the windows; hours
are jumps. The search decides only the choices that the earliest starts don't keep. When they keep
all, they are a plan. A conflict teaches a clause (``windows``), and the clauses stay for earlier
trial ends, so that the search learns where a plan can't be.

Which choice comes first follows C.-C. Cheng and S. Smith (1997: least slack) and F. Boussemart et
al. (2004: the choices that failed most); which way it goes follows the best plan known (J. C. Beck
2007). Places with several slots are resolved at their peaks like those of A. Cesta et al. (2002).
All four from memory.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from math import inf

from benchtimer.plan.instance import NOWHERE, common
from benchtimer.plan.loads import loads_of
from benchtimer.plan.precedences import Precedence, Precedences, Way
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.windows import Fact, Windows

OFTEN = 64
"""After this many decisions, see if it is time to stop."""
ODD = 0.03
"""How often a choice is first tried the other way."""
STRETCH, MOST_FREE, SLACKS = (6, 14), 3, (2, 6)
"""Moves in a stretch, parts, and the largest distance in the order that a neighbor leaves free."""


class PrecedenceSearch:
    """Looks for plans that end by a trial end; each trial end is no later than the first.

    Args:
        rules: of the instance.
        end_s: the first trial end.
        rng: for ties and random neighbors.

    Attributes:
        limits: when to stop.
        guide: starts of a known plan, by node: the way that each choice is tried first.
    """

    def __init__(self, rules: Precedences, end_s: int, rng: random.Random) -> None:
        self.rules, self.rng = rules, rng
        self.limits = SearchLimits()
        self.guide: Sequence[int] = ()
        self.windows = Windows()
        self.end = self._numbers(end_s)
        self.starts = slice(0, self.end, 2)
        """Where the earliest starts are among the bounds."""
        for a, b, step_s in rules.rules:
            self.windows.edge(2 * a, 2 * b, step_s)
        for node, hands_s in enumerate(rules.hands_s):
            self.windows.edge(2 * node, self.end, hands_s)
        self.choices = [self._choice(one, two) for one, two in rules.choices]
        self.open: list[tuple[int, ...]] | None = None
        """The choices that are open under what is given; None if not known."""
        self.windows.checks = [load.clash for shared in rules.shared for load in loads_of(shared)]
        self.ways: dict[Way, Fact] = {}
        self.faults: set[frozenset[Fact]] = set()
        """Faults found earlier: one of the facts of each holds in every plan."""

    def _numbers(self, end_s: int) -> int:
        """Make a number for the start of each node, and one for the end; returns that one."""
        rules, instance = self.rules, self.rules.instance
        now_s = instance.problem.now_s
        self.windows.number(now_s, now_s)
        alive = instance.alive_starts(end_s)
        for m, _ in rules.moves:
            spans = alive[m] if instance.has_hours else None
            place = instance.dwell_of[m]
            if place != NOWHERE and instance.closed[place]:
                always = [(now_s, end_s)]
                spans = common(always if spans is None else spans, instance.open_spans[place])
            self.windows.number(now_s, end_s - instance.hands_of[m], spans)
        return self.windows.number(now_s, end_s)

    def _choice(self, one: Precedence, two: Precedence) -> tuple[int, ...]:
        """Make a number for a choice: 1 for the first way, 0 for the second.

        Returns it with the bounds and steps of both ways.
        """
        (u, v, first_s), (x, y, second_s) = one, two
        way = self.windows.number(0, 1)
        self.windows.edge(2 * u, 2 * v, first_s, (way, 1))
        self.windows.edge(2 * x, 2 * y, second_s, (way + 1, 0))
        return way, 2 * u, 2 * v, first_s, 2 * x, 2 * y, second_s

    def is_ruled_out(self, end_s: int) -> bool:
        """Whether it is clear without a search that no plan ends by a moment."""
        windows = self.windows
        windows.back(0)
        clash = windows.settle()
        if clash is None:
            windows.decide((self.end + 1, -end_s))
            clash = windows.settle() if windows.least[self.end] <= end_s else []
        windows.back(0)
        return clash is not None

    def begin_by(self, time_s: int) -> bool:
        """From now on, look only for plans in which a new part is begun, and its first move ended,
        by a moment. Returns whether one may exist.
        """
        rules = self.rules
        first = [
            (2 * node + 1, rules.hands_s[node] - time_s)
            for node, (m, _) in enumerate(rules.moves, 1)
            if m == rules.instance.first_of[m]
        ]
        return bool(first) and self.windows.require(first) is None

    def earlier(self, end_s: int, conflicts: int) -> tuple[list[int] | None, bool]:
        """The starts of a plan that ends by a moment, by node; and whether it is proven that no
        plan does.

        Args:
            end_s: the moment.
            conflicts: the most conflicts.
        """
        return self._search(end_s, conflicts, ())

    def near(self, end_s: int, conflicts: int) -> list[int] | None:
        """A plan that ends by a moment and keeps most of the order of the guide, drawn at random.

        Args:
            end_s: the moment.
            conflicts: the most conflicts.
        """
        return self._search(end_s, conflicts, self._kept())[0]

    def _kept(self) -> list[Fact]:
        """The order of the guide outside a drawn stretch of it, a few parts, or close moves."""
        guide, rng, rules = self.guide, self.rng, self.rules
        order = sorted(range(1, len(guide)), key=guide.__getitem__)
        place = [0] * len(guide)
        for at, node in enumerate(order):
            place[node] = at
        kind, slack, enough = rng.randrange(3), 0, 1
        free: Collection[int] = ()
        if kind == 0:
            begin = rng.randrange(len(order))
            free, enough = set(order[begin : begin + rng.randint(*STRETCH)]), 4
        elif kind == 1:
            of_part: dict[tuple[int, int], list[int]] = {}
            for node, (m, n) in enumerate(rules.moves, 1):
                of_part.setdefault((rules.instance.line_of[m], n), []).append(node)
            parts = list(of_part.values())
            chosen = rng.sample(parts, min(len(parts), rng.randint(1, MOST_FREE)))
            free, slack = {node for part in chosen for node in part}, rng.choice((0, 0, 1))
        else:
            slack = rng.randint(*SLACKS)
        return [
            (way[0], 1) if guide[u] < guide[v] else (way[0] + 1, 0)
            for way, ((u, v, _), (x, y, _)) in zip(self.choices, rules.choices, strict=True)
            if (u in free) + (v in free) + (x in free) + (y in free) < enough
            and abs(place[u] - place[v]) > slack
            and abs(place[x] - place[y]) > slack
        ]

    def _search(
        self, end_s: int, conflicts: int, kept: Sequence[Fact]
    ) -> tuple[list[int] | None, bool]:
        """Decide broken choices, and learn from conflicts.

        Args:
            end_s: the trial end.
            conflicts: the most conflicts.
            kept: more facts to assume.

        Returns the starts of a plan, and whether there is none.
        """
        windows = self.windows
        windows.back(0)
        if windows.forget():
            self.faults.clear()
        given: list[Sequence[Fact]] = [((self.end + 1, -end_s),)]
        given += [kept] if kept else []
        clash = windows.settle()
        decisions = 0
        while True:
            if clash is not None:
                conflicts -= 1
                self.limits.spend()
                if not windows.learn(clash, len(given)):
                    return None, not kept
                if conflicts < 0 or self.limits.over():
                    return None, False
            elif windows.level < len(given):
                self.open = None
                windows.decide(*given[windows.level])
                if windows.least[self.end] > end_s:
                    return None, True
            elif (fact := self._broken()) is not None:
                windows.decide(fact)
            elif (ways := self.rules.faults(windows.least[self.starts])) is None:
                return windows.least[self.starts], False
            elif (facts := self._unknown(ways)) is not None:
                clash = windows.require(facts, lasting=False)
                if clash is not None:
                    continue
            elif (fact := self._widest(ways)) is not None:
                windows.decide(fact)
            else:  # moves of no time in the same second, with walks between them
                return None, False
            decisions += 1
            if not decisions % OFTEN and self.limits.over():
                return None, False
            clash = windows.settle()

    def _broken(self) -> Fact | None:
        """The way to decide next, for the most urgent choice that the earliest starts don't keep;
        None if they keep all.
        """
        windows, guide = self.windows, self.guide
        at, activity, bump = windows.least, windows.activity, windows.bump
        if self.open is None:  # nothing is decided yet but what is given
            self.open = [c for c in self.choices if at[c[0]] < 1 and at[c[0] + 1] < 0]
        best, least = None, inf
        for choice in self.open:
            way, u, v, first_s, x, y, second_s = choice
            if (
                at[u] + first_s > at[v]
                and at[x] + second_s > at[y]
                and at[way] < 1
                and at[way + 1] < 0
            ):
                # The least slack first, more so if both are small; failures make it more urgent.
                slack = (1 - at[v + 1] - at[u] - first_s) * (1 - at[y + 1] - at[x] - second_s)
                urgency = slack / (1 + (activity[way] + activity[way + 1]) / bump) ** 2
                if urgency < least:
                    best, least = choice, urgency
        if best is None:
            return None
        way, u, v, first_s, x, y, second_s = best
        if guide:
            turned = guide[u // 2] > guide[v // 2]
        else:
            turned = at[v + 1] + at[u] + first_s > at[y + 1] + at[x] + second_s
        if self.rng.random() < ODD:
            turned = not turned
        return (way + 1, 0) if turned else (way, 1)

    def _unknown(self, ways: Sequence[Way]) -> list[Fact] | None:
        """One of these facts must hold to mend a fault; None if that is required already."""
        facts = list(dict.fromkeys(self._fact(way) for way in ways))
        known = frozenset(facts) in self.faults
        self.faults.add(frozenset(facts))
        return None if known else facts

    def _widest(self, ways: Sequence[Way]) -> Fact | None:
        """The way with the most room of those that are open; None without one."""
        least = self.windows.least
        slack_s = {
            fact: min(-least[2 * b + 1] - least[2 * a] - step_s for a, b, step_s in way)
            for way in ways
            if least[(fact := self._fact(way))[0]] < 1 and least[fact[0] + 1] < 0
        }
        return max(slack_s, key=slack_s.__getitem__, default=None)

    def _fact(self, way: Way) -> Fact:
        """The fact that the precedences of a way hold."""
        if way not in self.ways:
            fact = self.ways[way] = self.windows.number(0, 1), 1
            for a, b, step_s in way:
                self.windows.edge(2 * a, 2 * b, step_s, fact)
        return self.ways[way]
