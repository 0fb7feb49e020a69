"""Earliest times of a fixed order, with the hours as jumps.

Every rule of an order says how long after another move a move can start. A move
that does not fit before closing jumps to the next opening. Both only ever raise times, so raising
them until nothing changes gives the earliest time of every move at once; the span of the hours for
each move is a result, not a choice.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from math import inf

from benchtimer.plan.instance import Instance
from benchtimer.plan.network import ORIGIN, Edge, OrderedMove, order_edges

MOST_ROUNDS = 40
"""An order whose moves are raised more often than this, on average, is abandoned."""


def earliest_starts(
    instance: Instance, turns: Sequence[OrderedMove], starts: Sequence[int] | None = None
) -> list[int] | None:
    """The earliest starts of an order within the hours; None if there are none.

    Args:
        instance: the problem in numbers.
        turns: the order.
        starts: times that show which slot is freed for which part (see ``order_edges``).
    """
    return raised(instance, turns, order_edges(instance, turns, starts, hours=False))


def raised(
    instance: Instance, turns: Sequence[OrderedMove], edges: Sequence[Edge]
) -> list[int] | None:
    """The earliest times that keep the edges and the hours; see ``earliest_starts``.

    Args:
        instance: the problem.
        turns: the moves in order.
        edges: hard limits between the moves.
    """
    leaving: list[list[tuple[int, int]]] = [[] for _ in range(len(turns) + 1)]
    for edge in edges:
        leaving[edge.before].append((edge.after, edge.weight_s))
    parts = instance.problem.parts
    hands_s = [0, *(parts[t.part].route.moves[t.move].hands_s for t in turns)]
    times: list[float] = [-inf] * (len(turns) + 1)
    times[ORIGIN] = 0
    queue, queued = deque([ORIGIN]), [False] * len(times)
    left = MOST_ROUNDS * len(times)
    while queue:
        node = queue.popleft()
        queued[node] = False
        for after, weight_s in leaving[node]:
            time = times[node] + weight_s
            if time <= times[after]:
                continue
            if after == ORIGIN:
                return None
            times[after] = instance.first_start_s(time, hands_s[after])
            if times[after] == inf:
                return None
            left -= 1
            if left < 0:
                return None
            if not queued[after]:
                queued[after] = True
                queue.append(after)
    return [int(time) for time in times[1:]]
