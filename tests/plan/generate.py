"""Seeded planning problems of many kinds, small enough for a general solver."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from benchtimer.plan.outcome import Plan
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
    Walk,
)

NAMES = ("clean", "rinse", "salts", "boil")


def _dwell(rng: random.Random, station: str, slack: float | None) -> DwellLimits:
    least = rng.randrange(60, 600, 5)
    most = None if slack is None else least + int(least * slack) // 5 * 5
    aim = least if most is None else rng.randrange(least, most + 1, 5)
    return DwellLimits(station, least, most, aim)


def _route(rng: random.Random, name: str, slack: float | None, stations: list[str]) -> Route:
    moves = tuple(Move(rng.randrange(15, 95, 5)) for _ in range(len(stations) + 1))
    return Route(name, moves, tuple(_dwell(rng, s, slack) for s in stations))


def _stations(rng: random.Random, most_slots: int) -> tuple[PlanStation, ...]:
    return tuple(PlanStation(name, rng.randint(1, most_slots)) for name in NAMES)


def equal(rng: random.Random) -> Problem:
    """Equal parts through three tanks."""
    slack = rng.choice([0.3, 1.0, None])
    route = _route(rng, "one", slack, rng.sample(NAMES, 3))
    return Problem(
        _stations(rng, 3), tuple(PlanPart(f"p{i}", route) for i in range(rng.randint(2, 4)))
    )


def mixed(rng: random.Random, slack: float | None = 1.0, most_slots: int = 2) -> Problem:
    """Parts with two or three recipes over shared tanks, some visiting a tank twice."""
    routes = []
    for r in range(rng.randint(2, 3)):
        stations = rng.sample(NAMES, rng.randint(1, 3))
        if rng.random() < 0.2:
            stations.insert(rng.randint(0, len(stations)), rng.choice(stations))
        routes.append(_route(rng, f"r{r}", slack, stations))
    count = rng.randint(3, 5)
    parts = tuple(PlanPart(f"p{i}", routes[i % len(routes)]) for i in range(count))
    return Problem(_stations(rng, most_slots), parts)


def tight(rng: random.Random) -> Problem:
    """One-slot tanks and 10% windows; some problems have no plan."""
    return mixed(rng, 0.1, 1)


def walks(rng: random.Random) -> Problem:
    """Stations along a wall: walks by distance, never longer than a loaded move."""
    problem = mixed(rng)
    at = {name: rng.randrange(0, 15) for name in NAMES}
    pairs = [
        Walk(a, b, abs(at[a] - at[b]) + (a < b and at[a] != at[b]))
        for a in NAMES
        for b in NAMES
        if a != b
    ]
    return replace(problem, walks=tuple(pairs), hands_at=rng.choice(NAMES))


def releases(rng: random.Random) -> Problem:
    """Parts that become available later."""
    problem = mixed(rng)
    parts = tuple(replace(p, release_s=rng.randrange(0, 1500, 5)) for p in problem.parts)
    return replace(problem, parts=parts)


def away(rng: random.Random) -> Problem:
    """Hours when everyone is away."""
    problem = mixed(rng, rng.choice([1.0, 2.0, None]))
    windows = []
    time = 0
    for _ in range(rng.randint(1, 3)):
        time += rng.randrange(100, 900, 5)
        length = rng.randrange(100, 800, 5)
        windows.append(AwayTime(time, time + length))
        time += length
    return replace(problem, away=tuple(windows))


def midrun(rng: random.Random) -> Problem:
    """A bench in mid-run: a plan cut at some second, a little late, sometimes with a part held."""
    from benchtimer.plan.planner import solve  # the generator needs a plan to cut

    while True:
        problem = rng.choice([equal, mixed])(rng)
        plan = solve(problem).plan
        if plan is None or plan.end_s is None:
            continue
        cut = cut_at(problem, plan, rng.randrange(1, plan.end_s), rng.choice([0, 5, 20]))
        if rng.random() < 0.2:
            cut = _hold_one(rng, cut)
        return rebased(cut) if rng.random() < 0.5 else cut


def rebased(problem: Problem) -> Problem:
    """The same problem with time counted from now: entries become negative."""
    now_s = problem.now_s
    parts = tuple(
        replace(
            part,
            release_s=part.release_s - now_s,
            entered_s=None if part.entered_s is None else part.entered_s - now_s,
        )
        for part in problem.parts
    )
    away = tuple(AwayTime(a.from_s - now_s, a.to_s - now_s) for a in problem.away)
    return replace(problem, parts=parts, away=away, now_s=0)


def _hold_one(rng: random.Random, problem: Problem) -> Problem:
    parts = list(problem.parts)
    i = rng.randrange(len(parts))
    if parts[i].moving_s is None and not parts[i].is_done:
        parts[i] = replace(parts[i], held=True)
    return replace(problem, parts=tuple(parts))


def cut_at(problem: Problem, plan: Plan, now_s: int, late_s: int = 0) -> Problem:
    """The problem at ``now_s`` when the plan was followed so far.

    ``late_s``: seconds by which the present is past ``now_s``, with nothing more done.
    """
    parts = []
    for part in problem.parts:
        moves = [m for m in plan.moves if m.part == part.name and m.start_s < now_s]
        if not moves:
            parts.append(part)
            continue
        last = moves[-1]
        if last.end_s > now_s:
            parts.append(
                replace(part, moves_made=last.move, entered_s=None, moving_s=last.end_s - now_s)
            )
        else:
            done = last.move + 1 == len(part.route.moves)
            parts.append(
                replace(
                    part,
                    moves_made=last.move + 1,
                    entered_s=None if done else last.end_s,
                    moving_s=None,
                )
            )
    return replace(problem, parts=tuple(parts), now_s=now_s + late_s, hands_at=None)


KINDS: dict[str, Callable[[random.Random], Problem]] = {
    "equal": equal,
    "mixed": mixed,
    "tight": tight,
    "walks": walks,
    "releases": releases,
    "away": away,
    "midrun": midrun,
}
