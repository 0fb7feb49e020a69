"""Problems that differ from another by one change that a maker could make."""

from __future__ import annotations

from benchtimer.plan.problem import AwayTime, PlanPart, Problem, Route
from benchtimer.values import replace


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
    left = (p for p in problem.parts if p.name not in names)
    return replace(problem, parts=tuple(_joined(p, names) for p in left))


def only(problem: Problem, names: set[str]) -> Problem:
    """Nothing but these parts on the bench."""
    return without(problem, {p.name for p in problem.parts} - names)


def _joined(part: PlanPart, gone: set[str]) -> PlanPart:
    """A part that no longer waits for the ones that are gone."""
    if not gone.intersection(part.after):
        return part
    return replace(part, after=tuple(name for name in part.after if name not in gone))


def longer(problem: Problem, part: PlanPart, dwell: int, extra_s: int) -> Problem:
    """One dwell of one part may last longer.

    Args:
        problem: the problem.
        part: the part.
        dwell: the dwell's index in its route.
        extra_s: seconds added to its max.
    """
    route = part.route
    dwells = tuple(
        replace(d, max_s=d.max_s + extra_s) if i == dwell and d.max_s is not None else d
        for i, d in enumerate(route.dwells)
    )
    changed = replace(part, route=replace(route, dwells=dwells))
    return replace(problem, parts=tuple(changed if p is part else p for p in problem.parts))


def all_longer(problem: Problem, extra_s: int) -> Problem:
    """Every dwell may last longer by the same amount."""
    routes: dict[int, Route] = {}
    for part in problem.parts:
        route = part.route
        if id(route) not in routes:
            dwells = tuple(
                d if d.max_s is None else replace(d, max_s=d.max_s + extra_s) for d in route.dwells
            )
            routes[id(route)] = replace(route, dwells=dwells)
    parts = tuple(replace(p, route=routes[id(p.route)]) for p in problem.parts)
    return replace(problem, parts=parts)


def released(problem: Problem, name: str) -> Problem:
    """A held part resumed."""
    parts = tuple(replace(p, held=False) if p.name == name else p for p in problem.parts)
    return replace(problem, parts=parts)


def more_hands(problem: Problem) -> Problem:
    """One more pair of hands."""
    return replace(problem, hands=problem.hands + 1, hands_at=None)


def without_away(problem: Problem, away: AwayTime) -> Problem:
    """One away window becomes working time."""
    return replace(problem, away=tuple(a for a in problem.away if a != away))


def stays_on(problem: Problem, away: AwayTime, extra_s: int) -> Problem:
    """One away window begins later: you stay longer.

    Args:
        problem: the problem.
        away: the window.
        extra_s: seconds that you stay longer.
    """
    return _other_window(problem, away, AwayTime(away.from_s + extra_s, away.to_s))


def begins_early(problem: Problem, away: AwayTime, extra_s: int) -> Problem:
    """One away window ends earlier: you are back sooner.

    Args:
        problem: the problem.
        away: the window.
        extra_s: seconds that you are back sooner.
    """
    return _other_window(problem, away, AwayTime(away.from_s, away.to_s - extra_s))


def _other_window(problem: Problem, away: AwayTime, other: AwayTime) -> Problem:
    windows = (other if a == away else a for a in problem.away)
    return replace(problem, away=tuple(a for a in windows if a.from_s < a.to_s))
