"""Small builders of planning problems for the tests and the benchmark."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from benchtimer.plan.problem import DwellLimits, Move, PlanPart, PlanStation, Problem, Route


def route(name: str, hands: list[int], dwells: Sequence[tuple[str, int, int | None]]) -> Route:
    """A route from hands-on seconds and (station, min, max) triples."""
    return Route(
        name,
        tuple(Move(h) for h in hands),
        tuple(DwellLimits(s, least, most) for s, least, most in dwells),
    )


CLEAN_SALTS_BOIL = route(
    "clean-salts-boil",
    [60, 90, 45, 60],
    [("clean", 300, 900), ("salts", 480, 1200), ("boil", 600, 1800)],
)


def at_target(problem: Problem) -> Problem:
    """The same problem with every dwell's min raised to its target."""

    def lasting(part: PlanPart) -> PlanPart:
        dwells = tuple(replace(d, min_s=d.wished_s) for d in part.route.dwells)
        return replace(part, route=replace(part.route, dwells=dwells))

    return replace(problem, parts=tuple(lasting(part) for part in problem.parts))


def equal_parts(count: int, clean: int = 3, salts: int = 2, boil: int = 3) -> Problem:
    """Equal small fittings that pass through three tanks."""
    stations = (PlanStation("clean", clean), PlanStation("salts", salts), PlanStation("boil", boil))
    parts = tuple(PlanPart(f"ferrule {i + 1}", CLEAN_SALTS_BOIL) for i in range(count))
    return Problem(stations, parts)


def tight(count: int, seed: int) -> Problem:
    """One-slot tanks, 10% windows, and three routes over four tanks."""
    rng = random.Random(seed)
    names = ["a", "b", "c", "d"]
    routes = []
    for r in range(3):
        order = rng.sample(names, 3)
        dwells = []
        for name in order:
            least = rng.randrange(120, 600, 10)
            dwells.append((name, least, least + least // 10))
        routes.append(route(f"r{r}", [rng.randrange(20, 60, 5) for _ in range(4)], dwells))
    parts = tuple(PlanPart(f"p{i + 1}", routes[i % 3]) for i in range(count))
    return Problem(tuple(PlanStation(n, 1) for n in names), parts)


def mixed(count: int, seed: int = 1) -> Problem:
    """Three recipes with wide windows over shared tanks."""
    rng = random.Random(seed)
    names = ["clean", "salts", "boil", "oil"]
    routes = []
    for r in range(3):
        order = names if r == 0 else [n for n in names if n != names[r]]
        dwells = [(n, (least := rng.randrange(120, 900, 30)), least * 2) for n in order]
        hands = [rng.randrange(30, 120, 15) for _ in range(len(order) + 1)]
        routes.append(route(f"r{r}", hands, dwells))
    parts = tuple(PlanPart(f"p{i + 1}", routes[i % 3]) for i in range(count))
    return Problem(
        tuple(PlanStation(n, h) for n, h in zip(names, (2, 2, 2, 1), strict=True)), parts
    )


def any_order(count: int, seed: int, slack: float = 1.0, slots: int = 2) -> Problem:
    """Three recipes that visit three of four tanks each, in any order."""
    rng = random.Random(f"hard{seed}")
    names = ("clean", "rinse", "salts", "boil")
    routes = []
    for r in range(3):
        order = rng.sample(names, 3)
        hands = [rng.randrange(15, 95, 5) for _ in range(4)]
        dwells = []
        for name in order:
            least = rng.randrange(60, 600, 5)
            dwells.append((name, least, least + int(least * slack)))
        routes.append(route(f"r{r}", hands, dwells))
    parts = tuple(PlanPart(f"p{i + 1}", routes[i % 3]) for i in range(count))
    return Problem(tuple(PlanStation(n, rng.randint(1, slots)) for n in names), parts)
