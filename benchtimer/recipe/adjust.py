"""Changes to a recipe for one run: a dwell, a temperature, an amount, by a short name.

An adjustment is ``ID.FIELD = VALUE``, for example ``black.target = 12 min``,
``salts.max = 292 F``, ``black-salts.volume = 6 L`` or ``black-salts.2 = 550 g/L`` (the
second ingredient). ``black.min = target`` takes the value of another field of the same entry,
and ``*.min = target`` does so for every step that has both, so that no dwell is shorter than its
target. The file stays unchanged; the adjusted recipe is checked as a whole.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from benchtimer.quantity import nearest
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError, RecipeProblem, quoted
from benchtimer.recipe.raw_tables import DWELL_FIELDS, Table, settable, tables
from benchtimer.recipe.reader import build_recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.values import dataclass, replace

EVERY = "*"
"""Used instead of an id: every step."""


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
        RecipeError: the text has another form.
    """
    name, equals, value = text.partition("=")
    entry, dot, field = name.strip().partition(".")
    if not (equals and dot and entry and field.strip() and value.strip()):
        raise _error(text, "it is not ID.FIELD=VALUE", 'write it like black.target="12 min"')
    return Adjustment(entry.strip(), field.strip(), _bare(value.strip()))


def _bare(value: str) -> str:
    """The value without the quotes that a shell would have removed."""
    quoted_whole = len(value) > 2 and value[0] == value[-1] and value[0] in "\"'"
    return value[1:-1].strip() if quoted_whole else value


def adjusted(recipe: Recipe, adjustments: Iterable[Adjustment]) -> Recipe:
    """The recipe with the changes.

    Raises:
        RecipeError: an unknown id or field, or a changed recipe that breaks a rule.
    """
    data = recipe_table(recipe)
    for adjustment in adjustments:
        for each in _each(data, adjustment):
            _set(data, each)
    return build_recipe(data, name=f"{recipe.id}, adjusted")


def _each(data: Table, adjustment: Adjustment) -> list[Adjustment]:
    """The adjustment itself; if it is for every step, one for each step it applies to."""
    if adjustment.entry != EVERY:
        return [adjustment]
    wanted = {adjustment.field, adjustment.value}
    dwells = ((step["id"], step.get("dwell", {})) for _, step in tables(data.get("step")))
    fitting = [name for name, dwell in dwells if wanted <= dwell.keys()]
    if not fitting or not wanted <= set(DWELL_FIELDS):
        allowed = f'"{EVERY}.min=target" uses the target of each dwell as its min'
        raise _error(str(adjustment), f"it applies to no step of {quoted(data['title'])}", allowed)
    return [replace(adjustment, entry=name) for name in fitting]


def _set(data: Table, adjustment: Adjustment) -> None:
    entry, path = _find(data, adjustment)
    for key in path[:-1]:
        entry = entry[key]
    value = entry[adjustment.value] if _is_field(entry, adjustment) else adjustment.value
    entry[path[-1]] = int(value) if _is_count(path, adjustment) else value


def _is_field(entry: Table, adjustment: Adjustment) -> bool:
    """Whether the value is the name of another limit of the same entry."""
    return adjustment.value in (*DWELL_FIELDS, "min", "max") and adjustment.value in entry


def _is_count(path: tuple[Any, ...], adjustment: Adjustment) -> bool:
    return path == ("holds",) and adjustment.value.isdecimal() and len(adjustment.value) < 6


def _find(data: Table, adjustment: Adjustment) -> tuple[Any, tuple[Any, ...]]:
    """The table to change and the path in it; steps come before stations, and stations before
    mixes.
    """
    known: list[str] = []
    fields: list[str] = []
    for entry, ways in settable(data):
        known.append(entry["id"])
        if entry["id"] != adjustment.entry:
            continue
        fields += ways
        if adjustment.field in ways:
            return entry, ways[adjustment.field]
    if fields:
        found = f"{quoted(adjustment.entry)} has no field {quoted(adjustment.field)}"
        allowed = f"one of {', '.join(fields)}"
        words = [field for field in fields if not field.isdecimal()]  # ingredients are numbered
        raise _error(str(adjustment), found, allowed, nearest(adjustment.field, words))
    found = f"there is no step, station or mix {quoted(adjustment.entry)}"
    near = nearest(adjustment.entry, known)
    listed = f"known: {', '.join(dict.fromkeys(known))}"
    allowed = "benchtimer recipes NAME shows the ids in brackets" if near else listed
    raise _error(str(adjustment), found, allowed, near)


def _error(text: str, found: str, allowed: str, near: str | None = None) -> RecipeError:
    return RecipeError("adjustment", [RecipeProblem(quoted(text), found, allowed, near=near)])
