"""A partial plan: an order of moves so far, and everything in it that matters for the rest.

With one pair of hands the order of the moves decides everything else, so a state is an
order. What still matters for the rest of the plan is a closed matrix of longest paths
(``rows[i][j]``: node j comes at least this many seconds after node i) over

    node 0              the origin of time
    nodes 1..k          the entry of each part that is in a station now, by line and place
    node k+1 (last)     the moment the hands are free; no path from it counts, so it has no row

Appending a move adds one node with edges from what must precede it and to what must not be
too late after it, closes the matrix, and drops the nodes that no longer matter. A positive cycle
means that the order has no valid times at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from benchtimer.plan.instance import NOWHERE, EqualParts, Instance, entry_s
from benchtimer.plan.lookahead import Lookahead
from benchtimer.values import dataclass

Path = tuple["Path", int, int] | None
"""The order so far, newest first: (older, move, gap)."""


@dataclass(slots=True)
class SearchState:
    """One partial order. ``active`` names the parts at nodes 1..k as (move, part of line)."""

    counts: tuple[int, ...]
    active: tuple[tuple[int, int], ...]
    rows: list[list[float]]
    place: int
    gap: int
    hands_left_s: int
    path: Path
    bound_s: float = 0.0
    rank_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Dead:
    """Why a move could not be appended: it must come, but by then that deadline has passed."""

    move: int
    part: int
    earliest_s: float
    late_m: int
    late_part: int
    depth: int


def root(instance: Instance) -> SearchState:
    """The state of the bench now, closed; its matrix has no positive cycle."""
    problem = instance.problem
    counts = instance.next_counts()
    active = active_parts(instance, counts)
    parts = problem.parts
    entries = [
        entry_s(problem, parts[instance.lines[instance.line_of[m]].parts[n]]) or 0
        for m, n in active
    ]
    moving = [p for p in problem.parts if p.moving_s is not None and not p.is_done]
    free_s, place = problem.now_s, NOWHERE
    if moving and problem.hands == 1:
        part = moving[0]
        free_s = problem.now_s + (part.moving_s or 0)
        name = part.route.goes_to(part.moves_made)
        place = NOWHERE if name is None else instance.places[name]
    elif problem.hands_at is not None:
        place = instance.places[problem.hands_at]
    times = [0, *entries, free_s]
    rows: list[list[float]] = [[float(b - a) for b in times] for a in times[:-1]]
    left = sum(
        instance.hands_of[m] * (len(line.parts) - counts[m])
        for line in instance.lines
        for m in range(line.first_m, line.last_m + 1)
    )
    return SearchState(tuple(counts), active, rows, place, 0, left, None)


def active_parts(instance: Instance, counts: list[int]) -> tuple[tuple[int, int], ...]:
    """The parts in a station as (move made last, part of line), by line and place."""
    active = []
    for line in instance.lines:
        for n in range(counts[line.last_m], counts[line.first_m]):
            last = max(m for m in range(line.first_m, line.last_m) if counts[m] > n)
            active.append((last, n))
    return tuple(active)


def candidates(instance: Instance, state: SearchState) -> list[int]:
    """Moves that could come next by route, line order and free slots."""
    counts = state.counts
    inside = [0] * (len(instance.capacity) + 1)
    for m, _ in state.active:
        inside[instance.dwell_of[m]] += 1
    found = []
    for line in instance.lines:
        waiting = len(line.parts) if _joined(counts, line) else 0
        for m in range(line.first_m, line.last_m + 1):
            made = counts[m]
            if made < waiting:
                place = instance.dwell_of[m]
                own = m > line.first_m and instance.dwell_of[m - 1] == place
                if place == NOWHERE or inside[place] - own < instance.capacity[place]:
                    found.append(m)
            waiting = made
    return found


def _joined(counts: tuple[int, ...], line: EqualParts) -> bool:
    """Whether the parts that a line's parts wait for are done."""
    return all(counts[m] > n for m, n in line.awaited)


def _positions(instance: Instance, state: SearchState, m: int) -> tuple[int, int, int]:
    """(part of line, node of its present entry or 0, node its next entry will have)."""
    n = state.counts[m]
    old = new = 0
    for index, (active_m, active_n) in enumerate(state.active, 1):
        if active_n == n and active_m == m - 1 and m > instance.first_of[m]:
            old = new = index
            break
        if instance.line_of[active_m] <= instance.line_of[m]:
            new = index
    return n, old, (new if old else new + 1)


