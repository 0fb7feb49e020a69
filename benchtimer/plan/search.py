"""Exact, anytime search for the order of moves with the least end, one pair of hands.

Orders grow by one move at a time, so all states of a layer have made equally many moves.
A layer keeps one list per set of counts; a state whose matrix is nowhere below another's of
the same list cannot lead to anything better and is dropped. Of each layer only the best
``width`` states are kept, and the width grows from pass to pass. The smallest bound among
the states cut off is a proven lower bound for the whole; a pass that cuts none is the proof
of optimality, or that there is no plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from math import ceil, inf

from benchtimer.plan.bounds import Bounds
from benchtimer.plan.instance import NOWHERE, Instance, progress
from benchtimer.plan.jackson import Jackson
from benchtimer.plan.lookahead import Lookahead
from benchtimer.plan.outcome import Plan
from benchtimer.plan.state import Dead, Path, State, append, candidates, root

WIDTHS = (1, 4, 16, 64, 256, 1024, 4096, 8192)
"""Widths of the passes. The last keeps the memory of 24 parts below 200 MB."""


MEND_FROM = 64
"""From passes of this width on, the best order is mended between passes."""
MEND_WIDTH = 8
MEND_MOVES = 16


@dataclass(slots=True)
class Limits:
    """When to stop: by an injected monotonic clock, by a flag, or by nodes opened."""

    seconds: float = inf
    clock: Callable[[], float] = lambda: 0.0
    stop: Callable[[], bool] = lambda: False
    nodes: float = inf
    spent_nodes: int = 0
    started: float = field(init=False)

    def __post_init__(self) -> None:
        self.started = self.clock()

    @property
    def elapsed_s(self) -> float:
        """Seconds since these limits were made."""
        return self.clock() - self.started

    def over(self) -> bool:
        """Whether to stop now."""
        return self.spent_nodes >= self.nodes or self.elapsed_s >= self.seconds or self.stop()


@dataclass(slots=True)
class Found:
    """What a search ended with; ``end_s`` inf: no order found; ``closed``: nothing is open."""

    end_s: float = inf
    path: Path = None
    bound_s: float = -inf
    closed: bool = False
    dead: Dead | None = None


class Search:
    """One search over one instance; ``run`` may be asked to stop at the first plan."""

    def __init__(self, instance: Instance, limits: Limits) -> None:
        self.instance = instance
        self.limits = limits
        self.bounds = Bounds(instance)
        self.ahead = Lookahead(instance)
        self.jackson = Jackson(instance, self.bounds)
        self.shortest_last_s = min(
            (instance.hands_of[line.last_m] for line in instance.lines), default=0
        )
        self.kept: list[tuple[int, int]] = []
        self.kept_set: set[tuple[int, int]] = set()
        self.mended: Path = None
        self.begin_before_away = False
        """Whether the very first move must come before the next away window."""
        self.stretches = len(instance.gaps)
        """How many of the stretches between away windows may be used."""
        self.found = Found()

    def run(self, first_plan: bool = False, known: State | None = None) -> Found:
        """Search until closed or out of budget; ``known`` is a complete order that works."""
        found = self.found
        if known is not None:
            found.end_s, found.path = known.rows[0][-1], known.path
        start = root(self.instance)
        start.bound_s = self._bound(start)
        found.bound_s = start.bound_s
        rank = _eager if len(self.instance.lines) == 1 else _careful
        for width in WIDTHS:
            if found.end_s <= found.bound_s:
                break
            cut_s, finished = self._sweep(start, width, rank)
            if width == 1 and finished and found.path is None and cut_s < inf:
                finished = self._sweep(start, width, _safe)[1]
            found.bound_s = max(found.bound_s, min(cut_s, found.end_s))
            if not finished:
                break
            if cut_s == inf:
                found.bound_s = found.end_s
                break
            if first_plan and found.path is not None:
                break
            if width >= MEND_FROM:
                self._mend(start, rank)
        found.closed = found.bound_s >= found.end_s or found.bound_s == inf
        return found

    def _mend(self, start: State, rank: Callable[[State], Rank]) -> None:
        """Free some moves of the best order and place them anew, the others in their order.

        Freed are the moves of one line, or a stretch of moves. This only looks for better
        plans; it proves nothing and leaves the bound alone.
        """
        found = self.found
        better = found.path is not self.mended
        while better and found.path is not None and found.end_s > found.bound_s:
            better = False
            order = self._sequence(found.path)
            for freed in _neighbourhoods(self.instance, order):
                if self.limits.over() or found.end_s <= found.bound_s:
                    break
                before = found.end_s
                self.kept = [move for i, move in enumerate(order) if i not in freed]
                self.kept_set = set(self.kept)
                self._sweep(start, MEND_WIDTH, rank)
                self.kept, self.kept_set = [], set()
                if found.end_s < before:
                    better = True
                    break
        self.mended = found.path

    def _sequence(self, path: Path) -> list[tuple[int, int]]:
        """The order as (move, part of line), oldest first."""
        steps = []
        while path is not None:
            path, m, _ = path
            steps.append(m)
        made = self.instance.next_counts()
        order = []
        for m in reversed(steps):
            order.append((m, made[m]))
            made[m] += 1
        return order

    def _in_turn(self, state: State, m: int) -> bool:
        """Whether the move is free, or the next of those that keep their order."""
        counts = state.counts
        if (m, counts[m]) not in self.kept_set:
            return True
        low, high = 0, len(self.kept)
        while low < high:
            middle = (low + high) // 2
            kept_m, part = self.kept[middle]
            if counts[kept_m] > part:
                low = middle + 1
            else:
                high = middle
        return self.kept[low] == (m, counts[m])

    def _sweep(self, start: State, width: int, rank: Callable[[State], Rank]) -> tuple[float, bool]:
        """One pass: (smallest bound among states cut or left open, whether it got through)."""
        layer = [start]
        cut_s = inf
        total = sum(
            len(line.parts) * (line.last_m - line.first_m + 1) for line in self.instance.lines
        )
        for _ in range(sum(start.counts), total):
            groups: Groups = {}
            born = 0
            for index, state in enumerate(layer):
                if self.limits.over():
                    return min([cut_s, *(s.bound_s for s in layer)]), False
                born += self._open(state, groups)
                layer[index] = _CLOSED
                if born > 2 * width + 100:  # keep memory down while the layer still grows
                    best, cut = _cut(groups, width, rank)
                    cut_s, born = min(cut_s, cut), len(best)
                    groups = _grouped(best)
            layer, cut = _cut(groups, width, rank)
            cut_s = min(cut_s, cut)
            if not layer:
                return cut_s, True
        for state in layer:
            if state.rows[0][-1] < self.found.end_s:
                self.found.end_s = state.rows[0][-1]
                self.found.path = state.path
        return cut_s, True

    def _open(self, state: State, groups: Groups) -> int:
        """Put all children that may still lead to a better end into their groups; how many."""
        born = 0
        instance, found = self.instance, self.found
        if state.bound_s >= found.end_s:
            return born
        deep = self._rounded(self.jackson.bound(state))
        if deep > state.bound_s:
            state.bound_s = deep
            if deep >= found.end_s:
                return born
        self.limits.spent_nodes += 1
        gaps = 1 if self.begin_before_away and state.path is None else self.stretches
        for m in candidates(instance, state):
            if self.kept and not self._in_turn(state, m):
                continue
            for gap in range(state.gap, gaps):
                child = append(instance, self.ahead, state, m, gap)
                if isinstance(child, Dead):
                    if found.dead is None or child.depth >= found.dead.depth:
                        found.dead = child
                    continue
                child.rank_s = self._bound(child)
                child.bound_s = max(state.bound_s, child.rank_s)
                if child.bound_s < found.end_s:
                    if not instance.has_walks:
                        child.place = NOWHERE
                    _insert(groups.setdefault(_key(child), []), child)
                    born += 1
        return born

    def _bound(self, state: State) -> float:
        """A lower bound of the end of every plan that begins with this order."""
        instance, tails = self.instance, self.bounds.tail_s
        from_of, least_of = instance.from_of, instance.least_of
        row = state.rows[0]
        now = row[-1]
        way = instance.way[state.place]
        best = now + state.hands_left_s
        for node, (m, n) in enumerate(state.active, 1):
            ready = row[node] + least_of[m]
            free = now + way[from_of[m + 1]]
            lower = (ready if ready > free else free) + tails[m + 1][n]
            if lower > best:
                best = lower
        for line in instance.lines:
            n = state.counts[line.first_m]
            if n < len(line.parts):
                free = now + way[from_of[line.first_m]]
                lower = max(line.release_s[n], free) + tails[line.first_m][n]
                if lower > best:
                    best = lower
        best = max(best, self._energy(state, now, row))
        return self._rounded(best)

    def _rounded(self, bound_s: float) -> float:
        """The bound raised to the next time at which a last move can end at all."""
        instance = self.instance
        now_s, unit = instance.problem.now_s, instance.unit_s
        if len(instance.gaps) > 1:
            last_s = self.shortest_last_s
            bound_s = instance.first_start_s(bound_s - last_s, last_s) + last_s
        return now_s + unit * ceil((bound_s - now_s) / unit)

    def _energy(self, state: State, now: float, row: list[float]) -> float:
        """The bound from the work that is left for each station's slots."""
        instance, work = self.instance, self.bounds.work_s
        dwell_of, counts = instance.dwell_of, state.counts
        left = [0.0] * (len(instance.capacity) + 1)
        for line in instance.lines:
            for m in range(line.first_m, line.last_m):
                left[dwell_of[m]] += (len(line.parts) - counts[m]) * work[m]
        for node, (m, _) in enumerate(state.active, 1):
            until = row[node] + instance.least_of[m] - now
            left[dwell_of[m]] += (until if until > 0 else 0) + instance.hands_of[m + 1]
        best = now
        for place, slots in enumerate(instance.capacity):
            if left[place]:
                lower = now + ceil(left[place] / max(slots, 1)) + self.bounds.after_s[place]
                if lower > best:
                    best = lower
        return best


