"""From a TOML file to a recipe, or to everything that is wrong with it at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from benchtimer.quantity import nearest
from benchtimer.recipe import model
from benchtimer.recipe.lines import LineFinder, Path
from benchtimer.recipe.problems import Problem, RecipeError, quoted
from benchtimer.recipe.rules import broken_rules, place

MAX_BYTES = 256 * 1024
"""Largest recipe file that is read. A long recipe is a tenth of it."""

CHECK_KINDS = ("yes-no", "reading", "choice", "note")


def read_recipe(path: FilePath) -> model.Recipe:
    """The recipe in a file; its id is the file's name unless the file says otherwise.

    Raises:
        RecipeError: with every problem of the file, each with its line where it can be found.
    """
    name = str(path)
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or "it can't be read"
        raise _one(name, f"the file can't be read: {reason}", "check the path") from None
    return parse_recipe(raw, name=name, default_id=path.stem)


def parse_recipe(raw: bytes, *, name: str, default_id: str) -> model.Recipe:
    """The recipe in the bytes of a TOML file.

    Args:
        raw: the file's bytes.
        name: what messages call it.
        default_id: the recipe's id if the file gives none.

    Raises:
        RecipeError: with every problem of the file.
    """
    if len(raw) > MAX_BYTES:
        raise _one(name, f"it is larger than {MAX_BYTES // 1024} KiB", "a recipe is a short text")
    text = _decode(raw, name)
    data = _load(text, name)
    data.setdefault("id", re.sub(r"[^a-z0-9]+", "-", default_id.lower()).strip("-") or "recipe")
    return build_recipe(data, name=name, finder=LineFinder(text))


def build_recipe(
    data: dict[str, Any], *, name: str, finder: LineFinder | None = None
) -> model.Recipe:
    """The recipe in a table, checked entry by entry and rule by rule.

    Raises:
        RecipeError: with every problem.
    """
    problems: dict[tuple[Path, str], Problem] = {}
    recipe = None
    try:
        recipe = model.Recipe.model_validate(data)
    except ValidationError as error:
        for path, problem in _shape_problems(error, data):
            problems.setdefault((path, problem.found), problem)
    for path, problem in broken_rules(data):
        # A rule that repeats what the model already said of the same place adds nothing.
        problems.setdefault((path, problem.found), problem)
    if recipe is None or problems:
        raise RecipeError(name, [_with_line(p, path, finder) for (path, _), p in problems.items()])
    return recipe


def _one(name: str, found: str, allowed: str, line: int | None = None) -> RecipeError:
    return RecipeError(name, [Problem("the file", found, allowed, line=line)])


def _decode(raw: bytes, name: str) -> str:
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _one(name, "it is not UTF-8 text", "save it as UTF-8", line) from None


def _load(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _one(name, "it is nested too deeply", "a recipe is a few levels deep") from None
    except ValueError as error:  # TOMLDecodeError, and integers of thousands of digits
        words = "".join(c if c.isprintable() else "?" for c in str(error))[:200]
        at = re.search(r"line (\d+)", words)
        raise _one(
            name, f"it is not TOML: {words}", "see toml.io", int(at[1]) if at else None
        ) from None


def _with_line(problem: Problem, path: Path, finder: LineFinder | None) -> Problem:
    line = finder.line_of(path) if finder is not None else None
    return Problem(problem.where, problem.found, problem.allowed, line, problem.near)


def _shape_problems(error: ValidationError, data: dict[str, Any]) -> Iterator[tuple[Path, Problem]]:
    for detail in error.errors(include_url=False):
        path = _real_path(detail["loc"])
        if detail["type"] == "missing" and path[-2:] == ("on_no", "at_most"):
            continue  # the rules name this one for what it is: a loop with no way out
        if detail["type"] == "too_short" and detail["input"]:
            continue  # entries are there; each of them has its own problem
        yield path, _shape_problem(detail, path, data)


def _real_path(loc: tuple[str | int, ...]) -> Path:
    """The path in the file: without the names of variants that the model puts in between."""
    path: list[str | int] = []
    for part in loc:
        in_check = len(path) >= 2 and path[-2] == "check"
        if part != "[key]" and not (in_check and part in CHECK_KINDS):
            path.append(part)
    return tuple(path)


_SHAPES = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
    "dict_type": "a table",
    "model_type": "a table",
    "tuple_type": "a list",
    "list_type": "a list",
}


def _shape_problem(detail: ErrorDetails, path: Path, data: dict[str, Any]) -> Problem:
    kind, found = detail["type"], detail["input"]
    where = place(path, data)
    context = detail.get("ctx", {})
    if kind == "extra_forbidden":
        known = _known_keys(detail["loc"])
        key = str(path[-1])
        allowed = f"known here: {', '.join(known)}" if known else "leave it out"
        owner = place(path[:-1], data)
        return Problem(owner, f"unknown key {quoted(key)}", allowed, near=nearest(key, known))
    if kind == "missing":
        return Problem(place(path[:-1], data), f'"{path[-1]}" is missing', "add it")
    if kind == "quantity":
        reason, _, allowed = detail["msg"].partition("; ")
        return Problem(where, f"{quoted(found)}: {reason}", allowed)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        tag = found.get("kind") if isinstance(found, dict) else None
        near = nearest(tag, list(CHECK_KINDS)) if isinstance(tag, str) else None
        words = f"kind {quoted(tag)} is none" if tag is not None else '"kind" is missing'
        return Problem(where, words, f"one of {', '.join(CHECK_KINDS)}", near=near)
    if kind == "literal_error" and path == ("schema",):
        return Problem(
            where, f"format version {quoted(found)}", f"this program reads {model.SCHEMA}"
        )
    if kind == "string_pattern_mismatch":
        return Problem(where, quoted(found), "small letters, digits and -, 40 at most")
    if kind in ("too_long", "string_too_long"):
        return Problem(where, "it is too long", f"at most {context.get('max_length')}")
    if kind in _SHAPES:
        return Problem(where, f"{quoted(found)} stands here", f"{_SHAPES[kind]} is wanted")
    words = detail["msg"][:1].lower() + detail["msg"][1:]
    return Problem(where, f"{quoted(found)} stands here", words)


def _known_keys(loc: tuple[str | int, ...]) -> list[str]:
    """The keys that the table around an unknown key may have."""
    owner: Any = model.Recipe
    for part in loc[:-1]:
        if isinstance(part, int):
            continue
        owner = _child(owner, part)
        if owner is None:
            return []
    return [field.alias or name for name, field in owner.model_fields.items()]


_CHILDREN: dict[str, Any] = {
    "source": model.Source,
    "property": model.Property,
    "ceiling_from": model.CeilingFrom,
    "station": model.Station,
    "temperature": model.Window,
    "caution": model.Caution,
    "mix": model.Mix,
    "of": model.Ingredient,
    "step": model.Step,
    "dwell": model.Dwell,
    "on_no": model.OnNo,
    "lineage": model.Lineage,
    "yes-no": model.YesNo,
    "reading": model.ReadingCheck,
    "choice": model.Choice,
    "note": model.NoteCheck,
}


def _child(owner: Any, part: str) -> Any:
    return owner if part == "check" else _CHILDREN.get(part)
