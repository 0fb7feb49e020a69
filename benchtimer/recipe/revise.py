"""The next revision of a recipe file: the old text with the new values, including comments."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import build_recipe, parse_recipe
from benchtimer.recipe.toml_edit import NotEdited, with_values
from benchtimer.recipe.writer import recipe_table, write_recipe

LOST = "# Comments from the original file could not be kept: {reason}.\n\n"


def revised(text: str | None, table: Mapping[str, Any], reason: str = "") -> tuple[str, bool]:
    """The text of a recipe for the values in a table.

    Args:
        text: the file to start from; None if there is none.
        table: the whole new recipe.
        reason: why there is no text to start from.

    Returns:
        The new text, and whether the comments were kept. If they could not be, the first line
        of the new text says why.

    Raises:
        RecipeError: the table is not a recipe.
    """
    wanted = build_recipe(dict(table), name="the new revision")
    if text is not None:
        try:
            new_text = with_values(text, _changes(text, wanted))
            if _read(new_text, wanted.id) == wanted:
                return new_text, True
            reason = "the edit would have changed other values"
        except NotEdited as error:
            reason = error.reason
        except RecipeError:
            reason = "the file can no longer be read"
    return LOST.format(reason=reason) + write_recipe(wanted), False


def differences(old: Any, new: Any, path: Path = ()) -> Iterator[tuple[Path, Any, Any]]:
    """Where two tables differ: the path, the old and the new value; None if missing.

    Args:
        old: the old table.
        new: the new table.
        path: where they are in the whole table.
    """
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys([*old, *new]):
            yield from differences(old.get(key), new.get(key), (*path, key))
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for index, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from differences(one, other, (*path, index))
    elif old != new:
        yield path, old, new


def _read(text: str, default_id: str) -> Recipe:
    return parse_recipe(text.encode(), name="the text", default_id=default_id)


def _changes(text: str, wanted: Recipe) -> dict[Path, Any]:
    """What to set in a text, or remove from it, so that it has the right values."""
    whole = wanted.model_dump(mode="json", by_alias=True)
    old, new = recipe_table(_read(text, wanted.id)), recipe_table(wanted)
    return {
        path: value if value is not None else _value_at(whole, path)
        for path, _, value in differences(old, new)
    }


def _value_at(whole: Any, path: Path) -> Any:
    """What a recipe has at a path, including defaults, because a value can be set back to one."""
    for key in path:
        whole = whole.get(key) if isinstance(whole, dict) else whole[key]
    return whole or None  # an empty list is removed
