"""The baths on a part's path to the next place where it can wait: each must be hot first.

A place to wait is a dwell without max, or one with a target of zero.
"""

from __future__ import annotations

from collections.abc import Iterator

from benchtimer.recipe.model import Step
from benchtimer.run.actions import NO_PLAN, PlanTimes
from benchtimer.run.guards import makes_safe
from benchtimer.run.readiness import bad_reading, make_up_due_ms, make_up_s, ready_at_ms
from benchtimer.run.run_state import Bench, Part, PartPhase, Place, window_of
from benchtimer.run.setup import heat_key

KEPT_HOT_MS = 2 * 3_600_000
"""How long a boil is kept going with nothing in it. The program's own judgment."""


def steps_ahead(bench: Bench, part: Part) -> Iterator[tuple[Step, int]]:
    """The steps up to the next place to wait, each with the seconds of travel to its place."""
    index, way_s = bench.next_index(part), 0
    for step in bench.recipe_of(part).step[index:] if index is not None else ():
        way_s += step.hands_s
        yield step, way_s
        if step.dwell is not None:
            if step.dwell.is_rest:
                return
            way_s += step.dwell.target_s


def is_cold(bench: Bench, place: Place, now_ms: int) -> bool:
    """Whether a place has to be heated before it is used.

    It counts as hot in the session in which it was heated, read, or used without a reading; while a
    part is in it; and if you put its heat off. A place without readings, such as a boil, counts as
    hot for ``KEPT_HOT_MS`` after it was heated or used, and while a part is on its way to it.

    Args:
        bench: the run's bench.
        place: the place.
        now_ms: bench time.
    """
    station = place.station
    inside = place.guests or bench.inside(station.id)
    if station.heat_up_s is None or place.cooling_ms is not None or inside:
        return False
    if station.temperature is None and place.heated_ms is not None:
        let_go_ms = max(place.heated_ms, place.touched_ms) + KEPT_HOT_MS
        return now_ms > let_go_ms and not _is_awaited(bench, station.id, let_go_ms)
    said = (place.reading, place.skipped, bench.prepared.get(heat_key(station.id)))
    times = [place.heated_ms, *(each.t_ms for each in said if each is not None)]
    since_ms = bench.session_began_ms(now_ms)
    return not any(t_ms is not None and t_ms >= since_ms for t_ms in times)


def _is_awaited(bench: Bench, name: str, let_go_ms: int) -> bool:
    """Whether a boil is kept going longer for a part on its way that is due soon."""
    for part in bench.parts.values():
        due_ms = comes_ms(bench, part, name, NO_PLAN)
        soon = due_ms is not None and due_ms - let_go_ms <= KEPT_HOT_MS
        if soon and is_under_way_to(bench, part, name):
            return True
    return False


def ready_ahead_ms(bench: Bench, part: Part, now_ms: int, plan: PlanTimes = NO_PLAN) -> int:
    """The earliest departure with no bath on the way still heating; 0 for right away.

    A bath of the very next move is read before the part leaves for it, so it is ready by then.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
        plan: the planner's times, which can put off a make-up for the part.
    """
    floor_ms, moves = 0, 0
    for step, way_s in steps_ahead(bench, part):
        place = bench.places.get(step.at or "")
        first = moves == 0 and not makes_safe(bench, step)
        moves += step.dwell is not None
        if place is None:
            continue
        waits = make_up_waits_for(bench, part, step.at or "", now_ms, plan)
        comes_ms = None if waits else now_ms + way_s * 1000
        ready_ms = _ready_ms(bench, place, now_ms, comes_ms)
        if ready_ms is not None:
            floor_ms = max(floor_ms, ready_ms - (0 if first else way_s * 1000))
    return floor_ms


def _ready_ms(bench: Bench, place: Place, now_ms: int, comes_ms: int | None) -> int | None:
    """When a place will be ready; None if it is ready now or when the part arrives.

    Args:
        bench: the run's bench.
        place: where the part goes.
        now_ms: bench time.
        comes_ms: when it would arrive; None if the make-up waits for it.
    """
    heat_ms = (place.station.heat_up_s or 0) * 1000
    if is_cold(bench, place, now_ms):
        return now_ms + heat_ms
    needs, due_ms = place.station.make_up, make_up_due_ms(place)
    if needs and due_ms is not None and comes_ms is not None and due_ms <= comes_ms:
        return max(due_ms, now_ms) + make_up_s(place.station) * 1000
    return ready_at_ms(place)


def make_up_waits_for(bench: Bench, part: Part, name: str, now_ms: int, plan: PlanTimes) -> bool:
    """Whether a make-up waits for a part, because it is on its way or the plan brings it first.

    A plan that brings a part before the place could be hot again had no time for both.

    Args:
        bench: the run's bench.
        part: the part.
        name: the place.
        now_ms: bench time.
        plan: the planner's times.
    """
    if is_under_way_to(bench, part, name):
        return True
    place, comes = bench.places[name], comes_ms(bench, part, name, plan)
    due_ms = make_up_due_ms(place)
    if part.name not in plan.begin_ms or comes is None or due_ms is None or bad_reading(place):
        return False
    return comes < max(due_ms, now_ms) + make_up_s(place.station) * 1000


def is_under_way_to(bench: Bench, part: Part, name: str) -> bool:
    """Whether a part has left its last place to wait and goes to this place next.

    Args:
        bench: the run's bench.
        part: the part.
        name: the place's name.
    """
    if part.is_out or part.held is not None or part.began_ms is None:
        return False
    dwell = bench.step_of(part).dwell
    at_rest = dwell is None or dwell.is_rest
    if part.phase is PartPhase.DWELLING and at_rest:
        return False
    return any(step.at == name for step, _ in steps_ahead(bench, part))


def comes_ms(bench: Bench, part: Part, name: str, plan: PlanTimes) -> int | None:
    """When a part is due at a place on its way; None if it goes somewhere else or is on hold.

    Args:
        bench: the run's bench.
        part: the part.
        name: the place's name.
        plan: the planner's times.
    """
    if part.is_out or part.held is not None:
        return None
    way_s = next((way_s for step, way_s in steps_ahead(bench, part) if step.at == name), None)
    if way_s is None:
        return None
    window = window_of(bench, part)
    leaves_ms = window.target_ms if window is not None else part.not_before_ms or part.since_ms
    return plan.begin_ms.get(part.name, leaves_ms) + way_s * 1000


def hot_by_ms(bench: Bench, part: Part, name: str, plan: PlanTimes) -> int | None:
    """When a place must be hot for a part; None if the part does not go there next.

    A part leaves the place before only once this one is hot, at the bench and in the plan.

    Args:
        bench: the run's bench.
        part: the part.
        name: the place's name.
        plan: the planner's times.
    """
    comes = comes_ms(bench, part, name, plan)
    leaves_s = 0
    for step, way_s in steps_ahead(bench, part):
        if step.at == name and comes is not None:
            return comes - (way_s - leaves_s) * 1000
        if step.dwell is not None:
            leaves_s = way_s + step.dwell.target_s
    return None
