"""Several pairs of hands: the best plan a beam finds, with a bound that holds for every plan.

Moves are appended in the order in which they begin, each to one pair of hands. That keeps
the state a matrix of longest paths as with one pair, with a node for each pair of hands and
one for the start of the last move. A station counts as full while a part in it has not
*begun* to be lifted before the bringing move begins; a plan that lowers into a slot emptied
during the bringing move is not tried, so the search proves nothing by itself. The bound
does: it comes from routes, lines, slots and the work of all hands together, none of which
knows the order. Equal end and bound is a proof; otherwise the answer is "feasible".
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf

from benchtimer.plan.bounds import Bounds
from benchtimer.plan.instance import NOWHERE, Instance, entry_s
from benchtimer.plan.jackson import Job, shared_end
from benchtimer.plan.network import PositiveCycleError, Turn, hands_now
from benchtimer.plan.outcome import Plan
from benchtimer.plan.search import Limits
from benchtimer.plan.state import active_parts, close, longest_out
from benchtimer.plan.timing import time_order

WIDTHS = (4, 16, 64, 256)
Path = tuple["Path", int, int, int] | None
"""The order so far, newest first: (older, move, gap, pair of hands)."""


@dataclass(slots=True)
class CrewState:
    """Nodes: the zero of time, active parts, one for each pair of hands, the last start."""

    counts: tuple[int, ...]
    active: tuple[tuple[int, int], ...]
    rows: list[list[float]]
    places: tuple[int, ...]
    gap: int
    left_s: int
    path: Path
    bound_s: float = 0.0


class Crew:
    """A beam search for one instance with two or more pairs of hands."""

    def __init__(self, instance: Instance, limits: Limits) -> None:
        self.instance = instance
        self.limits = limits
        self.bounds = Bounds(instance)
        self.hands = instance.problem.hands
        self.best: Plan | None = None
        self.end_s = inf

    def offer(self, plan: Plan | None) -> None:
        """A plan that is known already: only better ones are looked for."""
        if plan is not None and plan.end_s is not None and plan.end_s < self.end_s:
            self.best, self.end_s = plan, plan.end_s

    def run(self) -> tuple[Plan | None, float]:
        """(the best plan, a bound that holds for all plans)."""
        start = self._root()
        bound_s = self._static_bound(start)
        for width in WIDTHS:
            if self.end_s <= bound_s or self.limits.over():
                break
            if not self._sweep(start, width):
                break
        return self.best, bound_s

    def _root(self) -> CrewState:
        instance = self.instance
        counts = instance.next_counts()
        active = active_parts(instance, counts)
        entries = [
            entry_s(instance.problem, instance.problem.parts[self._index(m, n)]) or 0
            for m, n in active
        ]
        free = hands_now(instance)
        times = [0, *entries, *(t for t, _ in free), instance.problem.now_s]
        rows: list[list[float]] = [[float(b - a) for b in times] for a in times]
        left = sum(
            instance.hands_of[m] * (len(line.parts) - counts[m])
            for line in instance.lines
            for m in range(line.first_m, line.last_m + 1)
        )
        places = tuple(place for _, place in free)
        return CrewState(tuple(counts), active, rows, places, 0, left, None)

    def _index(self, m: int, n: int) -> int:
        return self.instance.lines[self.instance.line_of[m]].parts[n]

    def _static_bound(self, start: CrewState) -> float:
        """A bound for every plan: tails, the work of the hands, the work of each station."""
        instance, tails = self.instance, self.bounds.tail_s
        heads = self._heads(start)
        hands: list[Job] = []
        places: list[list[Job]] = [[] for _ in instance.capacity]
        best = float(instance.problem.now_s)
        for (m, n), head in heads.items():
            best = max(best, head + tails[m][n])
            hands_s = instance.hands_of[m]
            hands.append((head, hands_s, tails[m][n] - hands_s))
            place = instance.dwell_of[m]
            if place != NOWHERE:
                places[place].append((head + hands_s, instance.least_of[m], tails[m + 1][n]))
        best = max(best, shared_end(hands, self.hands))
        for place, jobs in enumerate(places):
            best = max(best, shared_end(jobs, max(1, instance.capacity[place])))
        now_s, unit = instance.problem.now_s, instance.unit_s
        return now_s + unit * ceil((best - now_s) / unit)

    def _heads(self, start: CrewState) -> dict[tuple[int, int], float]:
        """Earliest starts by routes alone."""
        instance = self.instance
        inside = {key: start.rows[0][node] for node, key in enumerate(start.active, 1)}
        heads = {}
        for line in instance.lines:
            for n in range(len(line.parts)):
                ready = float(max(instance.problem.now_s, line.release_s[n]))
                for m in range(line.first_m, line.last_m + 1):
                    if start.counts[m] > n:
                        if (m, n) in inside:
                            ready = max(ready, inside[m, n] + instance.least_of[m])
                        continue
                    heads[m, n] = ready
                    ready += instance.hands_of[m] + instance.least_of[m]
        return heads

    def _sweep(self, start: CrewState, width: int) -> bool:
        """One pass; False when the budget is over."""
        layer = [start]
        lines = self.instance.lines
        total = sum(len(line.parts) * len(line.route.moves) for line in lines)
        for _ in range(sum(start.counts), total):
            groups: dict[object, list[CrewState]] = {}
            for state in layer:
                if self.limits.over():
                    return False
                self.limits.spent_nodes += 1
                for child in self._children(state):
                    key = (child.counts, child.gap, child.places)
                    group = groups.setdefault(key, [])
                    if not any(_no_later(other, child) for other in group):
                        group.append(child)
            layer = [state for group in groups.values() for state in group]
            layer.sort(key=lambda s: (s.bound_s, len(s.active), sum(s.rows[0][1:])))
            del layer[width:]
        for state in layer:
            self._take(state)
        return True

    def _take(self, state: CrewState) -> None:
        try:
            plan = time_order(self.instance, self._turns(state.path))
        except PositiveCycleError:  # a slot that is emptied and filled in the same second
            return
        self.offer(plan)

    def _turns(self, path: Path) -> list[Turn]:
        steps = []
        while path is not None:
            path, m, gap, pair = path
            steps.append((m, gap, pair))
        made = self.instance.next_counts()
        turns = []
        for m, gap, pair in reversed(steps):
            first = self.instance.first_of[m]
            turns.append(Turn(self._index(m, made[m]), m - first, gap, pair))
            made[m] += 1
        return turns

    def _children(self, state: CrewState) -> list[CrewState]:
        children = []
        for m in self._candidates(state):
            tried = set()
            for pair in range(self.hands):
                node = len(state.active) + 1 + pair
                likeness = (state.places[pair], state.rows[0][node])
                if likeness in tried:
                    continue
                tried.add(likeness)
                for gap in range(state.gap, len(self.instance.gaps)):
                    child = self._append(state, m, gap, pair)
                    if child is not None and child.bound_s < self.end_s:
                        children.append(child)
        return children

    def _candidates(self, state: CrewState) -> list[int]:
        instance, counts = self.instance, state.counts
        inside = [0] * (len(instance.capacity) + 1)
        for m, _ in state.active:
            inside[instance.dwell_of[m]] += 1
        found = []
        for m in range(instance.moves):
            first = instance.first_of[m] == m
            waiting = len(instance.lines[instance.line_of[m]].parts) if first else counts[m - 1]
            place = instance.dwell_of[m]
            if counts[m] < waiting and (
                place == NOWHERE or inside[place] - instance.returns[m] < instance.capacity[place]
            ):
                found.append(m)
        return found

    def _append(self, state: CrewState, m: int, gap: int, pair: int) -> CrewState | None:
        instance, rows = self.instance, state.rows
        hands_s, n = instance.hands_of[m], state.counts[m]
        open_s, close_s = instance.gaps[gap]
        old = 0
        if m > instance.first_of[m]:
            old = 1 + state.active.index((m - 1, n))
        mine = len(state.active) + 1 + pair
        free = hands_s + instance.walk[state.places[pair]][instance.from_of[m]]
        lower = open_s + hands_s
        stay = hands_s + instance.least_of[m - 1] if old else hands_s
        if not old:
            lower = max(lower, instance.lines[instance.line_of[m]].release_s[n] + hands_s)
        into = [max(r[0] + lower, r[mine] + free, r[-1] + hands_s, r[old] + stay) for r in rows]
        edges = [
            (node, -hands_s - instance.most_of[a])
            for node, (a, _) in enumerate(state.active, 1)
            if instance.most_of[a] < inf
        ]
        if close_s < inf:
            edges.append((0, -close_s))
        if any(into[node] + weight > 0 for node, weight in edges):
            return None
        out = longest_out(rows, edges)
        grown = close(rows, into, out, bool(edges))
        return self._replace(state, m, gap, pair, old, into, out, grown)

    def _replace(
        self,
        state: CrewState,
        m: int,
        gap: int,
        pair: int,
        old: int,
        into: list[float],
        out: list[float],
        grown: list[list[float]],
    ) -> CrewState:
        """The new entry in its place, the hands that made it, and the new last start."""
        instance = self.instance
        hands_s, n = instance.hands_of[m], state.counts[m]
        # A matrix with the new entry last, from which rows and columns are picked.
        full = [[*row, into[i]] for i, row in enumerate(grown)] + [[*out, 0.0]]
        fresh, base = len(grown), len(state.active) + 1
        parts = [(key, node) for node, key in enumerate(state.active, 1) if node != old]
        if m != instance.last_of[m]:
            parts = sorted(
                [*parts, ((m, n), fresh)], key=lambda p: (instance.line_of[p[0][0]], p[0][1])
            )
        picks = [(0, 0), *((node, 0) for _, node in parts)]
        picks += [(fresh if k == pair else base + k, 0) for k in range(self.hands)]
        picks.append((fresh, -hands_s))
        rows = [[full[i][j] + b - a for j, b in picks] for i, a in picks]
        child = CrewState(
            (*state.counts[:m], n + 1, *state.counts[m + 1 :]),
            tuple(key for key, _ in parts),
            rows,
            (*state.places[:pair], instance.to_of[m], *state.places[pair + 1 :]),
            gap,
            state.left_s - hands_s,
            (state.path, m, gap, pair),
        )
        child.bound_s = max(state.bound_s, self._bound(child))
        return child

    def _bound(self, state: CrewState) -> float:
        """What ranks states: tails from where parts are now, and the work of all hands."""
        instance, tails = self.instance, self.bounds.tail_s
        row = state.rows[0]
        since = row[-1]
        free = row[len(state.active) + 1 : -1]
        best = max(max(free), (sum(max(f, since) for f in free) + state.left_s) / self.hands)
        for node, (m, n) in enumerate(state.active, 1):
            best = max(best, max(row[node] + instance.least_of[m], since) + tails[m + 1][n])
        for line in instance.lines:
            n = state.counts[line.first_m]
            if n < len(line.parts):
                best = max(best, max(line.release_s[n], since) + tails[line.first_m][n])
        return best


def _no_later(a: CrewState, b: CrewState) -> bool:
    """Whether every path of ``a`` is at most as long as in ``b``."""
    return all(
        x <= y
        for row_a, row_b in zip(a.rows, b.rows, strict=True)
        for x, y in zip(row_a, row_b, strict=True)
    )