def append(
    instance: Instance, ahead: Lookahead, state: SearchState, m: int, gap: int
) -> SearchState | Dead:
    """The state after move ``m`` of its line's next part, begun in gap number ``gap``.

    Args:
        instance: the problem.
        ahead: bounds on what follows.
        state: the state before.
        m: the move's number.
        gap: the number of the span of hours it begins in.
    """
    rows = state.rows
    n, old, new = _positions(instance, state, m)
    done = m == instance.last_of[m]
    into = _earliest(instance, state, m, n, old, gap)
    close_s = instance.gaps[gap][1]
    if instance.alive is not None:
        hands_s = instance.hands_of[m]
        start_s = instance.alive_from(m, into[0] - hands_s)
        close_s = instance.alive_until(m, close_s - hands_s) + hands_s
        if start_s + hands_s > close_s:
            return _dead(state, m, n, into[0] - hands_s, 0)
        into = [max(a, r[0] + start_s + hands_s) for a, r in zip(into, state.rows, strict=True)]
    edges = _deadlines(instance, state, m, old, close_s)
    if not done and not ahead.is_idle:
        into = _queue(instance, ahead, state, m, n, old, into, edges)
    late = _late_node(into, edges)
    out = longest_out(rows, edges) if late is None else []
    if late is None and not done and edges:
        into, out, late = _settle(ahead, state, m, old, into, out, edges)
    if late is not None:
        return _dead(state, m, n, into[0] - instance.hands_of[m], late)
    grown = close(rows, into, out, bool(edges))
    _place_node(grown, into, out, old, 0 if done else new)
    left = state.active[: old - 1] + state.active[old:] if old else state.active
    active = left if done else (*left[: new - 1], (m, n), *left[new - 1 :])
    return SearchState(
        (*state.counts[:m], n + 1, *state.counts[m + 1 :]),
        active,
        grown,
        instance.to_of[m],
        gap,
        state.hands_left_s - instance.hands_of[m],
        (state.path, m, gap),
    )


def forget(
    instance: Instance, tails: Sequence[Sequence[float]], state: SearchState, end_s: float
) -> None:
    """Drop dwells whose max can't matter, so more states can be compared.

    Nothing can push such an entry later, so no path from it counts. A part that may leave before
    the hands are free counts as if it could leave just then.

    Args:
        instance: the problem in numbers.
        tails: for each move and part, the shortest time from its start to the end of all.
        state: loses what does not matter.
        end_s: only ends before this count, so a part that must leave within its max to end by then
            needs no tracking.
    """
    rows = state.rows
    for node, (m, n) in enumerate(state.active, 1):
        row = rows[node]
        if row[node] == 0:
            if end_s - tails[m + 1][n] > rows[0][node] + instance.most_of[m]:
                continue
            rows[node] = [-inf] * len(row)
        least_s = instance.least_of[m]
        for row in rows:
            if row[-1] - least_s > row[node]:
                row[node] = row[-1] - least_s


def _earliest(
    instance: Instance, state: SearchState, m: int, n: int, old: int, gap: int
) -> list[float]:
    """Longest paths from every node to the end of the move: dwell, hands, release, span."""
    rows = state.rows
    hands_s = instance.hands_of[m]
    free = hands_s + instance.walk[state.place][instance.from_of[m]]
    if old:
        stay = hands_s + instance.least_of[m - 1]
        into = [max(r[old] + stay, r[-1] + free) for r in rows]
    else:
        lower = instance.lines[instance.line_of[m]].release_s[n] + hands_s
        into = [max(r[0] + lower, r[-1] + free) for r in rows]
    open_s = instance.gaps[gap][0]
    if open_s > instance.problem.now_s:
        lower = open_s + hands_s
        into = [max(a, r[0] + lower) for a, r in zip(into, rows, strict=True)]
    if instance.opens_of[m] > -inf:
        into = [max(a, r[0] + instance.opens_of[m]) for a, r in zip(into, rows, strict=True)]
    return into


def _late_node(into: list[float], edges: list[tuple[int, float]]) -> int | None:
    """A node that the new one comes too late for; None if there is none."""
    for node, weight in edges:
        if into[node] + weight > 0:
            return node
    return None


