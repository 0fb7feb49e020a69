"""Difference constraints of a fixed order: earliest and latest times, or the positive cycle.

Once the order of the moves is fixed (and, between away windows, the span of each), every rule says
"this starts at least this long after that". Longest paths give the earliest times; a positive cycle
proves that the order has no times at all, and its edges are the rules that contradict each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from benchtimer.plan.instance import NOWHERE, Instance, entry_s, progress
from benchtimer.values import dataclass

ORIGIN = 0


@dataclass(frozen=True, slots=True)
class Edge:
    """``after`` comes at least ``weight_s`` seconds after ``before``; ``rule`` says why."""

    before: int
    after: int
    weight_s: int
    rule: str


@dataclass(frozen=True, slots=True)
class OrderedMove:
    """One move of an order: which part and move, by which pair of hands."""

    part: int
    move: int
    hands: int = 0


class PositiveCycleError(ValueError):
    """The constraints contradict each other; ``edges`` is the cycle that shows it."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        super().__init__(edges)
        self.edges = tuple(edges)

    def __str__(self) -> str:
        return f"a cycle of {sum(e.weight_s for e in self.edges)} s: " + ", ".join(
            e.rule for e in self.edges
        )


def order_edges(
    instance: Instance,
    turns: Sequence[OrderedMove],
    starts: Sequence[int] | None = None,
    *,
    hours: bool = True,
) -> list[Edge]:
    """All rules of the order; node k+1 is the start of ``turns[k]``, node 0 the zero of time.

    Args:
        instance: the problem in numbers.
        turns: the order.
        starts: times that keep the rules. With several pairs of hands, and where places close, the
            order alone does not show which slot is freed for which part; these times do.
        hours: whether each move stays in the span of the hours that it begins in by these times,
            or in the first span without them.
    """
    builder = _Edges(instance, turns)
    for node, turn in enumerate(turns, 1):
        builder.add_turn(node, turn)
    if hours:
        builder.add_hours(starts)
    builder.add_joins()
    if instance.problem.hands > 1:
        builder.add_slots(starts)
    if starts is not None and any(instance.closed):
        builder.add_closings(starts)
    return builder.edges


