"""Places that must be hot: closed while they heat, cool or are made up.

Heating starts in time for the first part of the session, and loads fit between
make-ups. Those times depend on the plan, so a plan without make-ups is made first, with each place
ready when its first part of the session arrives. If later loads come after the time it can stay
hot, the plan is made again around the make-ups.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from benchtimer.plan.outcome import DONE, Closing, Plan, PlannedMove
from benchtimer.plan.problem import ENDLESS_S, AwayTime, Heating, Problem
from benchtimer.values import replace

SESSION_GAP_S = 2 * 3600
"""A place is cold again after a closing this long: the program's own judgment."""
MOST_CYCLES = 40
"""How many make-ups of one place are planned per session."""

Ready = Mapping[tuple[str, int], int]
"""When a place is ready, by its name and the session's number."""


def needs_heat(problem: Problem) -> bool:
    """Whether any place in the problem has to be heated or made up."""
    return any(station.heating is not None for station in problem.stations)


def sessions(problem: Problem) -> list[tuple[int, int]]:
    """The spans of work, including breaks, between closings in which baths go cold."""
    found: list[tuple[int, int]] = []
    opens = problem.now_s
    for away in sorted(problem.away, key=lambda a: a.from_s):
        if away.to_s - max(away.from_s, problem.now_s) >= SESSION_GAP_S and away.to_s > opens:
            found.append((opens, max(opens, away.from_s)))
            opens = away.to_s
    return [*found, (opens, ENDLESS_S)]


def heated(problem: Problem, ready: Ready | None = None) -> tuple[Problem, tuple[Closing, ...]]:
    """The problem with its places closed at certain times, and these closings.

    Args:
        problem: its stations say how they are heated.
        ready: when each is ready in each session; without it, as soon as possible, with no
            make-ups.
    """
    work = sessions(problem)
    closings = tuple(
        closing
        for station in problem.stations
        if station.heating is not None
        for closing in _closings(station.name, station.heating, work, ready)
    )
    return with_closings(problem, closings), closings


def with_closings(problem: Problem, closings: tuple[Closing, ...]) -> Problem:
    """The problem with places closed, and hands busy, as in a plan."""
    shut: dict[str, list[tuple[int, int]]] = {}
    for closing in closings:
        shut.setdefault(closing.place, []).append((closing.from_s, closing.to_s))
    stations = tuple(
        replace(s, closed=tuple(sorted((*s.closed, *shut.get(s.name, ())))), heating=None)
        for s in problem.stations
    )
    busy = tuple(AwayTime(*closing.hands) for closing in closings if closing.hands is not None)
    return replace(problem, stations=stations, away=(*problem.away, *busy))


def _closings(
    name: str, heating: Heating, work: list[tuple[int, int]], ready: Ready | None
) -> Iterator[Closing]:
    """When one place is closed: until it is hot in each session, and for its make-ups."""
    cold_s = work[0][0]
    known_s, known_due_s = heating.ready_s, heating.due_s
    for number, (opens_s, closes_s) in enumerate(work):
        ready_s = opens_s + heating.heat_up_s if known_s is None else known_s
        if ready_s - cold_s >= 2:
            yield Closing(name, cold_s, ready_s, "heats up")
        if ready is not None and heating.after_s is not None:
            if known_s is None:
                ready_s = max(ready_s, ready.get((name, number), ready_s))
            due_s = ready_s + heating.after_s if known_due_s is None else known_due_s
            yield from _make_ups(name, heating, due_s, closes_s)
        cold_s = closes_s
        known_s = known_due_s = None  # only of the present session


def _make_ups(name: str, heating: Heating, due_s: int, closes_s: int) -> Iterator[Closing]:
    """The make-ups of one place in one session, the first at ``due_s``."""
    for _ in range(MOST_CYCLES):
        if due_s >= closes_s:
            return
        work_s = due_s + heating.cool_s
        done_s = work_s + heating.hands_s
        ready_s = done_s + heating.heat_up_s
        hands = (work_s, done_s) if done_s < closes_s else None
        yield Closing(name, due_s, min(ready_s, closes_s), "made up", hands)
        due_s = ready_s + (heating.after_s or 0)


def ready_times(problem: Problem, plan: Plan) -> Ready:
    """When the first part of each session leaves for each heated place, in a plan."""
    hot = {station.name for station in problem.stations if station.heating is not None}
    found: dict[tuple[str, int], int] = {}
    for number, (opens_s, closes_s) in enumerate(sessions(problem)):
        for move in _brings(plan):
            if move.to_station in hot and opens_s <= move.start_s < closes_s:
                key = (move.to_station, number)
                found[key] = min(found.get(key, move.start_s), move.start_s)
    return found


def _brings(plan: Plan) -> list[PlannedMove]:
    """The moves that lead into a dwell."""
    return [move for move in plan.moves if move.step != DONE]


def fits(problem: Problem, plan: Plan) -> bool:
    """Whether a plan keeps the closings and the hours away of a problem."""
    closed = {station.name: station.closed for station in problem.stations}
    stays = all(
        dwell.out_s <= from_s or max(dwell.in_s, problem.now_s) >= to_s
        for dwell in plan.dwells
        for from_s, to_s in closed[dwell.station]
    )
    brings = all(
        not from_s <= move.start_s < to_s
        for move in _brings(plan)
        for from_s, to_s in closed[move.to_station]
    )
    hands = all(
        move.end_s <= away.from_s or move.start_s >= away.to_s
        for move in plan.moves
        for away in problem.away
    )
    return stays and brings and hands
