"""Several runs in one problem, and several routes in one part: what a shop plans at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchtimer.plan.problem import Dwell, Move, Part, Problem, ProblemError, Route, Station, Walk

REST = "rest"
"""The place between two recipes of one part, if no other is named: it is never full."""
REST_HOLDS = 1000


def together(runs: Mapping[str, Problem]) -> Problem:
    """One problem for the runs of a shop: one pair of hands or more, one set of places.

    Places of one name are one place: the smaller ``holds`` counts, and what closes it in any
    run. Parts are named ``RUN:PART``. Hours and hands are those of the first run; all runs count
    from the same zero.

    Raises:
        ProblemError: there is no run, or two of them disagree on the present or the hands.
    """
    if not runs:
        raise ProblemError("runs", "there are none", "name at least one")
    first = next(iter(runs.values()))
    stations: dict[str, Station] = {}
    parts: list[Part] = []
    walks: dict[tuple[str, str], Walk] = {}
    for run, problem in runs.items():
        if (problem.now_s, problem.hands) != (first.now_s, first.hands):
            found = f"now {problem.now_s} s with {problem.hands} hands"
            raise ProblemError(
                f"run {run!r}", found, "give all runs one present and the same hands"
            )
        for station in problem.stations:
            known = stations.get(station.name)
            stations[station.name] = station if known is None else _merged(known, station)
        for walk in problem.walks:
            walks.setdefault((walk.from_station, walk.to_station), walk)
        parts += [_of_run(run, part) for part in problem.parts]
    return replace(
        first, stations=tuple(stations.values()), parts=tuple(parts), walks=tuple(walks.values())
    )


def _merged(one: Station, two: Station) -> Station:
    return Station(
        one.name,
        min(one.holds, two.holds),
        one.in_service and two.in_service,
        tuple(dict.fromkeys((*one.closed, *two.closed))),
        one.heating or two.heating,
    )


def _of_run(run: str, part: Part) -> Part:
    after = tuple(f"{run}:{name}" for name in part.after)
    return replace(part, name=f"{run}:{part.name}", run=run, after=after)


def chained(name: str, routes: Sequence[Route], rest: str = REST) -> Route:
    """One route through several, with a rest of any length between them.

    Args:
        name: of the whole route.
        routes: in order.
        rest: the place between two of them.

    Raises:
        ProblemError: there is no route.
    """
    if not routes:
        raise ProblemError(f"route {name!r}", "no routes", "name at least one")
    moves: list[Move] = list(routes[0].moves)
    dwells: list[Dwell] = list(routes[0].dwells)
    for route in routes[1:]:
        moves[-1] = replace(moves[-1], to_station=None)
        dwells.append(Dwell(rest, 0, None, 0, rest))
        moves += [replace(route.moves[0], from_station=None), *route.moves[1:]]
        dwells += route.dwells
    return Route(name, tuple(moves), tuple(dwells))
