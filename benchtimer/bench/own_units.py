"""The bench in the maker's unit: windows and readings of every place in one unit."""

from __future__ import annotations

from math import ceil, floor

from benchtimer.quantity import Quantity
from benchtimer.recipe.checks import ReadingCheck
from benchtimer.recipe.model import Window
from benchtimer.run.actions import Action
from benchtimer.run.run_state import Bench, Place, RunState
from benchtimer.shop.shop_state import Shop
from benchtimer.values import replace

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


def unit_of(shop: Shop, unit: str) -> str:
    """The one unit of a screen: the maker's; else, where recipes or readings differ, F.

    Args:
        shop: the shop.
        unit: the maker's unit; empty if none is set.

    Returns:
        ``C`` or ``F``; empty if everything is in one unit anyway.
    """
    if unit:
        return unit
    places = [place for state in shop.states.values() for place in state.bench.places.values()]
    used = {unit for place in places for unit in _units_used(place)}
    return "F" if len(used) > 1 else ""


def check_in(action: Action, unit: str) -> Action:
    """An action whose question about a temperature is in a unit; as it is for an empty unit."""
    check = action.check
    if (
        not isinstance(check, ReadingCheck)
        or check.unit_symbol not in {"C", "F"} - {unit}
        or not unit
    ):
        return action
    update = {
        "unit": unit,
        "min": _tenths(check.min, unit, up=True) if check.min is not None else None,
        "max": _tenths(check.max, unit, up=False) if check.max is not None else None,
        "ceiling": _tenths(check.ceiling, unit, up=False) if check.ceiling is not None else None,
    }
    return replace(action, check=check.model_copy(update=update))


def _units_used(place: Place) -> set[str]:
    window = place.station.temperature
    read = {r.quantity.unit for r in place.readings}
    return read | ({window.min.unit, window.max.unit} if window is not None else set())


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
    if _units_used(place) == {unit}:
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