class _Edges:
    """Collects the edges of one order, turn by turn."""

    def __init__(self, instance: Instance, turns: Sequence[OrderedMove]) -> None:
        self.instance = instance
        self.turns = turns
        self.edges: list[Edge] = []
        self.node_of = {(turn.part, turn.move): node for node, turn in enumerate(turns, 1)}
        self.last: dict[int, int] = {}

    def add_turn(self, node: int, turn: OrderedMove) -> None:
        """Hands and dwell rules of one move."""
        problem = self.instance.problem
        part = problem.parts[turn.part]
        self._edge(ORIGIN, node, problem.now_s, "you are there")
        self._add_hands(node, turn)
        if turn.move < len(part.route.dwells):
            place = self.instance.places[part.route.dwells[turn.move].station]
            if self.instance.opens[place] > -inf:
                opens_s = int(self.instance.opens[place])
                self._edge(ORIGIN, node, opens_s, "the place is open")
        if turn.move == 0:
            self._edge(ORIGIN, node, part.release_s, "the part is there")
            return
        start, shift = self._entry(turn)
        dwell = part.route.dwells[turn.move - 1]
        self._edge(start, node, shift + dwell.min_s, "min")
        if dwell.max_s is not None:
            self._edge(node, start, -shift - dwell.max_s, "max")

    def add_hours(self, starts: Sequence[int] | None) -> None:
        """Each move stays in its span of the hours."""
        for node, turn in enumerate(self.turns, 1):
            hands_s = self.instance.problem.parts[turn.part].route.moves[turn.move].hands_s
            open_s, close_s = self.instance.gaps[0]
            if starts is not None:
                open_s, close_s = self.instance.span_at(starts[node - 1], hands_s)
            if open_s > self.instance.problem.now_s:
                self._edge(ORIGIN, node, open_s, "you are there")
            if close_s < inf:
                self._edge(node, ORIGIN, hands_s - int(close_s), "no later working time is known")

    def _entry(self, turn: OrderedMove) -> tuple[int, int]:
        """The node where the dwell before a move begins, and the seconds from it."""
        part = self.instance.problem.parts[turn.part]
        before = self.node_of.get((turn.part, turn.move - 1))
        if before is None:
            return ORIGIN, entry_s(self.instance.problem, part) or 0
        return before, part.route.moves[turn.move - 1].hands_s

    def _add_hands(self, node: int, turn: OrderedMove) -> None:
        instance = self.instance
        part = instance.problem.parts[turn.part]
        here = part.route.came_from(turn.move)
        place = NOWHERE if here is None else instance.places[here]
        if turn.hands in self.last:
            before = self.last[turn.hands]
            last = self.turns[before - 1]
            route = instance.problem.parts[last.part].route
            there = route.goes_to(last.move)
            walk = instance.walk[NOWHERE if there is None else instance.places[there]][place]
            step_s = route.moves[last.move].hands_s + walk
            emptied = route.came_from(last.move)
            if emptied == part.route.goes_to(turn.move) and self._holds_one(emptied):
                # A slot is not emptied and filled in one second.
                step_s = max(step_s, 1 - part.route.moves[turn.move].hands_s)
            self._edge(before, node, step_s, "one pair of hands")
        else:
            free_s, at = hands_now(instance)[turn.hands]
            self._edge(ORIGIN, node, free_s + instance.walk[at][place], "the hands are busy now")
        self.last[turn.hands] = node

    def _holds_one(self, station: str | None) -> bool:
        return station is not None and self.instance.capacity[self.instance.places[station]] == 1

    def add_joins(self) -> None:
        """A part with joins begins after the last moves of the parts it waits for."""
        parts = self.instance.problem.parts
        index = {part.name: i for i, part in enumerate(parts)}
        for node, turn in enumerate(self.turns, 1):
            for name in parts[turn.part].after if turn.move == 0 else ():
                other = parts[index[name]]
                last = self.node_of.get((index[name], len(other.route.moves) - 1))
                hands_s = other.route.moves[-1].hands_s
                if last is not None:
                    self._edge(last, node, hands_s, "the parts it waits for are done")
                elif other.moving_s is not None and not other.is_done:
                    ends_s = self.instance.problem.now_s + other.moving_s
                    self._edge(ORIGIN, node, ends_s, "the parts it waits for are done")

    def add_slots(self, starts: Sequence[int] | None) -> None:
        """With several pairs of hands, the order alone does not keep a full place closed."""
        times = range(len(self.turns)) if starts is None else starts
        route_of = [self.instance.problem.parts[turn.part].route for turn in self.turns]
        hands = [r.moves[t.move].hands_s for r, t in zip(route_of, self.turns, strict=True)]
        ends = list(times) if starts is None else [a + b for a, b in zip(times, hands, strict=True)]
        for place, name in enumerate(self.instance.places):
            leaves = [n for n, (r, t) in enumerate(zip(route_of, self.turns, strict=True))
                      if t.move and r.dwells[t.move - 1].station == name]  # fmt: skip
            brings = [n for n, (r, t) in enumerate(zip(route_of, self.turns, strict=True))
                      if t.move < len(r.dwells) and r.dwells[t.move].station == name]  # fmt: skip
            leaves.sort(key=times.__getitem__)
            there = len(self.turns)  # stands for a part that is in its place or on its way
            entries = [(-1 if starts is None else entry, there, 1 - entry)
                       for entry in entries_of(self.instance, place)]  # fmt: skip
            entries += [(ends[n], n, 1 - hands[n]) for n in brings]
            full = self.instance.capacity[place]
            for leave, (_, n, weight_s) in zip(leaves, sorted(entries)[full:], strict=False):
                # Emptying starts before bringing ends.
                after = ORIGIN if n == there else n + 1
                self._edge(leave + 1, after, weight_s, "the slot is empty")

    def add_closings(self, starts: Sequence[int]) -> None:
        """Each stay remains between the same two closings of its place as now."""
        instance = self.instance
        for node, turn in enumerate(self.turns, 1):
            if not turn.move:
                continue
            dwell = instance.problem.parts[turn.part].route.dwells[turn.move - 1]
            closed = instance.closed[instance.places[dwell.station]]
            out_s = starts[node - 1]
            start, _ = self._entry(turn)
            opens = max((to_s for _, to_s in closed if to_s <= out_s), default=None)
            closes = min((from_s for from_s, _ in closed if from_s >= out_s), default=None)
            if opens is not None and start != ORIGIN:
                self._edge(ORIGIN, start, opens, "the place is open")
            if closes is not None:
                self._edge(node, ORIGIN, -closes, "the place closes")

    def _edge(self, before: int, after: int, weight_s: int, rule: str) -> None:
        self.edges.append(Edge(before, after, weight_s, rule))


