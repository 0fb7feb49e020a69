"""A recipe as raw tables: how to walk them, and the words for their places. It also lists what you
can set for one run: entries by id, and the path to each field. It works on raw tables, so that
names are known without building the recipe.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.problems import RecipeProblem, quoted

Found = Iterator[tuple[Path, RecipeProblem]]
Table = dict[str, Any]


def tables(value: Any) -> list[tuple[int, Table]]:
    """The tables of an array of tables with their index; anything else is skipped."""
    if not isinstance(value, list | tuple):
        return []
    return [(i, entry) for i, entry in enumerate(value) if isinstance(entry, dict)]


def place(path: Path, data: Table) -> str:
    """A path in plain words: ``step "rinse", check "water-break", send``."""
    words: list[str] = []
    here: Any = data
    for part in path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(part, int):
            words[-1] += f" {_name(here)}" if _name(here) else f" number {part + 1}"
        else:
            words.append(part if re.fullmatch(r"[\w-]{1,40}", part) else quoted(part))
    return ", ".join(words) or "the file"


def _name(entry: Any) -> str | None:
    """The name of an entry, from the first name key that it has."""
    names = [entry.get(key) for key in ("id", "title", "what")] if isinstance(entry, dict) else []
    return next((quoted(name) for name in names if name and isinstance(name, str)), None)


def checks(data: Table) -> Iterator[tuple[Path, int, Table]]:
    """Every check with its path and the index of its step."""
    for i, step in tables(data.get("step")):
        for j, check in tables(step.get("check")):
            yield ("step", i, "check", j), i, check


def listed(value: Any) -> list[Any]:
    """The entries of a list; anything else has none."""
    return list(value) if isinstance(value, list | tuple) else []


def at(
    data: Table, path: Path, found: str, allowed: str, near: str | None = None
) -> tuple[Path, RecipeProblem]:
    """A problem at a path, with its place in words.

    Args:
        data: the whole recipe.
        path: where the problem is.
        found: what is wrong.
        allowed: what is right.
        near: a known word that is spelled almost the same.
    """
    return path, RecipeProblem(place(path, data), found, allowed, near=near)


DWELL_FIELDS = ("min", "target", "max")
STEP_FIELDS = {"hands": ("hands",)} | {k: ("dwell", k) for k in DWELL_FIELDS}
STATION_FIELDS = {"holds": ("holds",)} | {
    k: ("temperature", k) for k in ("min", "target", "max", "ceiling", "every")
}

Way = tuple[Any, ...]
"""Keys and indexes that lead from an entry to the value."""


def settable(data: Table) -> Iterator[tuple[Table, Mapping[str, Way]]]:
    """Every entry with its fields; steps come before stations, and stations before mixes."""
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
