"""Problems that differ from another by one thing: what a maker could change."""

from __future__ import annotations

from dataclasses import replace

from benchtimer.plan.problem import Part, Problem, Route


def with_slot(problem: Problem, station: str) -> Problem:
    """One more slot in a station."""
    stations = tuple(
        replace(s, holds=s.holds + 1) if s.name == station else s for s in problem.stations
    )
    return replace(problem, stations=stations)


def in_service(problem: Problem, station: str) -> Problem:
    """A station back in service."""
    stations = tuple(
        replace(s, in_service=True) if s.name == station else s for s in problem.stations
    )
    return replace(problem, stations=stations)


def without(problem: Problem, names: set[str]) -> Problem:
    """Some parts taken off the bench."""
    return replace(problem, parts=tuple(p for p in problem.parts if p.name not in names))


def only(problem: Problem, names: set[str]) -> Problem:
    """Nothing but these parts on the bench."""
    return replace(problem, parts=tuple(p for p in problem.parts if p.name in names))


def longer(problem: Problem, part: Part, dwell: int, extra_s: int) -> Problem:
    """One dwell of one part may last longer."""
    route = part.route
    dwells = tuple(
        replace(d, most_s=d.most_s + extra_s) if i == dwell and d.most_s is not None else d
        for i, d in enumerate(route.dwells)
    )
    changed = replace(part, route=replace(route, dwells=dwells))
    return replace(problem, parts=tuple(changed if p is part else p for p in problem.parts))


def all_longer(problem: Problem, extra_s: int) -> Problem:
    """Every dwell may last longer by as much."""
    routes: dict[int, Route] = {}
    for part in problem.parts:
        route = part.route
        if id(route) not in routes:
            dwells = tuple(
                d if d.most_s is None else replace(d, most_s=d.most_s + extra_s)
                for d in route.dwells
            )
            routes[id(route)] = replace(route, dwells=dwells)
    parts = tuple(replace(p, route=routes[id(p.route)]) for p in problem.parts)
    return replace(problem, parts=parts)
