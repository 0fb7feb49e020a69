"""Which pair of hands makes the next move, where there are several.

The search chooses who makes the next move as soon as the last one is known. Only those who can be
free first are tried.
"""

from __future__ import annotations

from math import inf

from benchtimer.plan.instance import Instance
from benchtimer.plan.search_state import (
    Dead,
    Other,
    SearchState,
    close,
    dead,
    late_node,
    longest_out,
)


def handed_over(instance: Instance, state: SearchState) -> list[SearchState | Dead]:
    """The states after a state's last move, by the pair of hands that makes the next one.

    Only those that are free first by some times are needed. If that move crowds a place that
    another pair is bringing a part to, either part may be the one that gets there last.
    """
    if instance.is_alone or state.path is None:
        return [state]
    m = state.path[1]
    mover = (m, state.counts[m] - 1)
    last = Other(state.pair, instance.hands_of[m], mover, mover in instance.awaited)
    pairs = list(range(len(state.others)))
    if all(other.hands_s > last.hands_s for other in state.others):
        pairs.append(len(pairs))
    found = [_next_by(instance, state, last, k) for k in pairs]
    if state.crowding == mover:
        place = instance.dwell_of[m]
        for other in state.others:
            if other.move in state.active and instance.dwell_of[other.move[0]] == place:
                state.crowding, state.path = other.move, (*state.path[:4], other.move)
                found += [_next_by(instance, state, last, k) for k in pairs]
    return found


def _next_by(instance: Instance, state: SearchState, last: Other, k: int) -> SearchState | Dead:
    """The state if pair ``k`` of the others, or behind them the last one, makes the next move.

    Args:
        instance: the problem.
        state: the state in which the last node is the end of its last move.
        last: the pair of hands that makes that move.
        k: the pair that goes on.
    """
    first = len(state.active) + 1
    into = [max(row[-1] - last.hands_s, row[first + k]) for row in state.rows]
    edges = [
        (node, -instance.most_of[m])
        for node, (m, _) in enumerate(state.active, 1)
        if instance.most_of[m] < inf
    ]
    if state.crowding is not None:
        edges.append((1 + state.active.index(state.crowding), 1.0))
    late = late_node(into, edges)
    if late is not None:
        return dead(state, *last.move, into[0], late)
    rows = close(state.rows, into, longest_out(state.rows, edges), bool(edges))
    for row, next_s in zip(rows, into, strict=True):
        row[first + k] = row[-1]
        row[first:] = [max(free_s, next_s) for free_s in row[first:-1]] + [next_s]
    pairs = [*state.others, last]
    pair, pairs[k] = pairs[k].pair, last
    return SearchState(
        state.counts, state.active, rows, state.place, state.gap, state.hands_left_s,
        state.path, pair, tuple(pairs[:-1]), state.crowding,
    )  # fmt: skip
