"""Refuses a planning problem that contradicts itself."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from graphlib import CycleError, TopologicalSorter
from math import inf

from benchtimer.plan.problem import DwellLimits, PlanPart, Problem, ProblemError, Route

MOST_MOVES = 20_000
"""A problem with more moves than this is refused: no bench has them, and no plan would be found."""


def validate(problem: Problem) -> None:
    """Raise ``ProblemError`` for the first contradiction in the problem."""
    names = {station.name for station in problem.stations}
    _check_bench(problem, names)
    for route in {id(part.route): part.route for part in problem.parts}.values():
        _check_route(route, names)
    for part in problem.parts:
        _check_part(part, problem.now_s)
    _check_joins(problem)
    _check_present(problem)


def _refuse_if(wrong: bool, subject: str, found: str, way_out: str) -> None:
    if wrong:
        raise ProblemError(subject, found, way_out)


def _check_bench(problem: Problem, names: Collection[str]) -> None:
    _once("station", (station.name for station in problem.stations))
    _once("part", (part.name for part in problem.parts))
    _refuse_if(problem.hands < 1, "hands", f"{problem.hands} people", "at least one is needed")
    for station in problem.stations:
        subject = f"station {station.name!r}"
        found = f"holds {station.holds}"
        _refuse_if(station.holds < 1, subject, found, "give it one slot or more")
        for from_s, to_s in station.closed:
            found = f"closed from {from_s} s to {to_s} s"
            _refuse_if(to_s - from_s < 2, subject, found, "close it for 2 s or longer")
    for walk in problem.walks:
        subject = f"walk from {walk.from_station!r} to {walk.to_station!r}"
        _known(subject, walk.from_station, names)
        _known(subject, walk.to_station, names)
        _refuse_if(walk.walk_s < 0, subject, f"takes {walk.walk_s} s", "use 0 s or more")
    _known(f"hands at {problem.hands_at!r}", problem.hands_at, names)
    for away in problem.away:
        found = f"from {away.from_s} s to {away.to_s} s"
        _refuse_if(away.to_s <= away.from_s, "away window", found, "end it after it begins")
    count = sum(len(part.route.moves) for part in problem.parts)
    fewer = f"plan {MOST_MOVES} or fewer at a time"
    _refuse_if(count > MOST_MOVES, "parts", f"{count} moves", fewer)


def _once(kind: str, names: Iterable[str]) -> None:
    for name, count in Counter(names).items():
        _refuse_if(count > 1, f"{kind} {name!r}", f"named {count} times", "names must differ")


def _known(subject: str, name: str | None, names: Collection[str]) -> None:
    """Refuse the name of a station that does not exist; None names none."""
    if name is not None and name not in names:
        listed = ", ".join(sorted(names)) or "none"
        raise ProblemError(subject, f"no station is called {name!r}", f"the stations are: {listed}")


def _check_route(route: Route, names: Collection[str]) -> None:
    subject = f"route {route.name!r}"
    found = f"{len(route.moves)} moves and {len(route.dwells)} dwells"
    one_more = len(route.moves) == len(route.dwells) + 1
    _refuse_if(not one_more, subject, found, "use one more move than dwells")
    for number, move in enumerate(route.moves):
        where = f"{subject}, move {number + 1}"
        takes = f"{move.hands_s} s"
        _refuse_if(move.hands_s < 0, where, takes, "use 0 s or more")
        if move.step_s and sum(move.step_s) != move.hands_s:
            found = f"{takes}, but its steps take {sum(move.step_s)} s"
            raise ProblemError(where, found, "make them equal")
        for given, meant in (
            (move.from_station, route.came_from(number)),
            (move.to_station, route.goes_to(number)),
        ):
            _known(where, given, names)
            differs = given not in (None, meant)
            _refuse_if(differs, where, f"names {given!r}", f"the dwell is at {meant!r}")
    for dwell in route.dwells:
        _check_dwell(f"{subject}, dwell at {dwell.station!r}", dwell, names)


def _check_dwell(subject: str, dwell: DwellLimits, names: Collection[str]) -> None:
    _known(subject, dwell.station, names)
    _refuse_if(dwell.min_s < 0, subject, f"min is {dwell.min_s} s", "use 0 s or more")
    max_s = inf if dwell.max_s is None else dwell.max_s
    found = f"min {dwell.min_s} s is above max {dwell.max_s} s"
    _refuse_if(max_s < dwell.min_s, subject, found, "swap or widen them")
    outside = not dwell.min_s <= dwell.wished_s <= max_s
    found = f"target {dwell.target_s} s is outside min and max"
    _refuse_if(outside, subject, found, "move the target inside")


def _check_part(part: PlanPart, now_s: int) -> None:
    subject, moves, made = f"part {part.name!r}", len(part.route.moves), part.moves_made
    _refuse_if(not 0 <= made <= moves, subject, f"{made} moves made", f"its route has {moves}")
    if part.is_done:
        return
    if part.moving_s is not None:
        found = f"its move still takes {part.moving_s} s"
        _refuse_if(part.moving_s < 0, subject, found, "use 0 s or more")
        found = "held and in the hands at once"
        _refuse_if(part.held, subject, found, "put it down or resume it")
    elif part.entered_s is None:
        found = f"{made} moves made, but no entry time"
        _refuse_if(made > 0, subject, found, "say when it went in")
    else:
        found = "in a dwell before its first move"
        _refuse_if(not made, subject, found, "count the move it has made")
        found = f"entered at {part.entered_s} s, after now ({now_s} s)"
        _refuse_if(part.entered_s > now_s, subject, found, "correct the entry")


def _check_joins(problem: Problem) -> None:
    after = {part.name: part.after for part in problem.parts}
    for name, others in after.items():
        for other in others:
            found = f"waits for {other!r}"
            _refuse_if(other not in after, f"part {name!r}", found, "name a part of the plan")
    try:
        TopologicalSorter(after).prepare()
    except CycleError as error:
        name = next(name for name in after if name in error.args[1])
        raise ProblemError(
            f"part {name!r}", "waits for itself", "break the loop of joins"
        ) from None


def _check_present(problem: Problem) -> None:
    moving = [part.name for part in problem.parts if part.moving_s is not None and not part.is_done]
    found = f"{len(moving)} parts in {problem.hands} pair(s): {', '.join(moving)}"
    _refuse_if(len(moving) > problem.hands, "hands", found, "put some down")
    inside: dict[str | None, list[str]] = defaultdict(list)
    coming: dict[str | None, list[str]] = defaultdict(list)
    for part in problem.parts:
        if part.name not in moving:
            inside[part.station].append(part.name)
        elif part.moves_made < len(part.route.dwells):
            # With several pairs of hands, others may empty its place before it gets there.
            there = inside if problem.hands == 1 else coming
            there[part.route.goes_to(part.moves_made)].append(part.name)
    for station in problem.stations:
        names = max(inside[station.name], coming[station.name], key=len)
        found = f"holds {station.holds}, but {', '.join(names)} are in it or on the way"
        full = len(names) > station.holds
        _refuse_if(full, f"station {station.name!r}", found, "correct where the parts are")
