"""What of a recipe can be set for one run: entries by id, and the way to each of their fields.

Works on raw tables, so that names are known without building the recipe.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchtimer.recipe.raw_tables import Table, tables

DWELL_FIELDS = ("min", "target", "max")
STEP_FIELDS = {"hands": ("hands",)} | {k: ("dwell", k) for k in DWELL_FIELDS}
STATION_FIELDS = {"holds": ("holds",)} | {
    k: ("temperature", k) for k in ("min", "target", "max", "ceiling", "every")
}

Way = tuple[Any, ...]
"""Keys and places that lead from an entry to the value."""


def settable(data: Table) -> Iterator[tuple[Table, Mapping[str, Way]]]:
    """Every entry with its fields; steps go before stations before mixes."""
    for key in ("step", "station", "mix"):
        for _, entry in tables(data.get(key)):
            if isinstance(entry.get("id"), str):
                yield entry, _ways(key, entry)


def _ways(key: str, entry: Table) -> dict[str, Way]:
    if key == "step":
        return {f: way for f, way in STEP_FIELDS.items() if way[0] in entry}
    if key == "station":
        return {f: way for f, way in STATION_FIELDS.items() if f == "holds" or way[0] in entry}
    amounts = {
        str(i + 1): ("of", i, "amount") for i, item in tables(entry.get("of")) if "amount" in item
    }
    return {"volume": ("volume",)} | amounts
