"""Problems that differ from another by one change that a maker could make."""

from __future__ import annotations

from benchtimer.plan.problem import AwayTime, DwellLimits, PlanPart, PlanStation, Problem
from benchtimer.values import replace


def with_slot(problem: Problem, name: str) -> Problem:
    """One more slot in a station."""
    station = problem.station(name)
    return _with_station(problem, replace(station, holds=station.holds + 1))


def in_service(problem: Problem, name: str) -> Problem:
    """A station back in service."""
    return _with_station(problem, replace(problem.station(name), in_service=True))


def _with_station(problem: Problem, changed: PlanStation) -> Problem:
    stations = (changed if s.name == changed.name else s for s in problem.stations)
    return replace(problem, stations=tuple(stations))


def without(problem: Problem, names: set[str]) -> Problem:
    """Some parts taken off the bench; the others no longer wait for them."""
    left = (
        replace(part, after=tuple(name for name in part.after if name not in names))
        for part in problem.parts
        if part.name not in names
    )
    return replace(problem, parts=tuple(left))


def only(problem: Problem, names: set[str]) -> Problem:
    """Nothing but these parts on the bench."""
    return without(problem, {p.name for p in problem.parts} - names)


def longer(problem: Problem, part: PlanPart, dwell: int, extra_s: int) -> Problem:
    """One dwell of one part may last longer.

    Args:
        problem: the problem.
        part: the part.
        dwell: the dwell's index in its route.
        extra_s: seconds added to its max.
    """
    route = part.route.with_dwell(dwell, _longer(part.route.dwells[dwell], extra_s))
    return _with_part(problem, replace(part, route=route))


def all_longer(problem: Problem, extra_s: int) -> Problem:
    """Every dwell may last longer by the same amount."""
    return problem.with_dwells(lambda dwell: _longer(dwell, extra_s))


def _longer(dwell: DwellLimits, extra_s: int) -> DwellLimits:
    return dwell if dwell.max_s is None else replace(dwell, max_s=dwell.max_s + extra_s)


def released(problem: Problem, part: PlanPart) -> Problem:
    """A held part resumed."""
    return _with_part(problem, replace(part, held=False))


def _with_part(problem: Problem, changed: PlanPart) -> Problem:
    parts = (changed if p.name == changed.name else p for p in problem.parts)
    return replace(problem, parts=tuple(parts))


def more_hands(problem: Problem) -> Problem:
    """One more pair of hands."""
    return replace(problem, hands=problem.hands + 1, hands_at=None)


def away_less(problem: Problem, away: AwayTime, later_s: int = 0, sooner_s: int = 0) -> Problem:
    """One away window begins later, because you stay, or ends sooner, because you are back.

    Args:
        problem: the problem.
        away: the window.
        later_s: seconds that you stay longer.
        sooner_s: seconds that you are back sooner.
    """
    less = AwayTime(away.from_s + later_s, away.to_s - sooner_s)
    windows = (less if window == away else window for window in problem.away)
    return replace(problem, away=tuple(w for w in windows if w.from_s < w.to_s))
