"""What baths need by themselves: regular readings, make-up, and heat in time."""

from __future__ import annotations

from collections.abc import Iterator

from benchtimer.run import commands as c
from benchtimer.run.actions import NO_PLAN, Action, ActionKind, PlanTimes, Rank
from benchtimer.run.ahead import hot_by_ms, is_cold, make_up_waits_for
from benchtimer.run.readiness import (
    FAR_MS,
    bad_reading,
    good_until_ms,
    is_above,
    is_needed,
    kept_by_another,
    make_up_due_ms,
    out_of_window,
    ready_at_ms,
)
from benchtimer.run.run_state import Bench, Place
from benchtimer.run.setup import heat_key, heat_words, unread_page_of

AGAIN_S = 120
"""A bath that is out of range is read again this often until it is back."""

COOL_S = 15
"""Turning the heat down takes about this long (the program's own guess)."""

COOL_WORDS = "Turn its heat down. Read it again."
"""What to do about a bath that is too hot if the recipe says nothing."""

HEAT_EARLY_S = 60
"""The heat goes on this much earlier, because it takes time to read its page and turn it on.

Without this, a plan that waits for the heat and is redone every second would keep putting it off.
"""


def upkeep_actions(bench: Bench, now_ms: int, plan: PlanTimes = NO_PLAN) -> Iterator[Action]:
    """Readings, make-ups and heat that come due.

    Args:
        bench: the run's bench.
        now_ms: bench time.
        plan: the planner's times, for heat that a part needs on arrival.
    """
    for name, place in bench.places.items():
        if place.station.temperature is not None and place.cooling_ms is None:
            yield from _reading(bench, name, place, now_ms)
            yield from _cool(bench, name, place)
        yield from _make_up(bench, name, place, now_ms, plan)
        yield from _heat(bench, name, place, now_ms, plan)


def _heat(bench: Bench, name: str, place: Place, now_ms: int, plan: PlanTimes) -> Iterator[Action]:
    """Turn heat on in time for the next part, if a bath went cold or was not hot yet."""
    if not is_cold(bench, place, now_ms):
        return
    station = place.station
    coming = (hot_by_ms(bench, part, name, plan) for part in bench.parts.values())
    wanted = [t_ms for t_ms in coming if t_ms is not None]
    if wanted:
        heat_ms = ((station.heat_up_s or 0) + HEAT_EARLY_S) * 1000
        heat = Action(ActionKind.HEAT, max(0, min(wanted) - heat_ms),
                      to_station=name, command=c.Heat(name), item=heat_key(name),
                      title=heat_words(station), text=station.text or "")  # fmt: skip
        yield _after_page(bench, name, heat, now_ms)


def _cool(bench: Bench, name: str, place: Place) -> Iterator[Action]:
    """What to do about a bath that is too hot, once for each reading; its parts come first."""
    key, reading = f"cool {name}", place.reading
    done = bench.prepared.get(key)
    if reading is None or not is_above(place) or (done is not None and done.t_ms >= reading.t_ms):
        return
    if bench.occupants(name) or place.touched_ms > reading.t_ms:  # its parts were just pulled
        text = place.station.too_hot or COOL_WORDS
        yield Action(ActionKind.COOL, reading.t_ms, to_station=name, move_s=COOL_S, item=key,
                     command=c.Prepare(key, said="as the recipe says"), text=text,
                     rank=Rank.BETWEEN_STATIONS)  # fmt: skip


def _after_page(bench: Bench, name: str, action: Action, now_ms: int) -> Action:
    """The page to read before a place is heated or made up, or the action itself once it is
    read.
    """
    page = unread_page_of(bench, name, now_ms)
    if page is None:
        return action
    return Action(ActionKind.HAZARD, action.due_ms, to_station=name, hazard=page,
                  command=c.Acknowledge(page.title))  # fmt: skip


def _reading(bench: Bench, name: str, place: Place, now_ms: int) -> Iterator[Action]:
    """Regular readings while parts are in a bath, while it heats, or while it is out of range.

    If another run keeps a bath at its own temperature, that run asks for the readings.
    """
    since = [*(p.since_ms for p in bench.inside(name)), *(g.since_ms for g in place.guests)]
    heats = place.heated_ms is not None and place.ready_ms is None
    if not (since or heats or out_of_window(place)) or kept_by_another(bench, place):
        return
    due_ms = reading_due_ms(bench, place, now_ms)
    if due_ms >= FAR_MS:
        return
    yield Action(ActionKind.READING, max(due_ms, min(since, default=due_ms)), to_station=name)


def _make_up(
    bench: Bench, name: str, place: Place, now_ms: int, plan: PlanTimes
) -> Iterator[Action]:
    needs = place.station.make_up
    if needs is None or not is_needed(bench, name):
        return
    if place.cooling_ms is not None:
        due_ms, command = place.cooling_ms + needs.cool_s * 1000, c.EndMakeUp(name)
        ends = Action(ActionKind.MAKE_UP, due_ms, to_station=name, move_s=needs.hands_s,
                      command=command, title="Make it up and turn the heat on again",
                      text=needs.text)  # fmt: skip
        yield _after_page(bench, name, ends, now_ms)
        return
    due_ms_ = make_up_due_ms(place)
    if due_ms_ is not None:
        inside = bench.occupants(name)
        coming = [p.name for p in bench.parts.values()
                  if make_up_waits_for(bench, p, name, now_ms, plan)]  # fmt: skip
        blocked = f"waits for {', '.join(coming)}" if coming else None
        blocked = f"parts in it: {', '.join(inside)}" if inside else blocked
        yield Action(ActionKind.MAKE_UP, due_ms_, to_station=name, command=c.BeginMakeUp(name),
                     title="Turn the heat off: let it cool for its make-up", text=needs.text,
                     blocked=blocked)  # fmt: skip


def reading_due_ms(bench: Bench, place: Place, now_ms: int) -> int:
    """When a place should be read next; ``FAR_MS`` if it needs no reading.

    Never read: right away, or when it has heated up. Out of range: soon again. Otherwise when the
    last reading expires.

    Args:
        bench: the run's bench.
        place: the place.
        now_ms: bench time.
    """
    window = place.station.temperature
    if window is None:
        return FAR_MS
    reading = place.skipped or place.reading
    if reading is None:
        ready_ms = ready_at_ms(place)
        return ready_ms if ready_ms is not None else 0
    if bad_reading(place) is not None:
        return reading.t_ms + min(window.every_s or AGAIN_S, AGAIN_S) * 1000
    return good_until_ms(bench, place, now_ms)
