"""Changes to a recipe for one run: a dwell, a temperature, an amount, by a short name.

An adjustment is ``ID.FIELD = VALUE``, for example ``black.aim = 12 min``,
``salts.high = 292 F``, ``black-salts.volume = 6 L`` or ``black-salts.2 = 550 g/L`` (the
second ingredient). The file is not touched; the adjusted recipe is checked as a whole.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from benchtimer.quantity import nearest
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import Problem, RecipeError, quoted
from benchtimer.recipe.reader import build_recipe
from benchtimer.recipe.tables import tables
from benchtimer.recipe.writer import recipe_table

STEP_FIELDS = {"hands": ("hands",)} | {k: ("dwell", k) for k in ("least", "aim", "most")}
STATION_FIELDS = {"holds": ("holds",)} | {
    k: ("temperature", k) for k in ("low", "aim", "high", "ceiling", "every")
}


@dataclass(frozen=True, slots=True)
class Adjustment:
    """One change: the entry's id, its field, and the value as text."""

    entry: str
    field: str
    value: str

    def __str__(self) -> str:
        return f"{self.entry}.{self.field} = {self.value}"


def parse_adjustment(text: str) -> Adjustment:
    """Read ``ID.FIELD=VALUE``.

    Raises:
        RecipeError: if the text has another form.
    """
    name, equals, value = text.partition("=")
    entry, dot, field = name.strip().partition(".")
    if not (equals and dot and entry and field.strip() and value.strip()):
        raise _error(text, "it is not ID.FIELD=VALUE", 'write it like black.aim="12 min"')
    return Adjustment(entry.strip(), field.strip(), _bare(value.strip()))


def _bare(value: str) -> str:
    """The value without the quotes that a shell would have taken off."""
    quoted_whole = len(value) > 2 and value[0] == value[-1] and value[0] in "\"'"
    return value[1:-1].strip() if quoted_whole else value


def adjusted(recipe: Recipe, adjustments: Iterable[Adjustment]) -> Recipe:
    """The recipe with the changes made.

    Raises:
        RecipeError: an unknown id or field, or a changed recipe that breaks a rule.
    """
    data = recipe_table(recipe)
    for adjustment in adjustments:
        _set(data, adjustment)
    return build_recipe(data, name=f"{recipe.id}, adjusted")


def _set(data: dict[str, Any], adjustment: Adjustment) -> None:
    entry, path = _find(data, adjustment)
    for key in path[:-1]:
        entry = entry[key]
    entry[path[-1]] = int(adjustment.value) if _is_count(path, adjustment) else adjustment.value


def _is_count(path: tuple[Any, ...], adjustment: Adjustment) -> bool:
    return path == ("holds",) and adjustment.value.isdecimal() and len(adjustment.value) < 6


def _find(data: dict[str, Any], adjustment: Adjustment) -> tuple[Any, tuple[Any, ...]]:
    """The table to change and the way in it; steps go before stations before mixes."""
    known: list[str] = []
    fields: list[str] = []
    for key in ("step", "station", "mix"):
        for _, entry in tables(data.get(key)):
            known.append(entry["id"])
            if entry["id"] != adjustment.entry:
                continue
            ways = _ways(key, entry)
            fields += ways
            if adjustment.field in ways:
                return entry, ways[adjustment.field]
    if fields:
        found = f"{quoted(adjustment.entry)} has no field {quoted(adjustment.field)}"
        raise _error(str(adjustment), found, f"one of {', '.join(fields)}")
    found = f"there is no step, station or mix {quoted(adjustment.entry)}"
    allowed = f"known: {', '.join(dict.fromkeys(known))}"
    raise _error(str(adjustment), found, allowed, nearest(adjustment.entry, known))


def _ways(key: str, entry: dict[str, Any]) -> dict[str, tuple[Any, ...]]:
    if key == "step":
        return {f: way for f, way in STEP_FIELDS.items() if way[0] in entry}
    if key == "station":
        return {f: way for f, way in STATION_FIELDS.items() if f == "holds" or way[0] in entry}
    amounts = {
        str(i + 1): ("of", i, "amount") for i, item in tables(entry["of"]) if "amount" in item
    }
    return {"volume": ("volume",)} | amounts


def _error(text: str, found: str, allowed: str, near: str | None = None) -> RecipeError:
    return RecipeError("adjustment", [Problem(quoted(text), found, allowed, near=near)])
