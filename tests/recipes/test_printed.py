"""Lines assembled from a recipe's texts use each piece only where it makes sense."""

from __future__ import annotations

import functools
import re
import tomllib
from pathlib import Path

import pytest

from benchtimer.check_list import make_page, render_page
from benchtimer.orders import new_run
from benchtimer.recipe.describe import describe
from benchtimer.recipe.places import put
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.export import as_text
from benchtimer.rehearsal import rehearse
from benchtimer.settings import Settings

LINES: list[dict[str, str]] = tomllib.loads(
    (Path(__file__).parent / "printed.toml").read_text("utf-8")
)["line"]


@functools.cache
def _printed(command: str, name: str) -> str:
    """What a command prints of a recipe, without line breaks."""
    recipe = RecipeFiles().find(name)
    if command == "rehearse":
        about = [f"pin.{prop.id}=200 C" for prop in recipe.property]
        text = as_text(rehearse(new_run(RecipeFiles(), name, ["pin"], about=about), 1))
    else:
        page = render_page(make_page(put({name: recipe}).recipes, Settings()))
        text = page if command == "prepare" else describe(recipe)
    return " ".join(text.split())


@pytest.mark.parametrize("case", LINES, ids=lambda case: list(case.values())[1][:40])
def test_a_printed_line_reads_correctly(case: dict[str, str]) -> None:
    """The command prints the expected line."""
    ((command, line),) = [(key, text) for key, text in case.items() if key != "recipe"]
    assert line in _printed(command, case["recipe"])


@pytest.mark.parametrize("command", ["prepare", "recipes", "rehearse"])
@pytest.mark.parametrize("name", list(RecipeFiles().paths()))
def test_no_line_has_a_meaningless_piece(command: str, name: str) -> None:
    """A wait shows no dwell of 0 s, nothing repeats 0 times, and no name comes twice."""
    text = _printed(command, name)
    for wrong in (r"\b0 s at least", "target 0 s", " 0 times", r"\? up to", r"\(to ", r"\(from "):
        assert re.search(wrong, text) is None
    assert ": as it should be" not in text
