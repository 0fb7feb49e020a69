"""Exact, anytime search for the order of moves with the earliest end, for one pair of hands.

Orders grow by one move at a time, so all states of a layer have made equally many moves.
A layer keeps one list per set of counts; a state whose matrix is nowhere below another's in the
same list can't lead to anything better and is dropped. Of each layer only the best ``width`` states
are kept, and the width grows from pass to pass. The smallest bound among the states cut off is a
proven lower bound for the whole; a pass that cuts none proves that the plan is optimal, or that
there is none.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from math import ceil, inf

from benchtimer.plan.bounds import Bounds
from benchtimer.plan.hours_ahead import Due, HoursAhead
from benchtimer.plan.instance import NOWHERE, Instance
from benchtimer.plan.jackson import Jackson
from benchtimer.plan.lookahead import Lookahead
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.search_state import Dead, Path, SearchState, append, candidates, forget, root
from benchtimer.values import dataclass

NARROW, WIDE = (1, 4, 16, 64), (256, 8192)
"""Widths of the passes: narrow ones for a plan, wide ones for the proof. The last one keeps the
memory for 24 parts below 200 MB.
"""


@dataclass(slots=True)
class Found:
    """The result of a search; ``end_s`` inf: no order found; ``closed``: nothing is open."""

    end_s: float = inf
    path: Path = None
    bound_s: float = -inf
    closed: bool = False
    dead: Dead | None = None


class Search:
    """One search of one instance; ``run`` can be asked to stop at the first plan."""

    def __init__(self, instance: Instance, limits: SearchLimits) -> None:
        self.instance = instance
        self.limits = limits
        self.bounds = Bounds(instance)
        self.ahead = Lookahead(instance)
        self.jackson = Jackson(instance, self.bounds)
        self.shortest_last_s = min(
            (instance.hands_of[line.last_m] for line in instance.lines), default=0
        )
        self.hours = HoursAhead(instance) if len(instance.gaps) > 1 else None
        self.due: Due | None = None
        self.begin_before_away = False
        """Whether the very first move must come before the next away window."""
        self.stretches = len(instance.gaps)
        """How many of the spans between away windows can be used."""
        self.found = Found()
        self.passes: Generator[None] | None = None
        """Passes cut short by the limits."""

    def run(
        self,
        first_plan: bool = False,
        known_s: float = inf,
        widths: Sequence[int] = NARROW + WIDE,
    ) -> Found:
        """Search until proved or out of budget; a further call goes on where the last one stopped.

        Args:
            first_plan: stop at the first plan.
            known_s: the end of a known plan: look only for better ones.
            widths: of the passes, unless one was cut short.
        """
        found = self.found
        if known_s < found.end_s:
            found.end_s, found.path = known_s, None
        if self.passes is None:
            self.passes = self._passes(first_plan, widths)
        if next(self.passes, self) is self:
            self.passes = None
        found.closed = found.bound_s >= found.end_s or found.bound_s == inf
        return found

    def _passes(self, first_plan: bool, widths: Sequence[int]) -> Generator[None]:
        """All passes; yields whenever the limits are over."""
        found = self.found
        start = root(self.instance)
        start.bound_s = self._bound(start)
        found.bound_s = max(found.bound_s, start.bound_s)
        if self.hours is not None and found.end_s < inf:
            found.bound_s = self._sure_bound(start)
        rank = _eager if len(self.instance.lines) == 1 else _careful
        if self.hours is not None and found.end_s < inf:
            rank = _hurried
        for width in widths:
            if found.end_s <= found.bound_s:
                break
            cut_s = yield from self._sweep(start, width, rank)
            if width == 1 and found.end_s == inf and cut_s < inf:
                yield from self._sweep(start, width, _safe)
            found.bound_s = max(found.bound_s, min(cut_s, found.end_s))
            if cut_s == inf or (first_plan and found.path is not None):
                break

    def _sweep(
        self, start: SearchState, width: int, rank: Callable[[SearchState], Rank]
    ) -> Generator[None, None, float]:
        """One pass: the smallest bound among the states cut; yields when the limits are over."""
        layer = [start]
        cut_s = inf
        total = sum(
            len(line.parts) * (line.last_m - line.first_m + 1) for line in self.instance.lines
        )
        for _ in range(sum(start.counts), total):
            groups: Groups = {}
            born = 0
            for index, state in enumerate(layer):
                while self.limits.over():
                    self._note(cut_s, layer[index:], groups)
                    yield
                born += self._open(state, groups)
                layer[index] = _CLOSED
                if born > 2 * width + 100:  # limit memory while the layer is still growing
                    best, cut = _cut(groups, width, rank)
                    cut_s, born = min(cut_s, cut), len(best)
                    groups = _grouped(best)
            layer, cut = _cut(groups, width, rank)
            cut_s = min(cut_s, cut)
            if not layer:
                return cut_s
        for state in layer:
            if state.rows[0][-1] < self.found.end_s:
                self.found.end_s = state.rows[0][-1]
                self.found.path = state.path
        return cut_s

    def _note(self, cut_s: float, layer: list[SearchState], groups: Groups) -> None:
        """Raise the bound to the smallest one of the states that are cut or open."""
        bounds = [state.bound_s for states in (layer, *groups.values()) for state in states]
        lowest = min([cut_s, self.found.end_s, *bounds])
        self.found.bound_s = max(self.found.bound_s, lowest)

    def _open(self, state: SearchState, groups: Groups) -> int:
        """Put all children that can still lead to a better end into their groups.

        Returns how many.
        """
        born = 0
        instance, found = self.instance, self.found
        if state.bound_s >= found.end_s:
            return born
        due = self._due()
        late = -inf
        if due is not None:
            late = self.jackson.bound(state, due.tails, due.end_s)
            if late > due.end_s:
                return born
        elif (deep := self._rounded(self.jackson.bound(state))) > state.bound_s:
            state.bound_s = deep
            if deep >= found.end_s:
                return born
        self.limits.spend()
        gaps = 1 if self.begin_before_away and state.path is None else self.stretches
        for m in candidates(instance, state):
            first_s, last_s = (-inf, inf) if due is None else self._starts(state, m, due)
            for gap in range(state.gap, gaps if first_s <= last_s else 0):
                opens_s, closes_s = instance.gaps[gap]
                if opens_s > last_s:
                    break
                if closes_s < first_s + instance.hands_of[m]:
                    continue
                child = append(instance, self.ahead, state, m, gap)
                if isinstance(child, Dead):
                    if found.dead is None or child.depth >= found.dead.depth:
                        found.dead = child
                    continue
                child.rank_s = self._bound(child)
                if self.hours is not None and child.rank_s < found.end_s:
                    ahead_s = self.hours.bound(child)
                    if ahead_s == inf:
                        continue
                    child.rank_s = max(child.rank_s, self._rounded(ahead_s))
                child.bound_s = max(state.bound_s, child.rank_s)
                if child.bound_s < found.end_s:
                    if due is not None:
                        child.rank_s = max(late, due.end_with(instance, child))
                        if child.rank_s > due.end_s:
                            continue
                    if due is None:
                        forget(instance, self.bounds.tail_s, child, found.end_s)
                    else:
                        forget(instance, due.tails, child, due.end_s)
                    if not instance.has_walks:
                        child.place = NOWHERE
                    _insert(groups.setdefault(_key(child), []), child)
                    born += 1
        return born

    def _starts(self, state: SearchState, m: int, due: Due) -> tuple[float, float]:
        """The earliest and latest start of the next part's move ``m`` that is of any use.

        It is quick, and around hours most children are dead by it.

        Args:
            state: the order so far.
            m: the move's number.
            due: when each move must begin to beat the best plan.
        """
        instance, rows, n = self.instance, state.rows, state.counts[m]
        hands_s, way = instance.hands_of[m], instance.way[instance.to_of[m]]
        first_s = rows[0][-1] + instance.walk[state.place][instance.from_of[m]]
        first_s = max(first_s, instance.opens_of[m] - hands_s)
        last_s = inf
        for node, (other, k) in enumerate(state.active, 1):
            after = other + 1
            late_s = instance.most_of[other] - rows[node][0]
            late_s = min(late_s, due.end_s - due.tails[after][k])
            if after == m and k == n:
                first_s = max(first_s, rows[0][node] + instance.least_of[other])
            else:
                late_s -= hands_s + way[instance.from_of[after]]
            last_s = min(last_s, late_s)
        for line in instance.lines:
            k = state.counts[line.first_m]
            if k < len(line.parts):
                late_s = due.end_s - due.tails[line.first_m][k]
                last_s = min(last_s, late_s if line.first_m == m else late_s - hands_s)
                if line.first_m == m:
                    first_s = max(first_s, line.release_s[k])
        return first_s, last_s

    def _sure_bound(self, start: SearchState) -> float:
        """The bound from trial ends: an end that leaves too little time for all is too early."""
        low, high = self.found.bound_s, self.found.end_s
        jackson, instance = self.jackson, self.instance
        while high - low > instance.unit_s:
            middle = (low + high) // 2
            due = Due(instance, middle)
            if max(due.end_with(instance, start), jackson.bound(start, due.tails)) > middle:
                low = self._rounded(middle + 1)
            else:
                high = middle
        return min(low, self.found.end_s)

    def _due(self) -> Due | None:
        """When each move must begin to beat the best plan, around the hours."""
        if self.hours is None or self.found.end_s == inf:
            return None
        end_s = self.found.end_s - self.instance.unit_s
        if self.due is None or self.due.end_s != end_s:
            self.due = Due(self.instance, end_s)
        return self.due

    def _bound(self, state: SearchState) -> float:
        """A lower bound on the end of every plan that begins with this order."""
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
        """The bound raised to the next time at which a last move can end."""
        instance = self.instance
        now_s, unit = instance.problem.now_s, instance.unit_s
        if len(instance.gaps) > 1:
            last_s = self.shortest_last_s
            bound_s = instance.first_start_s(bound_s - last_s, last_s) + last_s
        return now_s + unit * ceil((bound_s - now_s) / unit)

    def _energy(self, state: SearchState, now: float, row: list[float]) -> float:
        """The bound from the remaining work for each station's slots."""
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
Groups = dict[Key, list[SearchState]]
Rank = tuple[float, float, float, float]


