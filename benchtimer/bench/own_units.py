"""The bench in the maker's unit: windows and readings of every place in one unit."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor

from benchtimer.quantity import Quantity
from benchtimer.recipe.model import Window
from benchtimer.run.run_state import Bench, Place, RunState
from benchtimer.shop.shop_state import Shop

TENTHS = 10
"""Temperatures are shown to a tenth of a degree."""


def shop_in(shop: Shop, unit: str) -> Shop:
    """A shop with every temperature in one unit, for display; decisions use the recipes' units.

    Args:
        shop: the shop.
        unit: ``C`` or ``F``; the recipes' own if it is empty.
    """
    if not unit:
        return shop
    states = {run: _state_in(state, unit) for run, state in shop.states.items()}
    if all(states[run] is state for run, state in shop.states.items()):
        return shop
    return replace(shop, states=states)


def _state_in(state: RunState, unit: str) -> RunState:
    bench = _bench_in(state.bench, unit)
    return state if bench is state.bench else replace(state, bench=bench)


def _bench_in(bench: Bench, unit: str) -> Bench:
    places = {name: _place_in(place, unit) for name, place in bench.places.items()}
    if all(places[name] is place for name, place in bench.places.items()):
        return bench
    return replace(bench, places=places)


def _place_in(place: Place, unit: str) -> Place:
    window = place.station.temperature
    if window is None:
        return place
    units_used = {window.min.unit, window.max.unit, *(r.quantity.unit for r in place.readings)}
    if units_used == {unit}:
        return place
    station = place.station.model_copy(update={"temperature": _window_in(window, unit)})
    readings = tuple(replace(r, quantity=_rounded(r.quantity, unit)) for r in place.readings)
    return replace(place, station=station, readings=readings)


def _window_in(window: Window, unit: str) -> Window:
    """The window rounded inward: whatever is inside as shown is also inside as decided."""
    update = {
        "min": _tenths(window.min, unit, up=True),
        "max": _tenths(window.max, unit, up=False),
        "target": _rounded(window.target, unit) if window.target is not None else None,
        "ceiling": _tenths(window.ceiling, unit, up=False) if window.ceiling is not None else None,
    }
    return window.model_copy(update=update)


def _tenths(quantity: Quantity, unit: str, *, up: bool) -> Quantity:
    """A quantity in a unit, rounded to a tenth in one direction; as written in its own unit."""
    if quantity.unit == unit:
        return quantity
    tenths = round(quantity.to(unit).value * TENTHS, 6)
    return Quantity((ceil(tenths) if up else floor(tenths)) / TENTHS, unit)


def _rounded(quantity: Quantity, unit: str) -> Quantity:
    if quantity.unit == unit:
        return quantity
    return Quantity(round(quantity.to(unit).value, 1), unit)
