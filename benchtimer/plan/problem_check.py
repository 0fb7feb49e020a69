"""Refuses a planning problem that contradicts itself."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

from benchtimer.plan.problem import DwellLimits, PlanPart, Problem, ProblemError, Route, Walk

MOST_MOVES = 20_000
"""A problem with more moves than this is refused: no bench has them, and no plan would be found."""


def validate(problem: Problem) -> None:
    """Raise ``ProblemError`` for the first contradiction in the problem."""
    _check_bench(problem)
    for route in {id(part.route): part.route for part in problem.parts}.values():
        _check_route(route, {station.name for station in problem.stations})
    for part in problem.parts:
        _check_part(part, problem.now_s)
    _check_joins(problem)
    _check_present(problem)


def _check_bench(problem: Problem) -> None:
    _once("station", (station.name for station in problem.stations))
    _once("part", (part.name for part in problem.parts))
    if problem.hands < 1:
        raise ProblemError("hands", f"{problem.hands} people", "at least one is needed")
    for station in problem.stations:
        if station.holds < 1:
            raise ProblemError(
                f"station {station.name!r}", f"holds {station.holds}", "give it one slot or more"
            )
        for from_s, to_s in station.closed:
            if to_s - from_s < 2:
                raise ProblemError(
                    f"station {station.name!r}",
                    f"closed from {from_s} s to {to_s} s",
                    "close it for 2 s or longer",
                )
    names = {station.name for station in problem.stations}
    for walk in problem.walks:
        _check_walk(walk, names)
    if problem.hands_at is not None:
        _known(f"hands at {problem.hands_at!r}", problem.hands_at, names)
    for away in problem.away:
        if away.to_s <= away.from_s:
            raise ProblemError(
                "away window",
                f"from {away.from_s} s to {away.to_s} s",
                "end it after it begins",
            )
    count = sum(len(part.route.moves) for part in problem.parts)
    if count > MOST_MOVES:
        raise ProblemError("parts", f"{count} moves", f"plan {MOST_MOVES} or fewer at a time")


def _once(kind: str, names: Iterable[str]) -> None:
    for name, count in Counter(names).items():
        if count > 1:
            raise ProblemError(f"{kind} {name!r}", f"named {count} times", "names must differ")


def _known(subject: str, name: str, names: set[str]) -> None:
    if name not in names:
        listed = ", ".join(sorted(names)) or "none"
        raise ProblemError(subject, f"no station is called {name!r}", f"the stations are: {listed}")


def _check_walk(walk: Walk, names: set[str]) -> None:
    subject = f"walk from {walk.from_station!r} to {walk.to_station!r}"
    _known(subject, walk.from_station, names)
    _known(subject, walk.to_station, names)
    if walk.walk_s < 0:
        raise ProblemError(subject, f"takes {walk.walk_s} s", "use 0 s or more")


def _check_route(route: Route, names: set[str]) -> None:
    subject = f"route {route.name!r}"
    if len(route.moves) != len(route.dwells) + 1:
        found = f"{len(route.moves)} moves and {len(route.dwells)} dwells"
        raise ProblemError(subject, found, "use one more move than dwells")
    for number, move in enumerate(route.moves):
        if move.hands_s < 0:
            raise ProblemError(
                f"{subject}, move {number + 1}", f"{move.hands_s} s", "use 0 s or more"
            )
        if move.step_s and sum(move.step_s) != move.hands_s:
            raise ProblemError(
                f"{subject}, move {number + 1}",
                f"{move.hands_s} s, but its steps take {sum(move.step_s)} s",
                "make them equal",
            )
        for given, meant in (
            (move.from_station, route.came_from(number)),
            (move.to_station, route.goes_to(number)),
        ):
            if given is not None:
                _known(f"{subject}, move {number + 1}", given, names)
            if given is not None and given != meant:
                raise ProblemError(
                    f"{subject}, move {number + 1}",
                    f"names {given!r}",
                    f"the dwell is at {meant!r}",
                )
    for dwell in route.dwells:
        _check_dwell(f"{subject}, dwell at {dwell.station!r}", dwell, names)


def _check_dwell(subject: str, dwell: DwellLimits, names: set[str]) -> None:
    _known(subject, dwell.station, names)
    if dwell.min_s < 0:
        raise ProblemError(subject, f"min is {dwell.min_s} s", "use 0 s or more")
    max_s = math.inf if dwell.max_s is None else dwell.max_s
    if max_s < dwell.min_s:
        raise ProblemError(
            subject, f"min {dwell.min_s} s is above max {dwell.max_s} s", "swap or widen them"
        )
    if not dwell.min_s <= dwell.wished_s <= max_s:
        raise ProblemError(
            subject, f"target {dwell.target_s} s is outside min and max", "move the target inside"
        )


def _check_part(part: PlanPart, now_s: int) -> None:
    subject = f"part {part.name!r}"
    moves = len(part.route.moves)
    if not 0 <= part.moves_made <= moves:
        raise ProblemError(subject, f"{part.moves_made} moves made", f"its route has {moves}")
    if part.is_done:
        return
    if part.moving_s is not None:
        if part.moving_s < 0:
            raise ProblemError(
                subject, f"its move still takes {part.moving_s} s", "use 0 s or more"
            )
        if part.held:
            raise ProblemError(subject, "held and in the hands at once", "put it down or resume it")
        return
    if part.moves_made and part.entered_s is None:
        raise ProblemError(
            subject, f"{part.moves_made} moves made, but no entry time", "say when it went in"
        )
    if not part.moves_made and part.entered_s is not None:
        raise ProblemError(
            subject, "in a dwell before its first move", "count the move it has made"
        )
    if part.entered_s is not None and part.entered_s > now_s:
        raise ProblemError(
            subject, f"entered at {part.entered_s} s, after now ({now_s} s)", "correct the entry"
        )


def _check_joins(problem: Problem) -> None:
    parts = {part.name: part for part in problem.parts}
    for part in problem.parts:
        subject = f"part {part.name!r}"
        for name in part.after:
            if name not in parts:
                raise ProblemError(subject, f"waits for {name!r}", "name a part of the plan")
        seen: set[str] = set()
        waiting = list(part.after)
        while waiting:
            name = waiting.pop()
            if name == part.name:
                raise ProblemError(subject, "waits for itself", "break the loop of joins")
            if name not in seen:
                seen.add(name)
                waiting += parts[name].after if name in parts else ()


def _check_present(problem: Problem) -> None:
    moving = [part.name for part in problem.parts if part.moving_s is not None and not part.is_done]
    if len(moving) > problem.hands:
        raise ProblemError(
            "hands",
            f"{len(moving)} parts in {problem.hands} pair(s): {', '.join(moving)}",
            "put some down",
        )
    inside: dict[str | None, list[str]] = {}
    coming: dict[str | None, list[str]] = {}
    for part in problem.parts:
        where = part.station
        if part.moving_s is not None and not part.is_done:
            where = part.route.goes_to(part.moves_made)
            where = where if part.moves_made < len(part.route.dwells) else None
            if problem.hands > 1:  # other hands may empty its place before it gets there
                coming.setdefault(where, []).append(part.name)
                continue
        inside.setdefault(where, []).append(part.name)
    for station in problem.stations:
        names = max(inside.get(station.name, []), coming.get(station.name, []), key=len)
        if len(names) > station.holds:
            raise ProblemError(
                f"station {station.name!r}",
                f"holds {station.holds}, but {', '.join(names)} are in it or on the way",
                "correct where the parts are",
            )
