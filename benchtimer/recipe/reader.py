"""From a TOML file to a recipe, or to everything wrong with it at once."""

from __future__ import annotations

import errno
import re
import stat
from itertools import chain, islice
from pathlib import Path as FilePath

from pydantic import ValidationError

from benchtimer.recipe import model
from benchtimer.recipe.line_finder import LineFinder, Path
from benchtimer.recipe.loading import MAX_BYTES, load, trouble
from benchtimer.recipe.problems import RecipeError, RecipeProblem
from benchtimer.recipe.raw_tables import Table
from benchtimer.recipe.rules import broken_rules
from benchtimer.recipe.shapes import shape_problems

__all__ = ["MAX_BYTES", "build_recipe", "parse_recipe", "read_recipe", "read_start"]

MAX_FOUND = 200
"""How many problems of one file to find. More don't help."""


def read_recipe(path: FilePath) -> model.Recipe:
    """The recipe in a file; its id is the file's name unless the file has one.

    Raises:
        RecipeError: with every problem of the file, each with its line if known.
    """
    name = str(path)
    try:
        raw = read_start(path)
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte in it
        reason = getattr(error, "strerror", None) or "no file can have that name"
        raise trouble(name, f"it can't be read: {reason}", "check the path") from None
    return parse_recipe(raw, name=name, default_id=path.stem)


def read_start(path: FilePath) -> bytes:
    """The bytes of a file, up to one more than ``MAX_BYTES``.

    Raises:
        OSError: it can't be read, or is not a regular file: a pipe may never end, or never start.
    """
    mode = path.stat().st_mode
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise OSError(errno.EINVAL, "it is not a regular file")
    with path.open("rb") as file:
        return file.read(MAX_BYTES + 1)


def parse_recipe(raw: bytes, *, name: str, default_id: str) -> model.Recipe:
    """The recipe in the bytes of a TOML file.

    Args:
        raw: the file's bytes.
        name: what messages call it.
        default_id: the recipe's id if the file has none; converted to a valid id.

    Raises:
        RecipeError: with every problem of the file.
    """
    data, text = load(raw, name)
    return build_recipe({"id": _fit(default_id)} | data, name=name, finder=LineFinder(text))


def _fit(name: str) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    return words[:40].strip("-") or "recipe"


def build_recipe(data: Table, *, name: str, finder: LineFinder | None = None) -> model.Recipe:
    """The recipe in a table, checked entry by entry and rule by rule.

    Args:
        data: the table.
        name: the file's name in errors.
        finder: finds the line of a path; None if there is no text.

    Raises:
        RecipeError: with every problem.
    """
    shapes: list[tuple[Path, RecipeProblem]] = []
    recipe = None
    try:
        recipe = model.Recipe.model_validate(data)
    except ValidationError as error:
        shapes = list(islice(shape_problems(error, data), MAX_FOUND))
    problems: dict[tuple[Path, str], RecipeProblem] = {}
    for path, problem in islice(chain(shapes, broken_rules(data)), MAX_FOUND):
        # Drop a rule that repeats what the model already said about the same place.
        problems.setdefault((path, problem.found), problem)
    if recipe is None or problems:
        raise RecipeError(name, [_with_line(p, path, finder) for (path, _), p in problems.items()])
    return recipe


def _with_line(problem: RecipeProblem, path: Path, finder: LineFinder | None) -> RecipeProblem:
    line = finder.line_of(path) if finder is not None else None
    return RecipeProblem(problem.where, problem.found, problem.allowed, line, problem.near)
