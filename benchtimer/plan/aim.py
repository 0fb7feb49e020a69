"""Times for a fixed order and a fixed end with the least total cost.

The result is exact: for the given order (and the spans of the hours it uses), the times have
the least possible total cost among all times that keep every rule and end no later than the given
end. Another order with the same end could do better; ``improve`` looks for one. The problem is the
dual of a minimum-cost flow. Each soft constraint is an arc whose capacity is its cost per second.
Arcs are added one by one while the times remain a proof of optimality: a violated arc is either
satisfied by moving times within their slack, or paid for by flow around the tightest cycle it
closes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from heapq import heappop, heappush
from math import inf

from benchtimer.plan.network import Edge
from benchtimer.values import dataclass


@dataclass(slots=True)
class _Arc:
    """Time of ``head`` is at least that of ``tail`` plus ``weight`` while ``room`` is left."""

    tail: int
    head: int
    weight: int
    room: float
    back: _Arc | None = None


class _Flow:
    def __init__(self, times: list[int]) -> None:
        self.times = times
        self.leaving: list[list[_Arc]] = [[] for _ in times]

    def add(self, tail: int, head: int, weight: int, room: float) -> _Arc:
        arc = _Arc(tail, head, weight, room)
        arc.back = _Arc(head, tail, -weight, 0, arc)
        self.leaving[tail].append(arc)
        self.leaving[head].append(arc.back)
        return arc

    def satisfy(self, arc: _Arc) -> None:
        """Add a new arc: raise times within their slack, or pay for what is missing."""
        times = self.times
        while arc.room > 0:
            need = times[arc.tail] + arc.weight - times[arc.head]
            if need <= 0:
                return
            reach, via = self._slacks(arc.head, arc.tail, need)
            step = min(need, reach.get(arc.tail, inf))
            for node, slack in reach.items():
                if slack < step:
                    times[node] += int(step - slack)
            if step < need:
                path, node = [arc], arc.tail
                while node != arc.head:
                    path.append(via[node])
                    node = via[node].tail
                units = min(used.room for used in path)
                for used in path:
                    _push(used, units)

    def _slacks(
        self, source: int, target: int, limit: float
    ) -> tuple[dict[int, float], dict[int, _Arc]]:
        """How far the source can rise before each node must, up to the limit (Dijkstra).

        The target is reached but not left: the violated new arc is the one that leaves it.
        """
        times, reach, via = self.times, {source: 0.0}, {}
        heap = [(0.0, source)]
        while heap:
            slack, node = heappop(heap)
            if slack > reach[node]:
                continue
            if node == target:
                break
            for arc in self.leaving[node]:
                if arc.room > 0:
                    far = slack + times[arc.head] - times[node] - arc.weight
                    if far < reach.get(arc.head, limit):
                        reach[arc.head] = far
                        via[arc.head] = arc
                        heappush(heap, (far, arc.head))
        return reach, via


def _push(arc: _Arc, units: float) -> None:
    arc.room -= units
    if arc.back is not None:
        arc.back.room += units


Soft = tuple[int, int, int, int]
"""(a, b, weight, cost): time b should be this many seconds after time a; each missing second costs.
"""


def closest(
    times: Sequence[int],
    edges: Sequence[Edge],
    soft: Sequence[Soft],
    over: Callable[[], bool] = lambda: False,
) -> list[int]:
    """Times that keep all edges with the least total cost of the soft arcs.

    ``times`` must already keep the edges. Node 0 stays at zero. ``over`` is asked before each soft
    arc whether to leave the rest as they are; the edges are always kept.

    Args:
        times: times that keep the edges, in seconds.
        edges: hard limits between nodes.
        soft: arcs with a cost.
        over: whether to stop; asked before each soft arc.
    """
    flow = _Flow(list(times))
    for edge in edges:
        flow.add(edge.before, edge.after, edge.weight_s, inf)
    for a, b, weight, cost in soft:
        if over():
            break
        flow.satisfy(flow.add(a, b, weight, cost))
    return [time - flow.times[0] for time in flow.times]
