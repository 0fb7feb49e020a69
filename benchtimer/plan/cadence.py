"""The shortest steady interval for starting identical parts endlessly, proven.

Part 0 makes move i at ``s[i]``, part n at ``s[i] + n T``. Every rule is an arc "s[v] is at
least s[u] + w - k T". For a given T, longest paths give times or a positive cycle; a cycle
of weight W and count K > 0 vanishes at T = W / K, one with K <= 0 never does. Everything else is an
either-or: for every whole q, move j comes after move i of the part q places behind, or before it
(and the same for two stays in one slot). The search orders open branches by the smallest T they
allow, takes the first, and splits the either-or that its times violate most. The first branch
without a violation is optimal, and the remaining open branches prove it.

The problem and its best known line are from L. W. Phillips and P. S. Unger, "Mathematical
programming solution of a hoist scheduling program", AIIE Transactions 8(2), 1976.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush
from itertools import combinations, count

from benchtimer.plan.problem import PlanPart, PlanStation, Problem, Route, Walk
from benchtimer.plan.problem_check import validate
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.values import asdict, dataclass

Arc = tuple[int, int, int, int]
"""(u, v, w, k): s[v] >= s[u] + w - k T."""
Branch = tuple[Arc, ...]


@dataclass(frozen=True, slots=True)
class Cadence:
    """The answer: optimal with ``cadence_s == bound_s``, feasible, or infeasible.

    ``starts_s`` are the starts of one part's moves, counted from its first move.
    ``parts_at_once`` is the largest number of parts between their first and last move.
    """

    status: str
    cadence_s: int | None
    bound_s: int | None
    starts_s: tuple[int, ...] = ()
    parts_at_once: int = 0
    hands_busy: float = 0.0
    """Share of the time in which the hands hold a part."""
    why: tuple[str, ...] = ()
    nodes: int = 0
    elapsed_s: float = 0.0

    def as_dict(self) -> dict[str, object]:
        """The published JSON form."""
        return asdict(self) | {"starts_s": list(self.starts_s), "why": list(self.why)}


def cadence(
    stations: Sequence[PlanStation],
    route: Route,
    walks: Sequence[Walk] = (),
    limits: SearchLimits | None = None,
) -> Cadence:
    """The shortest steady interval for one pair of hands.

    Walks between consecutive moves are used as given, and no detour through a third station may be
    faster. Raises ``ProblemError`` for what contradicts itself.

    Args:
        stations: the stations.
        route: the route of every part.
        walks: times between stations.
        limits: the budget.
    """
    validate(Problem(tuple(stations), (PlanPart("any", route),), tuple(walks)))
    limits = limits or SearchLimits()
    shut = {s.name for s in stations if not s.in_service}
    for dwell in route.dwells:
        if dwell.station in shut:
            why = f"{dwell.station} is out of service"
            return Cadence("infeasible", None, None, why=(why,), elapsed_s=limits.elapsed_s)
    return _Line(stations, route, walks, limits).solve()


@dataclass(slots=True)
class _SlotUse:
    """One use of a slot: from the start of move ``into`` to the end of move ``out``."""

    into: int
    out: int


class _Line:
    def __init__(
        self,
        stations: Sequence[PlanStation],
        route: Route,
        walks: Sequence[Walk],
        limits: SearchLimits,
    ) -> None:
        self.route, self.limits = route, limits
        self.hands = [move.hands_s for move in route.moves]
        seconds = {(w.from_station, w.to_station): w.walk_s for w in walks}
        moves = range(len(self.hands))
        self.way = [
            [seconds.get((route.goes_to(i) or "", route.came_from(j) or ""), 0) for j in moves]
            for i in moves
        ]
        self.holds = {station.name: station.holds for station in stations}
        self.stays: dict[str, list[_SlotUse]] = {}
        for i, dwell in enumerate(route.dwells):
            if i and route.dwells[i - 1].station == dwell.station:
                self.stays[dwell.station][-1].out = i + 1
            else:
                self.stays.setdefault(dwell.station, []).append(_SlotUse(i, i + 1))

    def solve(self) -> Cadence:
        """Best-first over branches by the shortest interval each allows."""
        base = self._base_arcs()
        alone = settle(base, [0] * len(self.hands), self._one_at_a_time())
        if alone is None:
            why = ("a single part cannot keep its own limits",)
            return Cadence("infeasible", None, None, why=why, elapsed_s=self.limits.elapsed_s)
        serial = count()
        heap: list[tuple[int, int, int, Branch, list[int]]] = []
        start = settle(base, [0] * len(self.hands), max(1, self._hands_bound()))
        if start is not None:
            heappush(heap, (start[0], 0, next(serial), (), start[1]))
        while heap:
            period, depth, _, branch, times = heap[0]
            if self.limits.over():
                return self._answer("feasible", alone[0], period, alone[1])
            heappop(heap)
            self.limits.spent_nodes += 1
            choices = self._worst(times, period)
            if choices is None:
                return self._answer("optimal", period, period, times)
            for arc in choices:
                longer = (*branch, arc)
                child = settle((*base, *longer), times, period)
                if child is not None:
                    heappush(heap, (child[0], depth - 1, next(serial), longer, child[1]))
        return self._answer("optimal", alone[0], alone[0], alone[1])

    def _one_at_a_time(self) -> int:
        """An interval long enough for one part after another."""
        total = sum(self.hands) + sum(d.min_s for d in self.route.dwells)
        return total + max((max(row) for row in self.way), default=0) + 1

    def _hands_bound(self) -> int:
        ways = [min(row[j] for row in self.way) for j in range(len(self.hands))]
        return sum(self.hands) + sum(ways)

    def _base_arcs(self) -> tuple[Arc, ...]:
        arcs: list[Arc] = []
        for i, dwell in enumerate(self.route.dwells):
            arcs.append((i, i + 1, self.hands[i] + dwell.min_s, 0))
            if dwell.max_s is not None:
                arcs.append((i + 1, i, -self.hands[i] - dwell.max_s, 0))
        for name, stays in self.stays.items():
            arcs += [self._after(stay, stay, self.holds[name]) for stay in stays]
        # Every move must be over before the same move of the next part begins.
        arcs += [(i, i, self.hands[i] + self.way[i][i], 1) for i in range(len(self.hands))]
        return tuple(arcs)

    def _after(self, first: _SlotUse, then: _SlotUse, places_behind: int) -> Arc:
        """The stay ``then`` of a part ``places_behind`` back begins after ``first`` ends."""
        work = self.hands[first.out] + self.way[first.out][then.into]
        return first.out, then.into, work, places_behind

    def _worst(self, times: list[int], period: int) -> list[Arc] | None:
        """The arcs of the most violated either-or; None if the times keep all."""
        worst, choices = 0, None
        for i, j in combinations(range(len(times)), 2):
            wraps, rest = divmod(times[j] - times[i], period)
            after = self.hands[i] + self.way[i][j]
            before = self.hands[j] + self.way[j][i]
            if rest < after:
                lack = min(after - rest, rest + before)
            elif rest > period - before:
                lack = min(period - rest + after, rest + before - period)
                wraps += 1
            else:
                continue
            if lack > worst:
                worst = lack
                choices = [(i, j, after, -wraps), (j, i, before, wraps)]
        if choices is not None:
            return choices
        overfull = (
            self._overfull(stays, self.holds[name], times, period)
            for name, stays in self.stays.items()
        )
        return next((arcs for arcs in overfull if arcs is not None), None)

    def _overfull(
        self, stays: list[_SlotUse], holds: int, times: list[int], period: int
    ) -> list[Arc] | None:
        """A moment with more stays than slots: two of them must be separated."""
        for one in stays:
            begin = times[one.into]
            inside = []
            for stay in stays:
                begins, ends = times[stay.into], times[stay.out] + self.hands[stay.out]
                # Copies q places behind or ahead that overlap the second in which the part goes in.
                places = (begin - begins) // period
                while ends + places * period > begin:
                    inside.append((stay, places))
                    places -= 1
            if len(inside) > holds:
                return [
                    arc
                    for (a, p), (b, q) in combinations(inside[: holds + 1], 2)
                    for arc in (self._after(a, b, q - p), self._after(b, a, p - q))
                ]
        return None

    def _answer(self, status: str, period: int, bound: int, times: list[int]) -> Cadence:
        starts = tuple(time - times[0] for time in times)
        flow = starts[-1] + self.hands[-1]
        at_once, busy = -(-flow // period), sum(self.hands) / period
        spent = self.limits.spent_nodes, self.limits.elapsed_s
        return Cadence(status, period, bound, starts, at_once, busy, (), *spent)


def settle(arcs: Sequence[Arc], start: Sequence[int], period: int) -> tuple[int, list[int]] | None:
    """The smallest interval from ``period`` on at which the arcs have times, with those times.

    None: a positive cycle that no longer interval can remove. ``start`` are any times to begin
    from.

    Args:
        arcs: limits between the moves of one interval.
        start: times to begin from, in seconds.
        period: the shortest interval to try, in seconds.
    """
    times = list(start)
    while True:
        cycle = _raise(arcs, times, period)
        if cycle is None:
            return period, times
        weight = sum(arc[2] for arc in cycle)
        places = sum(arc[3] for arc in cycle)
        if places <= 0:
            return None
        period = max(period + 1, -(-weight // places))
        times = list(start)


def _raise(arcs: Sequence[Arc], times: list[int], period: int) -> list[Arc] | None:
    """Raise times until all arcs are kept.

    Returns a positive cycle of arcs if that is impossible.
    """
    weighed = [(u, v, w - k * period, arc) for arc in arcs for u, v, w, k in (arc,)]
    cause: list[Arc | None] = [None] * len(times)
    for _ in range(len(times) + 1):
        changed = False
        for u, v, weight, arc in weighed:
            time = times[u] + weight
            if time > times[v]:
                times[v] = time
                cause[v] = arc
                changed = True
        if not changed:
            return None
        cycle = _cycle(cause)
        if cycle is not None:
            return cycle
    return _cycle(cause)


def _cycle(cause: list[Arc | None]) -> list[Arc] | None:
    """A cycle among the causes, if there is one."""
    seen = [0] * len(cause)
    for root in range(len(cause)):
        node, chain = root, []
        while not seen[node] and (arc := cause[node]) is not None:
            seen[node] = root + 1
            chain.append(arc)
            node = arc[0]
        if seen[node] == root + 1:
            return chain[[arc[1] for arc in chain].index(node) :]
    return None
