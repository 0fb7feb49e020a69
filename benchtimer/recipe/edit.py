"""Changes to the text of a recipe file that leave its comments and its order alone.

The result is always read back: if it does not say exactly what it should, the recipe is
written anew and the comments are lost, which is said at the top of the new text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import tomli_w

from benchtimer.recipe.lines import LineFinder, Path
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import build_recipe, parse_recipe
from benchtimer.recipe.writer import recipe_table

LOST = "# The comments of the file this was made from are lost: {reason}.\n\n"

_VALUE = r"""("(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[+-]?[0-9][0-9_.]*)"""


def edited(text: str | None, table: Mapping[str, Any], reason: str = "") -> tuple[str, bool]:
    """The text of a recipe that says what a table says.

    Args:
        text: the file to begin from; None if there is none that fits.
        table: the whole recipe as it shall be.
        reason: why there is no text to begin from.

    Returns:
        The new text, and whether the comments were kept.

    Raises:
        RecipeError: the table is no recipe.
    """
    wanted = build_recipe(dict(table), name="the new revision")
    if text is not None:
        told = _edit(text, wanted)
        if told is not None and _reads_as(told, wanted):
            return told, True
        reason = "what changed could not be put into it line by line"
    return LOST.format(reason=reason) + tomli_w.dumps(recipe_table(wanted)), False


def differences(old: Any, new: Any, path: Path = ()) -> Iterator[tuple[Path, Any, Any]]:
    """Where two tables differ: the path, the old and the new value; None where there is none."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys([*old, *new]):
            yield from differences(old.get(key), new.get(key), (*path, key))
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for index, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from differences(one, other, (*path, index))
    elif old != new:
        yield path, old, new


def _reads_as(text: str, wanted: Recipe) -> bool:
    try:
        return parse_recipe(text.encode(), name="edited", default_id=wanted.id) == wanted
    except RecipeError:
        return False


def _edit(text: str, wanted: Recipe) -> str | None:
    """The text with each changed value put in its place; None if one has no place."""
    lines = _without_lineage(text).splitlines()
    base = "\n".join(lines)
    try:
        old = recipe_table(parse_recipe(base.encode(), name="old", default_id=wanted.id))
    except RecipeError:
        return None
    new = recipe_table(wanted)
    lineage = new.pop("lineage", None)
    finder = LineFinder(base)
    whole = wanted.model_dump(mode="json", by_alias=True)
    for path, before, told in differences(old, new):
        number = finder.line_of(path)
        after = told if told is not None else _value_at(whole, path)
        if path == ("revision",) and number is None:
            continue  # put in at the end: a new line would move all others
        if number is None or isinstance(after, dict | list) or after is None:
            return None
        is_new = before is None and path != ("revision",)
        line = _put(lines[number - 1], str(path[-1]), after, is_new=is_new)
        if line is None:
            return None
        lines[number - 1] = line
    if finder.line_of(("revision",)) is None and "revision" in new:
        lines.insert(_after_schema(lines), f"revision = {new['revision']}")
    end = f"\n{tomli_w.dumps({'lineage': lineage})}" if lineage is not None else ""
    return "\n".join(lines).rstrip() + "\n" + end


def _value_at(whole: Any, path: Path) -> Any:
    """What a recipe has at a path, its defaults as well: a value may be set back to one."""
    for key in path:
        whole = whole.get(key) if isinstance(whole, dict) else whole[key]
    return whole


def _put(line: str, key: str, value: Any, *, is_new: bool) -> str | None:
    """A line with one value changed, or put into its inline table."""
    told = tomli_w.dumps({"x": value}).removeprefix("x = ").strip()
    if is_new:
        brace = line.find("{")
        return f"{line[: brace + 1]} {key} = {told},{line[brace + 1 :]}" if brace >= 0 else None
    found = re.search(rf"(?:^|[\s{{,])({re.escape(key)}\s*=\s*){_VALUE}", line)
    if found is None:
        return None
    return line[: found.start(2)] + told + line[found.end(2) :]


def _after_schema(lines: list[str]) -> int:
    return next((i for i, line in enumerate(lines, 1) if re.match(r"\s*schema\s*=", line)), 0)


def _without_lineage(text: str) -> str:
    """The text without its lineage table, which is written anew each time."""
    kept, inside = [], False
    for line in text.splitlines():
        if re.match(r"\s*\[", line):
            inside = re.match(r"\s*\[lineage\]", line) is not None
        if not inside:
            kept.append(line)
    return "\n".join(kept)