Key = tuple[tuple[int, ...], int, int]
Groups = dict[Key, list[State]]
Rank = tuple[float, float, float, float]


def _eager(state: State) -> Rank:
    """The least bound, then the earliest: best where parts cannot block each other."""
    return state.bound_s, state.rank_s, 0, state.rows[0][-1]


def _careful(state: State) -> Rank:
    """The least bound, then the fewest parts under way, which keeps ways out open."""
    return state.bound_s, state.rank_s, len(state.active), state.rows[0][-1]


def _safe(state: State) -> Rank:
    """Hardly more than one part at a time: ends late, but seldom in a dead end."""
    return state.bound_s, len(state.active), 0, state.rows[0][-1]


def _key(state: State) -> Key:
    """States of one key may be compared: the same moves made, in the same stretch and place."""
    return state.counts, state.gap, state.place


def _grouped(states: list[State]) -> Groups:
    groups: Groups = {}
    for state in states:
        groups.setdefault(_key(state), []).append(state)
    return groups


def _cut(groups: Groups, width: int, rank: Callable[[State], Rank]) -> tuple[list[State], float]:
    """The best states, and the smallest bound among the others."""
    layer = [state for group in groups.values() for state in group]
    if len(layer) <= width:
        return layer, inf
    layer.sort(key=rank)
    return layer[:width], min(state.bound_s for state in layer[width:])


