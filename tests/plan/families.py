"""Families of seeded problems for the tournament and the campaigns: breaks, evenings, jobs.

All are invented: small fittings in shared tanks, blades with long soaks, a knife that needs
both. A family takes a seed; the same seed gives the same problem.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import pairwise

from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from tests.plan.build import any_order, mixed, tight
from tests.plan.generate import cut_at

H = 3600
DAY = 24 * H


def breaks(parts: int, count: int, seed: int, hands: int = 1) -> Problem:
    """Three recipes over shared tanks, with ``count`` breaks of 5 to 20 minutes."""
    rng = random.Random(f"breaks {parts} {count} {seed}")
    problem = mixed(parts, rng.randrange(10**6))
    time, windows = 0, []
    for _ in range(count):
        time += rng.randrange(15 * 60, 70 * 60, 60)
        length = 15 * 60 if count == 1 else rng.randrange(5 * 60, 20 * 60, 60)
        windows.append(AwayTime(time, time + length))
        time += length
    return replace(problem, away=tuple(windows), hands=hands)


def two_people(parts: int, seed: int) -> Problem:
    """The same with two people and no break."""
    return breaks(parts, 0, seed, hands=2)


def mixed_day(parts: int, seed: int) -> Problem:
    """Three recipes over shared tanks, without a break."""
    rng = random.Random(f"mixed {seed}")
    return mixed(parts, rng.randrange(10**6))


def evenings(days: int, first_s: int = 0) -> tuple[AwayTime, ...]:
    """Hours away except 18:30 to 22:30, counted from 18:30 on a Monday."""
    windows = []
    for day in range(days):
        opens = day * DAY
        closes = opens + 4 * H
        if day % 7 >= 5:  # Saturday and Sunday from 9 to 18
            opens, closes = day * DAY - 9 * H - 1800, day * DAY - 1800
        windows.append((opens, closes))
    spans = [(max(first_s, a), b) for a, b in windows if b > first_s]
    return tuple(AwayTime(b, c) for (_, b), (c, _) in pairwise(spans))


def _fitting(rng: random.Random) -> Route:
    """Clean, rinse, salts, boil, oil: one evening's work."""
    dwells = (
        DwellLimits("cleaner", 300, 900, 420),
        DwellLimits("rinse", 30, 300, 60),
        DwellLimits("salts", 300, 1200, rng.randrange(420, 660, 30)),
        DwellLimits("boil", 300, 1200, 600),
        DwellLimits("oil", 600, None, 900),
    )
    return Route("fitting", tuple(Move(rng.randrange(30, 150, 15)) for _ in range(6)), dwells)


def _blade(rng: random.Random, etches: int) -> list[tuple[int, DwellLimits]]:
    """(hands, dwell): etch cycles, neutralizer, a darkening soak of most of a day, a cure."""
    steps: list[tuple[int, DwellLimits]] = []
    for _ in range(etches):
        steps.append((rng.randrange(60, 240, 30), DwellLimits("etch", 300, 900, 480)))
    steps.append((120, DwellLimits("soda", 600, 7200, 900)))
    steps.append((rng.randrange(300, 900, 60), DwellLimits("dark", 6 * H, 30 * H, 8 * H)))
    steps.append((rng.randrange(300, 900, 60), DwellLimits("hook", 8 * H, None, 10 * H)))
    return steps


def _route(name: str, steps: list[tuple[int, DwellLimits]], last_s: int) -> Route:
    moves = (*(Move(hands) for hands, _ in steps), Move(last_s))
    return Route(name, moves, tuple(dwell for _, dwell in steps))


TANKS = (
    PlanStation("cleaner", 2), PlanStation("rinse", 2), PlanStation("salts", 2),
    PlanStation("boil", 2), PlanStation("oil", 6), PlanStation("etch", 1), PlanStation("soda", 2),
    PlanStation("dark", 2), PlanStation("hook", 4), PlanStation("rest", 100),
)  # fmt: skip


def evening_week(seed: int) -> Problem:
    """Blades with long soaks, and fittings, on weekday evenings and a weekend."""
    rng = random.Random(f"week {seed}")
    blade = _route("blade", _blade(rng, rng.randint(2, 4)), 600)
    fitting = _fitting(rng)
    parts = [PlanPart(f"blade {n + 1}", blade) for n in range(rng.randint(1, 3))]
    parts += [PlanPart(f"ferrule {n + 1}", fitting) for n in range(rng.randint(4, 8))]
    return Problem(TANKS, tuple(parts), away=evenings(21))


