"""Baths out of range or drifting there: what to do, and the time left."""

from __future__ import annotations

import re
from collections.abc import Collection

from benchtimer.quantity import Quantity, show_number
from benchtimer.run.readiness import drift, is_needed, out_of_window
from benchtimer.run.run_state import Bench, Place
from benchtimer.view.words import remedy, short_temperature

SOON_MS = 3_600_000
"""A limit is shown if it is closer than this, from a reading no older than this."""


def time_to_limit(place: Place, now_ms: int) -> str:
    """The limit a bath is drifting to and about when, within the hour; empty if none.

    The minutes are rounded down; if the trend has passed the limit without a reading, it says any
    minute.
    """
    found = drift(place)
    last, window = place.reading, place.station.temperature
    if found is None or last is None or window is None or last.verdict != "in":
        return ""
    left_ms = found.at_ms - now_ms
    if place.cooling_ms is not None or left_ms >= SOON_MS or now_ms - last.t_ms >= SOON_MS:
        return ""
    limit = window.max if found.limit == "max" else window.min
    minutes = left_ms // 60_000
    return f"{limit} in about {minutes} min" if minutes > 0 else f"{limit} any minute"


def limits_ahead(bench: Bench, now_ms: int) -> list[str]:
    """A line for each bath that will reach a limit within the hour while a part still needs it."""
    lines = []
    for name, place in bench.places.items():
        words = time_to_limit(place, now_ms)
        if words and is_needed(bench, name):
            lines.append(f"{place.station.title}: {words}")
    return lines


def slope_words(place: Place) -> str:
    """How fast a bath's temperature changes, in the unit of its window; empty without a trend."""
    found, window = drift(place), place.station.temperature
    if found is None or window is None:
        return ""
    unit = window.min.unit
    an_hour = Quantity(abs(found.c_per_min) * 60, "C").to("C").value * (1.8 if unit == "F" else 1)
    verb = "rises" if found.c_per_min > 0 else "falls"
    return f"{verb} {show_number(an_hour, 0)} {unit} an hour"


def remedies(bench: Bench, only: Collection[str] | None = None) -> str:
    """Everything to do about the baths that are out of range, one order per line; empty if none
    are.

    Args:
        bench: a run's bench.
        only: ids of the places that count; all of them if None.
    """
    texts = []
    for name, place in bench.places.items():
        wrong, text = out_of_window(place), remedy(place)
        window = place.station.temperature
        if wrong is None or window is None or (only is not None and name not in only):
            continue
        low, high = (short_temperature(str(limit)) for limit in (window.min, window.max))
        orders = sentences(text) if text else ["The recipe says nothing about this."]
        texts.append("\n".join([f"{wrong.upper()} (range {low} to {high})", *orders]))
    return "\n\n".join(texts)


def sentences(text: str) -> list[str]:
    """A text, sentence by sentence."""
    return re.split(r"(?<=[.!?])\s+", " ".join(text.split()))
