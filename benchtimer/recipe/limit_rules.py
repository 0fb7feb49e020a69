"""What the quantities of one entry must be to each other: rising limits, one kind of unit.

Like the rules between entries, these look at the raw tables and pass over what has the
wrong shape.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

from benchtimer.quantity import Quantity, QuantityError, parse
from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.problems import value_text
from benchtimer.recipe.raw_tables import Found, Table, at, checks, tables

DWELL = ("min", "target", "max")
WINDOW = ("min", "target", "max", "ceiling")
READING = ("min", "max", "ceiling")


def broken_limits(data: Table) -> Found:
    """Every limit that is under the one below it, every mixed unit, every unclear amount."""
    for i, step in tables(data.get("step")):
        yield from _rising(data, ("step", i, "dwell"), step.get("dwell"), DWELL, "time")
    for i, station in tables(data.get("station")):
        path: Path = ("station", i, "temperature")
        yield from _rising(data, path, station.get("temperature"), WINDOW, "temperature")
    for path, _, check in checks(data):
        if check.get("kind") == "reading":
            yield from _rising(data, path, check, READING, None)
            yield from _reading_unit(data, path, check)
    for i, mix in tables(data.get("mix")):
        yield from _amounts(data, ("mix", i), mix)


def _limits(
    entry: Table, keys: tuple[str, ...], kind: str | None
) -> Iterator[tuple[str, Quantity]]:
    """The limits of an entry that can be read at all."""
    for key in keys:
        try:
            yield key, parse(entry[key], kind)
        except (KeyError, TypeError, QuantityError):
            continue


def _rising(
    data: Table, path: Path, entry: object, keys: tuple[str, ...], kind: str | None
) -> Found:
    """Each limit is at least as large as the one before it; kinds aren't compared."""
    last: tuple[str, Quantity] | None = None
    for key, value in _limits(entry, keys, kind) if isinstance(entry, dict) else ():
        comparable = last is not None and last[1].kind is value.kind
        if last is not None and comparable and value.base < last[1].base - 1e-9:
            found = f"{key} {value_text(str(value))} is under {last[0]} {value_text(str(last[1]))}"
            yield at(data, (*path, key), found, " <= ".join(keys))
        last = (key, value)


def _reading_unit(data: Table, path: Path, check: Table) -> Found:
    kinds = {value.kind.name: None for _, value in _limits(check, READING, None)}
    unit = check.get("unit")
    with contextlib.suppress(QuantityError):  # the model says what a unit may be
        kinds |= {parse(f"1 {unit}").kind.name: None}
    if len(kinds) > 1:
        found = f"its figures mix {' and '.join(kinds)}"
        yield at(data, path, found, "one kind of quantity a reading")
    if "ceiling" in check and "ceiling_from" in check:
        yield at(data, path, "both ceiling and ceiling_from", "one of the two")
    if not any(key in check for key in ("unit", "ceiling_from", *READING)):
        found = "a reading with no unit and no limits"
        yield at(data, path, found, 'add unit = "C", "pH" or another')


def _amounts(data: Table, path: Path, mix: Table) -> Found:
    """Each ingredient has one amount that a vessel of any size can be worked out from."""
    shares = 0.0
    for j, item in tables(mix.get("of")):
        here = (*path, "of", j)
        given = [key for key in ("amount", "parts") if key in item]
        if len(given) != 1:
            found = "both amount and parts" if given else "neither amount nor parts"
            yield at(data, here, found, "exactly one of the two")
        for key, amount in _limits(item, ("amount",), None):
            shares += amount.value if amount.unit == "%" else 0
            if amount.kind.name in ("mass", "volume") and "volume" not in mix:
                found = f"{value_text(item[key])}, but not for what volume"
                allowed = 'add volume = "4 L" to the mix, or say it per L'
                yield at(data, (*here, "amount"), found, allowed)
    if shares > 100 + 1e-9:
        yield at(data, path, f"its shares add up to {shares:g} %", "at most 100 %")
