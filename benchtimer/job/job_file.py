"""From a job file in TOML to an order, or to everything wrong with it at once."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from benchtimer.job.order import (
    MAX_CHAIN,
    MAX_NOTE,
    MAX_PARTS,
    Order,
    OrderPart,
    name_problem,
    order_problems,
)
from benchtimer.recipe.fields import Title, wrong
from benchtimer.recipe.line_finder import LineFinder, Path
from benchtimer.recipe.loading import load
from benchtimer.recipe.problems import RecipeError, RecipeProblem
from benchtimer.recipe.shapes import shape_problems
from benchtimer.values import replace


class JobFileError(RecipeError):
    """Everything wrong with a job file, in the same form as a recipe's problems."""


def _day(value: Any) -> Any:
    if isinstance(value, date) and not hasattr(value, "hour"):
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise wrong("it is not a date", "write it like 2026-12-11") from None


Day = Annotated[date, BeforeValidator(_day)]


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class PartEntry(_Entry):
    """A ``[[part]]`` of a job file."""

    name: Title
    recipes: tuple[Title, ...] = Field(min_length=1, max_length=MAX_CHAIN)
    needs: tuple[Title, ...] = Field(default=(), max_length=MAX_PARTS)


class JobEntry(_Entry):
    """A job file; ``title`` is the job's name."""

    title: Title
    due: Day
    note: Annotated[str, Field(max_length=MAX_NOTE)] = ""
    part: tuple[PartEntry, ...] = Field(min_length=1, max_length=MAX_PARTS)


def parse_job(
    raw: bytes, *, name: str, recipes: Collection[str], today: date | None
) -> tuple[str, Order]:
    """The name and the order in the bytes of a job file.

    Args:
        raw: the file's bytes.
        name: what messages call the file.
        recipes: all recipes.
        today: today's date in the shop, refuses an earlier due date; None to accept it.

    Raises:
        JobFileError: with every problem of the file, each with its line.
    """
    try:
        data, text = load(raw, name)
    except RecipeError as error:
        raise JobFileError(error.name, error.problems) from None
    finder = LineFinder(text)
    try:
        entry = JobEntry.model_validate(data)
    except ValidationError as error:
        found = list(shape_problems(error, data, lambda loc: _known(loc[:-1])))
        raise JobFileError(name, [_at(finder, path, p) for path, p in found]) from None
    parts = tuple(OrderPart(p.name, p.recipes, p.needs) for p in entry.part)
    order = Order(entry.due, parts, entry.note)
    problems = [_at(finder, path, p) for path, p in order_problems(order, recipes, today)]
    bad_name = name_problem("title", entry.title)
    problems += [_at(finder, ("title",), bad_name)] if bad_name is not None else []
    if problems:
        raise JobFileError(name, problems)
    return entry.title, order


def _at(finder: LineFinder, path: Path, problem: RecipeProblem) -> RecipeProblem:
    return replace(problem, line=finder.line_of(path))


def _known(path: tuple[str | int, ...]) -> list[str]:
    return list((PartEntry if path else JobEntry).model_fields)