def entries_of(instance: Instance, place: int) -> list[int]:
    """The entries of the planned parts that are in a place now or on their way to it, in order."""
    found = []
    for part in instance.problem.parts:
        entered = None if part.held else entry_s(instance.problem, part)
        if entered is not None:
            station = part.route.dwells[progress(part) - 1].station
            found += [entered] if instance.places[station] == place else []
    return sorted(found)


def hands_now(instance: Instance) -> list[tuple[int, int]]:
    """(free from, place) of each pair of hands at the start."""
    problem = instance.problem
    busy = []
    for part in problem.parts:
        if part.moving_s is not None and not part.is_done:
            name = part.route.goes_to(part.moves_made)
            place = NOWHERE if name is None else instance.places[name]
            busy.append((problem.now_s + part.moving_s, place))
    at = NOWHERE if problem.hands_at is None else instance.places[problem.hands_at]
    rest = [(problem.now_s, at if problem.hands == 1 else NOWHERE)]
    return busy + rest * (problem.hands - len(busy))


def earliest(count: int, edges: Sequence[Edge]) -> list[int]:
    """Earliest times of ``count`` nodes with node 0 at zero; ``PositiveCycleError`` if none exist.

    Bellman-Ford on longest paths: every node must be reachable from node 0.
    """
    times: list[float] = [-inf] * count
    times[ORIGIN] = 0
    cause: list[Edge | None] = [None] * count
    for _ in range(count + 1):
        changed = False
        for edge in edges:
            time = times[edge.before] + edge.weight_s
            if time > times[edge.after]:
                times[edge.after] = time
                cause[edge.after] = edge
                changed = True
        if cause[ORIGIN] is not None:
            raise PositiveCycleError(_cycle(cause, ORIGIN))
        if not changed:
            return [int(t) for t in times]
    still = next(e for e in edges if times[e.before] + e.weight_s > times[e.after])
    cause[still.after] = still  # the cycle decides what would move it; the earlier reason did not
    raise PositiveCycleError(_cycle(cause, still.after))


def latest(count: int, edges: Sequence[Edge], node: int) -> float:
    """The latest time one node can have; inf if nothing limits it.

    The edges must have times at all (``earliest`` succeeds).

    Args:
        count: how many nodes.
        edges: hard limits between nodes.
        node: the node.
    """
    far: list[float] = [-inf] * count
    far[node] = 0
    changed, rounds = True, 0
    while changed:
        changed, rounds = False, rounds + 1
        if rounds > count + 1:
            raise PositiveCycleError(edges)
        for edge in edges:
            time = far[edge.before] + edge.weight_s
            if time > far[edge.after]:
                far[edge.after] = time
                changed = True
    return -far[ORIGIN]


def _cycle(cause: list[Edge | None], node: int) -> list[Edge]:
    """The cycle that the causes of a node lead into."""
    seen: dict[int, int] = {}
    chain: list[Edge] = []
    while node not in seen:
        seen[node] = len(chain)
        edge = cause[node]
        if edge is None:
            return chain
        chain.append(edge)
        node = edge.before
    return chain[seen[node] :][::-1]
