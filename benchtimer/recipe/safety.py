"""Rules about what can hurt: no vessel holds what must not meet, no danger without a warning."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final, get_args

from benchtimer.quantity import QuantityError, parse
from benchtimer.recipe.problems import quoted
from benchtimer.recipe.raw_tables import Found, Table, at, listed, tables
from benchtimer.trade.compatibility import (
    BURNS_C,
    HAZARDOUS,
    Chemistry,
    conflicts_within,
    said,
)

KNOWN: Final[tuple[Chemistry, ...]] = get_args(Chemistry)


def unsafe_stations(data: Table) -> Found:
    """Vessels and mixes that hold what must not meet; dangerous stations without a warning."""
    mixes = {str(mix.get("id")): mix for _, mix in tables(data.get("mix"))}
    guarded = _guarded(data)
    for i, mix in tables(data.get("mix")):
        for found in _meets(_chemistry(mix)):
            yield at(data, ("mix", i, "chemistry"), found, "mix them apart, or not at all")
    for i, station in tables(data.get("station")):
        own = _chemistry(station)
        mixed = _chemistry(mixes.get(str(station.get("bath")), {}))
        for found in _meets([*own, *mixed]):
            yield at(data, ("station", i), found, "give each a vessel of its own")
        danger = _danger([*own, *mixed], station)
        if danger is not None and not _warned(data, station.get("id"), guarded):
            name = station.get("id")
            allowed = f'add a [[hazard]] with before = ["{name}"]'
            yield at(data, ("station", i), f"{danger}, and nothing warns before it", allowed)


def _chemistry(entry: Table) -> list[Chemistry]:
    written = listed(entry.get("chemistry"))
    return [chemistry for chemistry in KNOWN if chemistry in written]


def _meets(held: list[Chemistry]) -> Iterator[str]:
    for conflict in conflicts_within(held):
        pair = f"{said(conflict.first)} and {said(conflict.second)}"
        yield f"{pair} in one vessel: {conflict.effect} ({conflict.source.cite})"


def _danger(held: list[Chemistry], station: Table) -> str | None:
    """What is dangerous about a station, in words; None if nothing is."""
    hurts = [said(c) for c in held if c in HAZARDOUS]
    if hurts:
        return f"it holds {' and '.join(dict.fromkeys(hurts))}"
    window = station.get("temperature")
    try:
        top = parse(window["max"], "temperature") if isinstance(window, dict) else None
    except (KeyError, TypeError, QuantityError):
        return None
    return f"it is as hot as {quoted(str(top))}" if top and top.base >= BURNS_C else None


def _guarded(data: Table) -> set[Any]:
    """Everything that a hazard guards."""
    return {
        name
        for _, hazard in tables(data.get("hazard"))
        for name in _names(hazard.get("before"))
        if isinstance(name, str)
    }


def _names(before: Any) -> list[Any]:
    return [before] if isinstance(before, str) else listed(before)


def _warned(data: Table, station_id: Any, guarded: set[Any]) -> bool:
    """Whether the station, or every step at it, has a hazard before it."""
    steps = [s.get("id") for _, s in tables(data.get("step")) if s.get("at") == station_id]
    return station_id in guarded or (bool(steps) and all(step in guarded for step in steps))