def job(seed: int, knives: int = 4) -> Problem:
    """Knives made from blade, bolster, ferrule and butt cap, over two weeks of evenings."""
    rng = random.Random(f"job {seed}")
    rest = DwellLimits("rest", 0, None, 0)
    fitting = _fitting(rng)
    temper = [(300, DwellLimits("oven", 2 * H, 3 * H, 2 * H)), (120, rest)] * 2
    steps = [*temper, *_blade(rng, 3), (1800, rest), (900, DwellLimits("hook", 1800, None, 3600))]
    blade = _route("blade", steps, 900)
    knife = _route(
        "knife", [(2400, DwellLimits("clamp", 12 * H, None, 14 * H)), (3600, rest)], 1800
    )
    parts: list[PlanPart] = []
    for n in range(knives):
        own = [PlanPart(f"{name} {n + 1}", fitting) for name in ("bolster", "ferrule", "butt cap")]
        parts += [PlanPart(f"blade {n + 1}", blade), *own]
        names = (f"blade {n + 1}", *(part.name for part in own))
        parts.append(PlanPart(f"knife {n + 1}", knife, after=names))
    stations = (*TANKS, PlanStation("oven", 2), PlanStation("clamp", 2))
    return Problem(stations, tuple(parts), away=evenings(42))


def closings(seed: int) -> Problem:
    """Salts that need a make-up every 40 minutes, a break, and a join."""
    rng = random.Random(f"closings {seed}")
    problem = any_order(rng.randint(3, 5), rng.randrange(10**6))
    at, spans = rng.randrange(300, 1500, 60), []
    for _ in range(3):
        spans.append((at, at + rng.randrange(300, 1200, 60)))
        at = spans[-1][1] + rng.randrange(900, 2400, 60)
    shut = rng.choice(problem.stations).name
    stations = tuple(
        replace(s, closed=tuple(spans)) if s.name == shut else s for s in problem.stations
    )
    parts = problem.parts
    if rng.random() < 0.5:
        parts = (*parts[:-1], replace(parts[-1], after=(parts[0].name,)))
    away = (AwayTime(1200, 1500),) if rng.random() < 0.5 else ()
    return replace(problem, stations=stations, parts=parts, away=away)


def joins(seed: int) -> Problem:
    """Parts that wait for other parts, sometimes with a break."""
    rng = random.Random(f"joins {seed}")
    problem = mixed(rng.randint(4, 6), rng.randrange(10**6))
    parts = list(problem.parts)
    for n in range(2, len(parts)):
        if rng.random() < 0.5:
            names = rng.sample([part.name for part in parts[:n]], rng.randint(1, 2))
            parts[n] = replace(parts[n], after=tuple(names))
    away = (AwayTime(2400, 3300),) if rng.random() < 0.5 else ()
    return replace(problem, parts=tuple(parts), away=away)


def mid_week(seed: int) -> Problem:
    """The evening week at some moment of its plan, up to five minutes late."""
    rng = random.Random(f"mid-week {seed}")
    problem = evening_week(seed)
    plan = solve(problem, nodes=200).plan
    assert plan is not None
    middle = rng.choice(plan.moves)
    return cut_at(problem, plan, middle.start_s + 1, rng.choice((0, 60, 300)))


FAMILIES: dict[str, Callable[[int], Problem]] = {
    "one break, 6 parts": partial(breaks, 6, 1),
    "one break, 8 parts": partial(breaks, 8, 1),
    "one break, 10 parts": partial(breaks, 10, 1),
    "five breaks, 6 parts": partial(breaks, 6, 5),
    "five breaks, 10 parts": partial(breaks, 10, 5),
    "evening week": evening_week,
    "evening week in mid-run": mid_week,
    "two people, 6 parts": partial(two_people, 6),
    "two people, 10 parts": partial(two_people, 10),
    "mixed, 8 parts": partial(mixed_day, 8),
    "mixed, 12 parts": partial(mixed_day, 12),
    "mixed, 16 parts": partial(mixed_day, 16),
    "mixed, 24 parts": partial(mixed_day, 24),
    "any order, 8 parts": partial(any_order, 8),
    "any order, 12 parts": partial(any_order, 12),
    "tight windows, 8 parts": partial(tight, 8),
    "closings and joins": closings,
    "job of 4 knives": job,
}
