"""The model's messages about an entry with the wrong shape, in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from benchtimer.quantity import nearest
from benchtimer.recipe import model
from benchtimer.recipe.checks import CHECK_KINDS
from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.problems import RecipeProblem, quoted, value_text
from benchtimer.recipe.raw_tables import Table, place

Loc = tuple[str | int, ...]


def shape_problems(
    error: ValidationError, data: Table, known: Callable[[Loc], list[str]] | None = None
) -> Iterator[tuple[Path, RecipeProblem]]:
    """The problems that validation found, each with the path of its entry in the file.

    Args:
        error: what the model said.
        data: the file's tables.
        known: the valid keys of the table around an unknown key; a recipe's if None.
    """
    for detail in error.errors(include_url=False):
        path = _real_path(detail["loc"])
        if detail["type"] == "too_short" and _enough(detail):
            continue  # there are enough entries; the wrong ones have their own problems
        if detail["type"] == "extra_forbidden":
            keys = (known or _known_keys)(detail["loc"])
            yield path, _unknown_key(keys, path, data)
            continue
        yield _shape_problem(detail, path, data)


def _enough(detail: ErrorDetails) -> bool:
    found = detail["input"]
    return isinstance(found, list) and len(found) >= detail["ctx"]["min_length"]


def _real_path(loc: Loc) -> Path:
    """The path in the file, without the variant names that the model inserts."""
    return tuple(part for i, part in enumerate(loc) if part != "[key]" and not _is_variant(loc, i))


def _is_variant(loc: Loc, i: int) -> bool:
    """Whether a part is the name of a check kind, as in ``("check", 0, "reading", "min")``."""
    return i >= 2 and loc[i - 2] == "check" and loc[i] in CHECK_KINDS


_WANTED = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "float_type": "a number",
    "finite_number": "a number",
    "bool_type": "true or false",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "tuple_type": "a list",
    "list_type": "a list",
}

# Bounds: the key in the error's context that has the bound, and the words around it.
_BOUNDS = {
    "greater_than": ("gt", "more than {}"),
    "greater_than_equal": ("ge", "at least {}"),
    "less_than": ("lt", "less than {}"),
    "less_than_equal": ("le", "at most {}"),
}

_EXAMPLES = {
    "id": 'add id = "a-short-name"',
    "title": 'add title = "what it is"',
    "text": 'add text = "what to know"',
    "hands": 'add hands = "60 s", the hands-on time',
    "dwell min": 'add min = "8 min"',
    "dwell target": 'add target = "10 min"',
    "temperature min": 'add min = "285 F"',
    "temperature max": 'add max = "295 F"',
    "schema": f"add schema = {model.SCHEMA}",
    "before": 'add before = "a station or step"',
    "ask": 'add ask = "the question"',
    "after": 'add after = "40 min", the time at heat after which it is needed',
    "cool": 'add cool = "45 min"',
    "options": 'add options = ["good", "bad"]',
    "cite": 'add cite = "author, title, year"',
    "what": 'add what = "what goes in"',
    "of": 'add of = [{ what = "...", amount = "..." }]',
    "step": "add a [[step]]",
}


def _shape_problem(detail: ErrorDetails, path: Path, data: Table) -> tuple[Path, RecipeProblem]:
    kind, found = detail["type"], detail["input"]
    context: dict[str, Any] = detail.get("ctx", {})
    where = place(path, data)
    if kind == "missing":
        return path, _missing(path, data)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return _unknown_check(path, found, data)
    if kind == "worded":
        return path, RecipeProblem(
            where, f"{value_text(found)}: {context['reason']}", context["allowed"]
        )
    if kind == "literal_error" and path == ("schema",):
        reads = f"this program reads {model.SCHEMA}"
        return path, RecipeProblem(where, f"format version {value_text(found)}", reads)
    if kind in ("string_pattern_mismatch", "string_too_short"):
        return path, RecipeProblem(
            where, value_text(found), "lowercase letters, digits and -, 1 to 40 of them"
        )
    return path, _out_of_bounds(kind, found, context, where, detail["msg"])


def _out_of_bounds(
    kind: str, found: object, context: dict[str, Any], where: str, message: str
) -> RecipeProblem:
    if kind == "too_long":
        return RecipeProblem(where, f"{_count(found)} entries", f"at most {context['max_length']}")
    if kind == "too_short":
        return RecipeProblem(where, f"{_count(found)} entries", f"at least {context['min_length']}")
    if kind == "string_too_long":
        most = f"at most {context['max_length']} characters"
        return RecipeProblem(where, f"{value_text(found)} is too long", most)
    if kind in _BOUNDS:
        key, words = _BOUNDS[kind]
        return RecipeProblem(where, f"found {value_text(found)}", words.format(f"{context[key]:g}"))
    if kind in _WANTED:
        return RecipeProblem(where, f"found {value_text(found)}", f"must be {_WANTED[kind]}")
    return RecipeProblem(where, f"found {value_text(found)}", message[:1].lower() + message[1:])


def _count(found: object) -> int:
    return len(found) if isinstance(found, list | tuple | dict) else 0


def _missing(path: Path, data: Table) -> RecipeProblem:
    key = str(path[-1])
    example = _EXAMPLES.get(key) or _EXAMPLES.get(f"{path[-2]} {key}" if path[1:] else "", "add it")
    return RecipeProblem(place(path[:-1], data), f'"{key}" is missing', example)


def _unknown_check(path: Path, found: object, data: Table) -> tuple[Path, RecipeProblem]:
    tag = found.get("kind") if isinstance(found, dict) else None
    allowed = f"one of {', '.join(CHECK_KINDS)}"
    where = place(path, data)
    if tag is None:
        return path, RecipeProblem(where, '"kind" is missing', allowed)
    near = nearest(tag, CHECK_KINDS) if isinstance(tag, str) else None
    words = f"there is no check kind {value_text(tag)}"
    return (*path, "kind"), RecipeProblem(where, words, allowed, near=near)


def _unknown_key(known: list[str], path: Path, data: Table) -> RecipeProblem:
    key = str(path[-1])
    allowed = f"known here: {', '.join(known)}" if known else "leave it out"
    owner = place(path[:-1], data)
    return RecipeProblem(owner, f"unknown key {quoted(key)}", allowed, near=nearest(key, known))


def _known_keys(loc: Loc) -> list[str]:
    """The valid keys of the table around an unknown key, from the model."""
    owners: list[type[BaseModel]] = [model.Recipe]
    for before, part in zip(("", *loc), loc[:-1], strict=False):
        if isinstance(part, str) and before != "send":  # the keys of send are answers
            owners = [inner for owner in owners for inner in _inner(owner, part)]
    fields = owners[0].model_fields.items() if owners else ()
    return [field.alias or name for name, field in fields]


def _inner(owner: type[BaseModel], part: str) -> list[type[BaseModel]]:
    """The models a key can have; a check's kind picks one of the check kinds."""
    kind = owner.model_fields.get("kind")
    if part in CHECK_KINDS and kind is not None and get_origin(kind.annotation) is Literal:
        return [owner] if part in get_args(kind.annotation) else []
    fields = owner.model_fields.items()
    return [m for name, f in fields if (f.alias or name) == part for m in _models(f.annotation)]


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for inner in get_args(annotation) for found in _models(inner)]