def _eager(state: SearchState) -> Rank:
    """The smallest bound, then the earliest: best if parts can't block each other."""
    return state.bound_s, state.rank_s, 0, state.rows[0][-1]


def _careful(state: SearchState) -> Rank:
    """The smallest bound, then the fewest parts in progress, which keeps options open."""
    return state.bound_s, len(state.active), state.rows[0][-1], 0


def _hurried(state: SearchState) -> Rank:
    """The most time to spare until all must end, around the hours."""
    return state.rank_s, state.bound_s, len(state.active), state.rows[0][-1]


def _safe(state: SearchState) -> Rank:
    """Little more than one part at a time: ends late, but rarely hits a dead end."""
    return state.bound_s, len(state.active), 0, state.rows[0][-1]


def _key(state: SearchState) -> Key:
    """States with the same key can be compared: the same moves made, in the same span and place."""
    return state.counts, state.gap, state.place


def _grouped(states: list[SearchState]) -> Groups:
    groups: Groups = {}
    for state in states:
        groups.setdefault(_key(state), []).append(state)
    return groups


def _cut(
    groups: Groups, width: int, rank: Callable[[SearchState], Rank]
) -> tuple[list[SearchState], float]:
    """The best states, and the smallest bound among the others."""
    layer = [state for group in groups.values() for state in group]
    if len(layer) <= width:
        return layer, inf
    layer.sort(key=rank)
    return layer[:width], min(state.bound_s for state in layer[width:])


def _insert(group: list[SearchState], child: SearchState) -> None:
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
    """Whether no path of ``a`` is longer than in ``b``."""
    if a[0][-1] > b[0][-1]:
        return False
    for row_a, row_b in zip(a, b, strict=True):
        for x, y in zip(row_a, row_b, strict=True):
            if x > y:
                return False
    return True


_CLOSED = SearchState((), (), [], NOWHERE, 0, 0, None)