def _deadlines(
    instance: Instance, state: SearchState, m: int, old: int, close_s: float
) -> list[tuple[int, float]]:
    """Edges from the end of move m to the nodes it must not leave too far behind."""
    most_of = instance.most_of
    way = instance.way[instance.to_of[m]]
    edges = [
        (node, way[instance.from_of[a + 1]] - most_of[a])
        for node, (a, _) in enumerate(state.active, 1)
        if most_of[a] < inf and node != old
    ]
    if old and most_of[m - 1] < inf:
        edges.append((old, -most_of[m - 1] - instance.hands_of[m]))
    if close_s < inf:
        edges.append((0, -close_s))
    return edges


def _queue(
    instance: Instance,
    ahead: Lookahead,
    state: SearchState,
    m: int,
    n: int,
    old: int,
    into: list[float],
    edges: list[tuple[int, float]],
) -> list[float]:
    """Edges between the new entry and the parts of the same line, ahead and behind."""
    line = instance.line_of[m]
    for node, (other_m, other_n) in enumerate(state.active, 1):
        if instance.line_of[other_m] != line or node == old:
            continue
        if other_n < n:
            weight = ahead.forced(other_m, m, n - other_n)
            if weight > -inf:
                into = [max(a, r[node] + weight) for a, r in zip(into, state.rows, strict=True)]
        else:
            weight = ahead.forced(m, other_m, other_n - n)
            if weight > -inf:
                edges.append((node, weight))
    return into


def _settle(
    ahead: Lookahead,
    state: SearchState,
    m: int,
    old: int,
    into: list[float],
    out: list[float],
    edges: list[tuple[int, float]],
) -> tuple[list[float], list[float], int | None]:
    """Paths in and out once every choice with one option left is made, and a node too late for
    them.
    """
    rows = state.rows
    more = _forced(ahead, state, m, old, into, out)
    if more is None:
        return into, out, 0
    for node, weight, outward in more:
        if outward:
            edges.append((node, weight))
        else:
            into = [max(a, r[node] + weight) for a, r in zip(into, rows, strict=True)]
    if not more:
        return into, out, None
    return into, longest_out(rows, edges), _late_node(into, edges)


def _forced(
    ahead: Lookahead, state: SearchState, m: int, old: int, into: list[float], out: list[float]
) -> list[tuple[int, float, bool]] | None:
    """Edges from choices with one option left, (node, weight, outward); None: no option left."""
    forced = []
    for node, (other_m, _) in enumerate(state.active, 1):
        if node == old:
            continue
        for first, second in ahead.either(m, other_m):
            go_first = first + into[node] <= 0
            go_second = second + out[node] <= 0
            if not go_first and not go_second:
                return None
            if not go_second and first > out[node]:
                forced.append((node, first, True))
            elif not go_first and second > into[node]:
                forced.append((node, second, False))
    return forced


def _dead(state: SearchState, m: int, n: int, earliest_s: float, node: int) -> Dead:
    late_m, late_part = state.active[node - 1] if node else (-1, -1)
    return Dead(m, n, earliest_s, late_m, late_part, sum(state.counts))


def longest_out(rows: list[list[float]], edges: list[tuple[int, float]]) -> list[float]:
    """Longest paths from the new node to every old one."""
    if not edges:
        return [-inf] * len(rows[0])
    node, weight = edges[0]
    out = [weight + a for a in rows[node]]
    for node, weight in edges[1:]:
        out = [a if a > (b := weight + c) else b for a, c in zip(out, rows[node], strict=True)]
    return out


def close(
    rows: list[list[float]], into: list[float], out: list[float], any_out: bool
) -> list[list[float]]:
    """A closed copy of the matrix in which every path through the new node counts.

    Args:
        rows: longest paths between nodes, in seconds.
        into: the paths into the new node.
        out: the paths out of it.
        any_out: whether there is a way out.
    """
    if not any_out:
        return [r[:] for r in rows]
    return [
        r[:]
        if through == -inf
        else [a if a > (b := through + o) else b for a, o in zip(r, out, strict=True)]
        for r, through in zip(rows, into, strict=True)
    ]


def _place_node(
    grown: list[list[float]], into: list[float], out: list[float], old: int, new: int
) -> None:
    """Put the new node in its part's place (``new`` 0: part done) and also make it the last."""
    for r, through in zip(grown, into, strict=True):
        r[-1] = through
        if new and old:
            r[old] = through
        elif new:
            r.insert(new, through)
        elif old:
            del r[old]
    out = out[:]
    out[-1] = 0.0
    if new and old:
        out[old] = 0.0
        grown[old] = out
    elif new:
        out.insert(new, 0.0)
        grown.insert(new, out)
    elif old:
        del grown[old]
