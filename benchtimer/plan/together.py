"""Several runs in one problem, for one plan of the shop."""

from __future__ import annotations

from collections.abc import Mapping

from benchtimer.plan.problem import (
    PlanPart,
    PlanStation,
    Problem,
    ProblemError,
    Route,
    Walk,
)
from benchtimer.values import replace


def together(
    runs: Mapping[str, Problem], names: Mapping[tuple[str, str], str] | None = None
) -> Problem:
    """One problem for the runs of a shop: one pair of hands or more, one set of places.

    At a place that several runs use, the smallest ``holds`` and every run's closings count.
    Parts are named ``RUN:PART``. Hours and hands are those of the first run; all runs count
    from the same zero.

    Args:
        runs: the problem of each run.
        names: the real place for each station of each run (``shop.realplaces``); without it,
            stations with the same name are one place.

    Raises:
        ProblemError: there is no run, or two of them disagree about the present or the hands.
    """
    if not runs:
        raise ProblemError("runs", "there are none", "name at least one")
    first = next(iter(runs.values()))
    stations: dict[str, PlanStation] = {}
    parts: list[PlanPart] = []
    walks: dict[tuple[str, str], Walk] = {}
    for run, own in runs.items():
        if (own.now_s, own.hands) != (first.now_s, first.hands):
            found = f"now {own.now_s} s with {own.hands} hands"
            raise ProblemError(
                f"run {run!r}", found, "give all runs the same start time and the same hands"
            )
        real = {} if names is None else {name: at for (of, name), at in names.items() if of == run}
        problem = _at_places(own, real)
        for station in problem.stations:
            known = stations.get(station.name)
            stations[station.name] = station if known is None else _merged(known, station)
        for walk in problem.walks:
            walks.setdefault((walk.from_station, walk.to_station), walk)
        parts += [_of_run(run, part) for part in problem.parts]
    return replace(
        first, stations=tuple(stations.values()), parts=tuple(parts), walks=tuple(walks.values())
    )


def _at_places(problem: Problem, real: Mapping[str, str]) -> Problem:
    """A problem with real places instead of its run's stations."""
    if all(real.get(station.name, station.name) == station.name for station in problem.stations):
        return problem
    routes = {part.route: _route_at(part.route, real) for part in problem.parts}
    return replace(
        problem,
        stations=tuple(replace(s, name=real.get(s.name, s.name)) for s in problem.stations),
        parts=tuple(replace(part, route=routes[part.route]) for part in problem.parts),
        walks=tuple(
            Walk(real.get(w.from_station, w.from_station), real.get(w.to_station, w.to_station),
                 w.walk_s)
            for w in problem.walks
        ),
        hands_at=real.get(problem.hands_at or "", problem.hands_at),
    )  # fmt: skip


def _route_at(route: Route, real: Mapping[str, str]) -> Route:
    dwells = tuple(replace(d, station=real.get(d.station, d.station)) for d in route.dwells)
    moves = tuple(
        replace(
            move,
            from_station=real.get(move.from_station or "", move.from_station),
            to_station=real.get(move.to_station or "", move.to_station),
        )
        for move in route.moves
    )
    return Route(route.name, moves, dwells)


def _merged(one: PlanStation, two: PlanStation) -> PlanStation:
    """One place for two runs; the run that knows when it is ready decides how it is heated."""
    known = [each.heating for each in (one, two) if each.heating is not None]
    return PlanStation(
        one.name,
        min(one.holds, two.holds),
        one.in_service and two.in_service,
        tuple(dict.fromkeys((*one.closed, *two.closed))),
        min(known, key=lambda heating: heating.ready_s is None, default=None),
    )


def _of_run(run: str, part: PlanPart) -> PlanPart:
    if not run:
        return part  # a shop with only one run
    after = tuple(f"{run}:{name}" for name in part.after)
    return replace(part, name=f"{run}:{part.name}", run=run, after=after)
