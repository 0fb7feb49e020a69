"""A plan in which equal parts start one after the other at their shortest steady interval.

Placed one by one, each part ends as early as it can, which holds up those behind it. At the steady
interval every part makes its moves at the same times after its start, so none waits for another.
"""

from __future__ import annotations

import random
from collections import Counter

from benchtimer.plan.cadence import Cadence, cadence
from benchtimer.plan.instance import FAR_S
from benchtimer.plan.placement import Placer, reach, trace
from benchtimer.plan.problem import Route
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.sections import PartSection
from benchtimer.plan.timetable import Timetable
from benchtimer.values import replace

MANY = 6
"""Fewer equal parts are placed well without a steady interval."""
SHARE, NODES = 0.1, 300
"""The share of the budget for each interval, and the most branches to open."""

Kind = tuple[int, int]
"""(line, first move) of equal sections."""


def plan_at_cadence(placer: Placer, limits: SearchLimits, rng: random.Random) -> Timetable | None:
    """All sections placed, those with many equals at a steady interval.

    Args:
        placer: for the problem.
        limits: a share of them goes to each interval.
        rng: breaks ties.

    Returns None without many equals, or if a section has no time.
    """
    instance = placer.instance
    line_of = {part: n for n, line in enumerate(instance.lines) for part in line.parts}
    kinds = {
        number: (line_of[section.part], section.first)
        for number, section in placer.sections.items()
        if section.entered_s is None
    }
    counts = Counter(kinds.values()) if instance.is_alone else Counter()
    steady: dict[Kind, Cadence] = {}
    for kind, number in {kind: number for number, kind in kinds.items()}.items():
        if counts[kind] >= MANY:
            found = _interval(placer, placer.sections[number], limits.within(SHARE, NODES))
            if found.cadence_s is not None:
                steady[kind] = found
    if not steady:
        return None
    order, table = placer.urgent_first(), Timetable(instance)
    if not placer.place_all(table, [n for n in order if kinds.get(n) not in steady], rng):
        return None
    begun: dict[Kind, int] = {}
    """When the last section of each kind starts."""
    for number in placer.with_feeders([n for n in order if kinds.get(n) in steady]):
        kind = kinds[number]
        if not (
            _fits(placer, table, number, steady[kind], begun.get(kind, -FAR_S))
            or placer.place_all(table, [number], rng)
        ):
            return None
        begun[kind] = table.starts_of[number][0]
    return table


def _interval(placer: Placer, section: PartSection, limits: SearchLimits) -> Cadence:
    """The steady interval for sections like this one."""
    problem, free = placer.instance.problem, placer.instance.capacity
    route, first = problem.parts[section.part].route, section.first
    end = first + len(section.hands_s)
    moves = [
        replace(move, from_station=route.came_from(m), to_station=route.goes_to(m))
        for m, move in enumerate(route.moves[first:end], first)
    ]
    stations = [
        replace(s, holds=n) if n else s for s, n in zip(problem.stations, free, strict=True)
    ]
    part_route = Route(route.name, tuple(moves), route.dwells[first : end - 1])
    return cadence(stations, part_route, problem.walks, limits)


def _fits(placer: Placer, table: Timetable, number: int, steady: Cadence, begun_s: int) -> bool:
    """Place a section with the times of a steady interval, if they fit anywhere.

    Args:
        placer: for the problem.
        table: what is placed; it gets the section if it fits.
        number: of the section.
        steady: the interval, with the starts of its moves.
        begun_s: when the section before it starts.
    """
    section, starts = placer.sections[number], steady.starts_s
    stays = [0] + [
        start - before - hands_s
        for before, start, hands_s in zip(starts, starts[1:], section.hands_s, strict=False)
    ]
    exact = replace(section, min_s=stays, max_s=stays)
    floor_s = max(placer.floor_s(table, section), begun_s + (steady.cadence_s or 0))
    ends = reach(table, exact, FAR_S, floor_s)
    if ends.stuck is None:
        table.put(section, trace(ends, exact))
    return ends.stuck is None
