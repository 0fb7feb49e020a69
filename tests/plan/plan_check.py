"""Checks a plan against every rule; shares nothing with the search.

It replays the planned times on the problem itself, with plain loops and no
instance, matrix or bound, and returns one sentence for each broken rule.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from benchtimer.plan.outcome import DONE, START, Plan, PlannedMove
from benchtimer.plan.problem import PlanPart, Problem


def check_plan(problem: Problem, plan: Plan) -> list[str]:
    """Each broken rule as a sentence; empty if the plan keeps them all."""
    made: dict[str, list[PlannedMove]] = defaultdict(list)
    for move in plan.moves:
        made[move.part].append(move)
    parts = {part.name: part for part in problem.parts}
    faults = [f"{name} is in the plan but not in the problem" for name in made if name not in parts]
    if faults:
        return faults
    for part in problem.parts:
        faults += _check_part(problem, part, made[part.name])
    faults += _check_dwells(problem, plan, made)
    for move in plan.moves:
        faults += _check_presence(problem, move)
    faults += _check_hands(problem, plan)
    faults += _check_joins(problem, made)
    for station in problem.stations:
        faults += _check_station(problem, plan, station.name, made)
    return faults


def _at(move: PlannedMove) -> str:
    return f"{move.part}'s move to {move.step} at {move.start_s} s"


def _check_part(problem: Problem, part: PlanPart, moves: list[PlannedMove]) -> list[str]:
    """Checks that the moves are the right ones, in order, with every dwell inside its window."""
    route = part.route
    first = part.moves_made + (part.moving_s is not None)
    wanted = [] if part.held or part.is_done else list(range(first, len(route.moves)))
    if [move.move for move in moves] != wanted:
        return [f"{part.name} makes moves {[m.move for m in moves]}, not {wanted}"]
    faults = []
    entered = part.entered_s
    if part.moving_s is not None:
        entered = problem.now_s + part.moving_s
    for move in moves:
        if move.end_s - move.start_s != route.moves[move.move].hands_s:
            faults.append(f"{_at(move)} does not take {route.moves[move.move].hands_s} s")
        names = (route.came_from(move.move) or START, route.goes_to(move.move) or DONE)
        if (move.from_station, move.to_station) != names:
            faults.append(f"{_at(move)} names {move.from_station} and {move.to_station}")
        if move.move == 0 and move.start_s < part.release_s:
            faults.append(f"{_at(move)} begins before the part is there ({part.release_s} s)")
        if move.move and entered is not None:
            dwell = route.dwells[move.move - 1]
            stay = move.start_s - entered
            if stay < dwell.min_s:
                faults.append(f"{_at(move)} ends a dwell of {stay} s, least is {dwell.min_s} s")
            if dwell.max_s is not None and stay > dwell.max_s:
                faults.append(f"{_at(move)} ends a dwell of {stay} s, most is {dwell.max_s} s")
        entered = move.end_s
    return faults


def _check_dwells(problem: Problem, plan: Plan, made: dict[str, list[PlannedMove]]) -> list[str]:
    """Checks that the dwells listed match the moves."""
    found = {(d.part, d.dwell): (d.in_s, d.out_s, d.station) for d in plan.dwells}
    real = {}
    for part in problem.parts:
        entered = part.entered_s
        if part.moving_s is not None:
            entered = problem.now_s + part.moving_s
        for move in made[part.name]:
            if move.move and entered is not None:
                station = part.route.dwells[move.move - 1].station
                real[part.name, move.move - 1] = (entered, move.start_s, station)
            entered = move.end_s
    return [
        f"the dwells of {name} are not listed as they are made"
        for name in sorted({key[0] for key, _ in set(found.items()) ^ set(real.items())})
    ]


def _check_joins(problem: Problem, made: dict[str, list[PlannedMove]]) -> list[str]:
    """Checks that a part begins only after the parts it waits for are done."""
    parts = {part.name: part for part in problem.parts}
    faults = []
    for part in problem.parts:
        first = next((move for move in made[part.name] if not move.move), None)
        for name in part.after if first is not None else ():
            other = parts[name]
            end_s = problem.now_s + (other.moving_s or 0)
            if made[name]:
                end_s = made[name][-1].end_s
            if first is not None and not other.is_done and first.start_s < end_s:
                faults.append(f"{_at(first)} begins before {name} is done ({end_s} s)")
    return faults


def _check_presence(problem: Problem, move: PlannedMove) -> list[str]:
    faults = []
    if move.start_s < problem.now_s:
        faults.append(f"{_at(move)} begins in the past")
    for away in problem.away:
        before = move.end_s <= away.from_s
        if not before and move.start_s < away.to_s:
            faults.append(f"{_at(move)} falls into the time away from {away.from_s} s")
    return faults


def _check_hands(problem: Problem, plan: Plan) -> list[str]:
    """Checks that each pair of hands makes one move at a time and can walk between moves."""
    walks = {(w.from_station, w.to_station): w.walk_s for w in problem.walks}
    free: dict[int, tuple[int, str | None]] = {}
    busy = [p for p in problem.parts if p.moving_s is not None and not p.is_done]
    for number, part in enumerate(busy):
        place = part.route.goes_to(part.moves_made)
        free[number] = (problem.now_s + (part.moving_s or 0), place)
    if problem.hands == 1 and not busy:
        free[0] = (problem.now_s, problem.hands_at)
    faults = []
    for move in plan.moves:
        if not 0 <= move.hands < problem.hands:
            faults.append(f"{_at(move)} is made by pair {move.hands} of {problem.hands}")
        since, place = free.get(move.hands, (problem.now_s, None))
        walk = walks.get((place or "", move.from_station), 0)
        if move.start_s < since + walk:
            faults.append(f"{_at(move)} begins before the hands are there ({since} + {walk} s)")
        place = None if move.to_station == DONE else move.to_station
        free[move.hands] = (move.end_s, place)
    return faults


@dataclass(frozen=True)
class _Stay:
    """One part's time in one station; ``brought`` and ``taken`` are its moves in and out."""

    part: str
    in_s: int
    brought: PlannedMove | None
    taken: PlannedMove | None

    def is_out(self, move: PlannedMove, order: dict[int, int]) -> bool:
        """Whether this part leaves before the other move loads its part."""
        if self.taken is None:
            return False
        if self.taken.start_s < move.end_s:
            return True
        return self.taken.end_s <= move.start_s and order[id(self.taken)] < order[id(move)]

    def is_in(self, move: PlannedMove, order: dict[int, int]) -> bool:
        """Whether this part goes in before the other move, or earlier within the same second."""
        if self.brought is None or self.in_s != move.end_s:
            return self.in_s <= move.end_s
        return order[id(self.brought)] < order[id(move)]