def _insert(group: list[State], child: State) -> None:
    """Add the child unless dominated; drop what it dominates."""
    rows = child.rows
    keep = []
    for other in group:
        if _below(other.rows, rows):
            return
        if not _below(rows, other.rows):
            keep.append(other)
    keep.append(child)
    group[:] = keep


def _below(a: list[list[float]], b: list[list[float]]) -> bool:
    """Whether every path of ``a`` is at most as long as in ``b``."""
    if a[0][-1] > b[0][-1]:
        return False
    for row_a, row_b in zip(a, b, strict=True):
        for x, y in zip(row_a, row_b, strict=True):
            if x > y:
                return False
    return True


def _neighbourhoods(instance: Instance, order: list[tuple[int, int]]) -> Iterator[set[int]]:
    """Positions of an order that are freed together: each line, then stretches of moves."""
    if len(instance.lines) > 1:
        for line in instance.lines:
            yield {i for i, (m, _) in enumerate(order) if line.first_m <= m <= line.last_m}
    for begin in range(0, max(1, len(order) - MEND_MOVES // 2), MEND_MOVES // 2):
        yield set(range(begin, begin + MEND_MOVES))


def replay(search: Search, plan: Plan) -> State | None:
    """The complete state that a plan's order leads to from now, None if it leads nowhere."""
    instance = search.instance
    parts = instance.problem.parts
    line_of = {parts[i].name: line for line in instance.lines for i in line.parts}
    made = {part.name: progress(part) for part in parts}
    state = root(instance)
    for move in plan.moves:
        if move.part not in line_of or move.move < made[move.part]:
            continue
        m = line_of[move.part].first_m + move.move
        if m > line_of[move.part].last_m or m not in candidates(instance, state):
            return None
        following = _first_gap(search, state, m)
        if following is None:
            return None
        state = following
    return None if _unmade(instance, state) else state


def _unmade(instance: Instance, state: State) -> bool:
    return any(state.counts[line.last_m] < len(line.parts) for line in instance.lines)


def _first_gap(search: Search, state: State, m: int) -> State | None:
    for gap in range(state.gap, len(search.instance.gaps)):
        child = append(search.instance, search.ahead, state, m, gap)
        if isinstance(child, State):
            return child
    return None


_CLOSED = State((), (), [], NOWHERE, 0, 0, None)
