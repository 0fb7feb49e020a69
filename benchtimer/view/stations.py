"""The page of the stations: what is in each, its last reading, and when to read it next."""

from __future__ import annotations

from benchtimer.run.readiness import FAR_MS
from benchtimer.run.run_state import Bench, Place
from benchtimer.run.upkeep import reading_due_ms
from benchtimer.shop.shop_state import Shop
from benchtimer.store.log import Stamp
from benchtimer.view.bathtrouble import slope_words, time_to_limit
from benchtimer.view.words import age, short_temperature, time_ahead

WRONG = {"low": "LOW", "high": "HIGH", "above-ceiling": "TOO HOT"}


Known = tuple[str, Bench, Place]
"""A real place: its title, the first run that uses it, and the place in that run."""


def _known(shop: Shop) -> list[Known]:
    known = []
    for real in shop.places:
        bench = shop.bench(real.run)
        known.append((real.title, bench, bench.places[real.place]))
    return known


def page_rows(shop: Shop, stamp: Stamp) -> list[str]:
    """The stations one below the other, for a page of their own."""
    rows = []
    for title, bench, place in _known(shop):
        closed = f"   OUT OF SERVICE: {place.closed}" if place.closed is not None else ""
        rows.append(f"{title}   {_count(bench, place)}{closed}")
        rows += [
            f"    {text}"
            for text in (_parts(bench, place), _reading(bench, place, stamp), slope_words(place))
            if text
        ]
    return rows


def _inside(bench: Bench, place: Place) -> list[tuple[int, str]]:
    """Number and name of everything in a place, from any run."""
    own = [(part.number, part.called) for part in bench.inside(place.station.id)]
    return sorted([*own, *((guest.number, guest.name) for guest in place.guests)])


def _count(bench: Bench, place: Place) -> str:
    return f"{len(_inside(bench, place))}/{place.station.holds}"


def _parts(bench: Bench, place: Place) -> str:
    return ", ".join(f"#{number} {name}" for number, name in _inside(bench, place))


def _reading(bench: Bench, place: Place, stamp: Stamp) -> str:
    window = place.station.temperature
    if window is None:
        return ""
    limits = f"{short_temperature(str(window.min))} to {short_temperature(str(window.max))}"
    read = _last(place, stamp) if place.reading is not None else "not read yet"
    ahead = time_to_limit(place, stamp.noted_ms)
    ahead = f", {ahead}" if ahead else ""
    return f"{read} ({limits}){ahead}{_next(bench, place, stamp)}"


def _last(place: Place, stamp: Stamp) -> str:
    if place.reading is None:
        return ""
    value = short_temperature(str(place.reading.quantity))
    wrong = WRONG.get(place.reading.verdict, "")
    return f"{value} {f'{wrong} ' if wrong else ''}{age(stamp.noted_ms - place.reading.t_ms)} ago"


def _next(bench: Bench, place: Place, stamp: Stamp) -> str:
    """When the next reading is due; an empty bath is read before a part arrives."""
    due_ms = reading_due_ms(bench, place, stamp.noted_ms)
    if due_ms >= FAR_MS:
        return ""
    if place.reading is None or (not _inside(bench, place) and due_ms <= stamp.noted_ms):
        return ", read before the next part"
    if due_ms <= stamp.noted_ms:
        return ", READ NOW"
    return f", read {time_ahead(due_ms, stamp)}"