def _check_station(
    problem: Problem, plan: Plan, name: str, made: dict[str, list[PlannedMove]]
) -> list[str]:
    """Checks that each entry finds a slot that was emptied before."""
    station = problem.station(name)
    order = {id(move): number for number, move in enumerate(plan.moves)}
    stays = [s for part in problem.parts for s in _stays(problem, part, name, made[part.name])]
    faults = []
    for stay in stays:
        faults += _check_closed(problem, name, stay)
        move = stay.brought
        if move is None:
            continue
        if not station.in_service:
            faults.append(f"{_at(move)} goes into {name}, which is out of service")
        others = [
            other.part
            for other in stays
            if other.part != stay.part
            and other.is_in(move, order)
            and not other.is_out(move, order)
        ]
        if len(others) >= station.holds:
            faults.append(f"{_at(move)} goes into {name}, which holds {', '.join(others)}")
    return faults


def _check_closed(problem: Problem, name: str, stay: _Stay) -> list[str]:
    """Checks that a place is empty while closed for heat or make-up; a part in it now may leave."""
    out_s = stay.taken.start_s if stay.taken is not None else None
    since_s = max(stay.in_s, problem.now_s)
    brought_s = stay.brought.start_s if stay.brought is not None else None
    closed = problem.station(name).closed
    inside = [
        f"{stay.part} is in {name}, which closes at {from_s} s"
        for from_s, to_s in closed
        if out_s is not None and since_s < to_s and out_s > from_s
    ]
    return inside + [
        f"{stay.part} leaves for {name} while that is closed at {from_s} s"
        for from_s, to_s in closed
        if brought_s is not None and from_s <= brought_s < to_s
    ]


def _stays(problem: Problem, part: PlanPart, name: str, moves: list[PlannedMove]) -> list[_Stay]:
    """The stays of one part in one station, including one under way."""
    stays: list[_Stay] = []
    in_s, brought = part.entered_s, None
    place = part.station
    if part.moving_s is not None and not part.is_done:
        in_s = problem.now_s + part.moving_s
        route = part.route
        place = route.goes_to(part.moves_made) if part.moves_made < len(route.dwells) else None
    for move in moves:
        if place == name and in_s is not None:
            stays.append(_Stay(part.name, in_s, brought, move))
        in_s, brought = move.end_s, move
        place = move.to_station if move.move < len(part.route.dwells) else None
    if place == name and in_s is not None:
        stays.append(_Stay(part.name, in_s, brought, None))
    return stays
