"""The rules of a plan, written a second time: checks every part, place and pair of hands.

It shares no code with the planner or with ``plan_check``. It reads the problem and the plan's
moves, nothing else.
"""

from __future__ import annotations

from itertools import pairwise

from benchtimer.plan.outcome import Plan, PlannedMove
from benchtimer.plan.problem import PlanPart, Problem

FOREVER = 10**12
Stay = tuple[int, int, PlannedMove | None, PlannedMove | None]
"""(in, out, the move that loads it, the move that pulls it)."""


def faults(problem: Problem, plan: Plan, *, targets: bool = False) -> list[str]:
    """Every rule the plan breaks.

    Args:
        problem: the problem.
        plan: its plan.
        targets: whether a dwell that ends before its target is a fault.
    """
    found: list[str] = []
    moves = {
        part.name: sorted((m for m in plan.moves if m.part == part.name), key=lambda m: m.move)
        for part in problem.parts
    }
    if sum(map(len, moves.values())) != len(plan.moves):
        found.append("the plan moves a part that is not there")
    stays: dict[str, list[Stay]] = {station.name: [] for station in problem.stations}
    for part in problem.parts:
        found += _part(problem, part, moves[part.name], stays, targets=targets)
        found += _join(problem, part, moves)
    found += _hours(problem, plan)
    found += _hands(problem, plan)
    for station in problem.stations:
        found += _place(problem, station.name, stays[station.name], plan)
    return found


def _part(
    problem: Problem,
    part: PlanPart,
    moves: list[PlannedMove],
    stays: dict[str, list[Stay]],
    *,
    targets: bool,
) -> list[str]:
    """Checks each dwell against min and max, with only moves in between; records the stays."""
    found = []
    route, made = part.route, part.moves_made
    under_way = part.moving_s is not None and made < len(route.moves)
    wanted = range(made + under_way, len(route.moves))
    if part.held:
        wanted = range(0)
    if [m.move for m in moves] != list(wanted):
        found.append(f"{part.name}: moves {[m.move for m in moves]} for {list(wanted)}")
        return found
    since: int | None = part.entered_s
    dwell = made - 1
    if under_way:
        since, dwell = problem.now_s + (part.moving_s or 0), made
    elif not made or made >= len(route.moves):
        since = None
    brought = None
    for move in moves:
        if move.end_s - move.start_s != route.moves[move.move].hands_s:
            found.append(f"{part.name}: move {move.move} has another length")
        if move.start_s < problem.now_s or (not move.move and move.start_s < part.release_s):
            found.append(f"{part.name}: move {move.move} is too early")
        if since is not None:
            window = route.dwells[dwell]
            low = window.min_s
            if targets and window.target_s is not None:
                low = window.target_s
            high = FOREVER if window.max_s is None else window.max_s
            if not low <= move.start_s - since <= high:
                found.append(f"{part.name}: {move.start_s - since} s in {window.station}")
            stays[window.station].append((since, move.start_s, brought, move))
        since, dwell, brought = move.end_s, move.move, move
    if since is not None and dwell < len(route.dwells):
        stays[route.dwells[dwell].station].append((since, FOREVER, brought, None))
    return found


def _join(problem: Problem, part: PlanPart, moves: dict[str, list[PlannedMove]]) -> list[str]:
    found = []
    for name in part.after if moves[part.name] and not moves[part.name][0].move else ():
        other = next(p for p in problem.parts if p.name == name)
        done = other.moves_made >= len(other.route.moves)
        last = moves[name][-1].end_s if moves[name] else problem.now_s + (other.moving_s or 0)
        if not done and last > moves[part.name][0].start_s:
            found.append(f"{part.name} begins before {name} is done")
    return found


def _hours(problem: Problem, plan: Plan) -> list[str]:
    return [
        f"{move.part}: move {move.move} falls outside the hours"
        for move in plan.moves
        for away in problem.away
        if (move.start_s < away.to_s and away.from_s < move.end_s)
        or away.from_s < move.start_s < away.to_s
    ]


def _hands(problem: Problem, plan: Plan) -> list[str]:
    """Checks that each pair of hands makes one move at a time and can walk between moves."""
    found = []
    walk = {(w.from_station, w.to_station): w.walk_s for w in problem.walks}
    for pair in {move.hands for move in plan.moves}:
        if not 0 <= pair < problem.hands:
            found.append(f"there is no pair of hands {pair}")
        own = [move for move in plan.moves if move.hands == pair]
        for one, two in pairwise(own):
            if two.start_s < one.end_s + walk.get((one.to_station, two.from_station), 0):
                found.append(f"hands {pair} at {two.start_s} s: not free, or not there")
    busy = sum(part.moving_s is not None and not part.is_done for part in problem.parts)
    for part in problem.parts:
        if part.moving_s is not None and not part.is_done:
            until = problem.now_s + part.moving_s
            free = problem.hands - busy
            early = {m.hands for m in plan.moves if m.start_s < until}
            if len(early) > free and busy == 1:
                found.append("hands that are busy make another move")
    return found


def _place(problem: Problem, name: str, stays: list[Stay], plan: Plan) -> list[str]:
    """Checks that a place never overfills, is emptied before filling, and is empty when closed."""
    station = problem.station(name)
    found = []
    order = {id(move): number for number, move in enumerate(plan.moves)}
    for came, left, brought, taken in stays:
        for from_s, to_s in station.closed:
            if came < to_s and left > from_s and (taken is not None or came >= problem.now_s):
                found.append(f"{name}: a part is in it while it is closed at {from_s} s")
            if brought is not None and from_s <= brought.start_s < to_s:
                found.append(f"{name}: a part leaves for it while it is closed at {from_s} s")
        if brought is None and (came <= problem.now_s or problem.hands == 1):
            continue
        if brought is not None and not station.in_service:
            found.append(f"{name} is out of service")
        full = 0
        for other in stays:
            if other == (came, left, brought, taken) or (brought and other[3] is brought):
                continue
            there = other[0] < came or (
                other[0] == came
                and (not (other[2] and brought) or order[id(other[2])] < order[id(brought)])
            )
            if there and not _emptied(problem, other, brought, came, order):
                full += 1
        if full >= station.holds:
            found.append(f"{name}: full at {came} s")
    return found


def _first(one: PlannedMove | None, two: PlannedMove | None, order: dict[int, int]) -> bool:
    return one is None or two is None or order[id(one)] < order[id(two)]


def _emptied(
    problem: Problem, other: Stay, brought: PlannedMove | None, came: int, order: dict[int, int]
) -> bool:
    """Whether a part is out before a move brings in another."""
    taken = other[3]
    if taken is None:
        return False
    if brought is None:
        return taken.start_s < came
    if problem.hands == 1:
        return taken.end_s <= brought.start_s and order[id(taken)] < order[id(brought)]
    return taken.start_s < came or (
        taken.start_s == taken.end_s == came and order[id(taken)] < order[id(brought)]
    )
