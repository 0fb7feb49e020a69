"""A complete recipe with one fault at a time, and its exact messages."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from benchtimer.recipe.describe import describe
from benchtimer.recipe.model import BUILT_IN_SOURCES, Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.writer import recipe_table

HERE = Path(__file__).parent
WHOLE = (HERE / "whole.toml").read_text(encoding="utf-8")
FAULTS: list[dict[str, Any]] = tomllib.loads((HERE / "faults.toml").read_text(encoding="utf-8"))[
    "fault"
]


def _parsed(text: str) -> Recipe:
    return parse_recipe(text.encode(), name="whole.toml", default_id="whole")


def _spoilt(fault: dict[str, Any]) -> str:
    assert WHOLE.count(fault["old"]) >= 1, "the fault has no place in the recipe"
    return WHOLE.replace(fault["old"], fault["new"], 1)


def _line(text: str, fault: dict[str, Any]) -> int:
    (found, *_) = [n for n, line in enumerate(text.splitlines(), 1) if fault["at"] in line]
    return found - int(fault.get("above", 0))


@pytest.mark.parametrize("fault", FAULTS, ids=[fault["name"] for fault in FAULTS])
def test_a_fault_is_reported_once_with_its_line(fault: dict[str, Any]) -> None:
    """The message names place, finding and fix, and the line of the fault."""
    text = _spoilt(fault)
    with pytest.raises(RecipeError) as caught:
        _parsed(text)
    result = [str(problem) for problem in caught.value.problems]
    if "says_of_it" in fault:
        assert fault["says_of_it"] in result
    else:
        assert result == ([fault["says"]] if isinstance(fault["says"], str) else fault["says"])
    lines = [p.line for p in caught.value.problems if str(p) in str(fault)]
    assert lines[0] == _line(text, fault)


def test_the_full_recipe_has_no_fault() -> None:
    """The base recipe is valid, and its table reads back to it."""
    whole = _parsed(WHOLE)
    again = Recipe.model_validate(recipe_table(whole))
    assert again == whole


def test_every_entry_is_described_as_agreed() -> None:
    """The readable form of a complete recipe matches, line by line."""
    assert describe(_parsed(WHOLE)) + "\n" == (HERE / "whole.txt").read_text(encoding="utf-8")


SOURCES = ("card", *BUILT_IN_SOURCES)


def _words(value: Any) -> list[str]:
    """Every text of a table that people read."""
    if isinstance(value, dict):
        skipped = (
            "kind",
            "uid",
            "unit",
            "id",
            "purpose",
            "short",
            "new_try",
            "try",
            "rating",
            "run",
            "schema",
        )
        return [w for k, v in value.items() if k not in skipped for w in _words(v)]
    if isinstance(value, list | tuple):
        return [w for v in value for w in _words(v)]
    return [value] if isinstance(value, str) else []


def test_everything_in_a_recipe_is_shown() -> None:
    """The description has every text of the file, and sources in words."""
    whole = _parsed(WHOLE)
    shown = " ".join(describe(whole).split())
    for text in _words(recipe_table(whole)):
        words = whole.citation(text) if text in SOURCES else text
        assert " ".join(words.split()) in shown, text
