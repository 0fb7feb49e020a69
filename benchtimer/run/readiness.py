"""Whether a place can take a part: its readings, its trend, its heat and make-up.

A reading is too old past the recipe's ``every``, past the time at which its trend reaches a
limit if that is sooner, or from an earlier session if the recipe has no ``every``.
"""

from __future__ import annotations

import re

from benchtimer.recipe.model import Station
from benchtimer.run.run_state import Bench, OtherHeat, Place, StationReading
from benchtimer.values import dataclass

TREND_READINGS = 3
"""How many readings since the last make-up form a trend."""

SLOWEST_C_PER_MIN = 0.001
"""A slower trend doesn't count: it may be just rounding."""

FAR_MS = 2**62
"""A time that never comes."""


@dataclass(frozen=True, slots=True)
class Drift:
    """The trend of a place's temperature.

    Attributes:
        limit: the limit it will reach, as ``max`` or ``min``.
        at_ms: bench time at which it does.
        c_per_min: how fast it rises, in degrees Celsius a minute.
    """

    limit: str
    at_ms: int
    c_per_min: float


def is_needed(bench: Bench, name: str) -> bool:
    """Whether a part is in a place or still has to go in; one on hold goes nowhere."""
    for part in bench.parts.values():
        index = None if part.is_out or part.held is not None else bench.next_index(part)
        ahead = bench.recipe_of(part).step[index:] if index is not None else ()
        if part.station == name or any(step.at == name for step in ahead):
            return True
    return False


def kept_by_another(bench: Bench, place: Place) -> OtherHeat | None:
    """The run that keeps a bath at a temperature outside this run's window.

    A run with a part in the bath keeps it; so does one that needs it when this one does not.
    """
    name = place.station.id
    if bench.inside(name):
        return None
    needed = is_needed(bench, name)
    return next((h for h in place.other_heats if h.guest is not None or not needed), None)


def drift(place: Place) -> Drift | None:
    """The least-squares trend of the readings since the last make-up, if it reaches a limit."""
    window, readings = place.station.temperature, place.readings
    if window is None or len(readings) < TREND_READINGS:
        return None
    level, per_ms = _line(readings)
    if abs(per_ms) * 60_000 < SLOWEST_C_PER_MIN:
        return None
    limit = window.max if per_ms > 0 else window.min
    last = readings[-1]
    left_ms = (limit.base - level) / per_ms
    return Drift("max" if per_ms > 0 else "min", last.t_ms + max(0, round(left_ms)), per_ms * 60000)


def _line(readings: tuple[StationReading, ...]) -> tuple[float, float]:
    """The fitted temperature at the last reading, and its slope per millisecond."""
    last_ms = readings[-1].t_ms
    times = [r.t_ms - last_ms for r in readings]
    values = [r.quantity.base for r in readings]
    mean_t, mean_v = sum(times) / len(times), sum(values) / len(values)
    spread = sum((t - mean_t) ** 2 for t in times)
    if spread == 0:
        return values[-1], 0.0
    per_ms = sum((t - mean_t) * (v - mean_v) for t, v in zip(times, values, strict=True)) / spread
    return mean_v - per_ms * mean_t, per_ms


def good_until_ms(bench: Bench, place: Place, now_ms: int) -> int:
    """How long the last reading, or the reason for having none, is valid; 0 if there is none.

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
        return 0
    if window.every_s is None:
        return FAR_MS if reading.t_ms >= bench.session_began_ms(now_ms) else 0
    until_ms = reading.t_ms + window.every_s * 1000
    found = drift(place) if place.skipped is None else None
    return min(until_ms, max(found.at_ms, reading.t_ms)) if found is not None else until_ms


def wants_reading(bench: Bench, place: Place, now_ms: int) -> str | None:
    """Why a place must be read before a part goes in, in words; None if it need not be.

    Args:
        bench: the run's bench.
        place: the place.
        now_ms: bench time.
    """
    if place.station.temperature is None:
        return None
    if place.reading is None and place.skipped is None:
        return "not read yet"
    bad = bad_reading(place)
    if bad is not None:
        return bad
    if now_ms > good_until_ms(bench, place, now_ms):
        return "the last reading is too old"
    return None


def out_of_window(place: Place) -> str | None:
    """What is wrong with a place's last reading, in words; None if nothing is wrong."""
    if place.reading is None or place.reading.verdict == "in":
        return None
    wrong = "too cool" if place.reading.verdict == "low" else "too hot"
    return f"{place.station.title} reads {place.reading.quantity}, {wrong}"


def bad_reading(place: Place) -> str | None:
    """What keeps parts out: an out-of-range reading that you have not overridden since."""
    return out_of_window(place) if place.skipped is None or is_too_hot(place) else None


def is_too_hot(place: Place) -> bool:
    """Whether the last reading is above the ceiling: nothing goes in, even with E."""
    return place.reading is not None and place.reading.verdict == "above-ceiling"


def is_above(place: Place) -> bool:
    """Whether the last reading is above the window, and you have not gone on without it since."""
    hot = place.reading is not None and place.reading.verdict in ("high", "above-ceiling")
    return hot and bad_reading(place) is not None


_PULL = re.compile(r"(?<!not )(?<!never )\bpull\b", re.IGNORECASE)
_AT_MIN = re.compile(r"\bat (its|their) min\b")


def leaves_at_ms(place: Place, min_ms: int) -> int | None:
    """When a part has to leave a bath that is too hot; None if the recipe lets it stay.

    Above the ceiling, or if ``too_hot`` says "pull", it leaves at once; if that says "at its min",
    no sooner.

    Args:
        place: where the part is.
        min_ms: when its dwell reaches min.
    """
    if place.reading is None or not is_above(place):
        return None
    orders = re.split(r"(?<=[.!?;])\s+", place.station.too_hot or "")
    pull = next((order for order in orders if _PULL.search(order)), None)
    if is_too_hot(place):
        return place.reading.t_ms
    if pull is None:
        return None
    return max(place.reading.t_ms, min_ms if _AT_MIN.search(pull) else 0)


def not_ready(place: Place) -> str | None:
    """Why a place is closed for a while, in words; None if it is not closed."""
    if place.cooling_ms is not None:
        return "is cooling for its make-up"
    if place.heated_ms is not None and place.ready_ms is None and place.skipped is None:
        return "is heating up"
    return None


def ready_at_ms(place: Place) -> int | None:
    """When a place that is heating or cooling should be ready; None if unknown."""
    station = place.station
    if place.cooling_ms is not None and station.make_up is not None:
        return place.cooling_ms + make_up_s(station) * 1000
    if place.heated_ms is not None and place.ready_ms is None:
        return place.heated_ms + (station.heat_up_s or 0) * 1000
    return None


def make_up_s(station: Station) -> int:
    """How long a make-up keeps parts out: cooling, work, heating."""
    needs = station.make_up
    made_s = needs.cool_s + needs.hands_s if needs is not None else 0
    return made_s + (station.heat_up_s or 0)


def make_up_due_ms(place: Place) -> int | None:
    """When a place needs its make-up; None if it has none or the time is unknown."""
    if place.station.make_up is None or place.ready_ms is None or place.cooling_ms is not None:
        return None
    return place.ready_ms + place.station.make_up.after_s * 1000
