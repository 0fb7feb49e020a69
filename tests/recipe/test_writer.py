"""Writing a recipe and reading it back gives the same recipe."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given

from benchtimer.recipe.reader import build_recipe, read_recipe
from benchtimer.recipe.writer import recipe_table, write_recipe
from tests.recipe.drawn import SHIPPED, Table, read, recipes


@given(recipes())
def test_a_written_recipe_reads_back_unchanged(table: Table) -> None:
    """For any recipe, writing loses nothing and adds nothing."""
    recipe = build_recipe(table | {"id": "drawn"}, name="drawn")
    assert read(write_recipe(recipe)) == recipe


@given(recipes())
def test_writing_twice_gives_the_same_text(table: Table) -> None:
    """A recipe that was written and read is written the same way again."""
    text = write_recipe(build_recipe(table | {"id": "drawn"}, name="drawn"))
    assert write_recipe(read(text)) == text


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_a_shipped_recipe_survives_writing(path: Path) -> None:
    """Every shipped recipe reads back to itself."""
    recipe = read_recipe(path)
    assert read(write_recipe(recipe)) == recipe


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_the_table_of_a_recipe_is_its_file_without_defaults(path: Path) -> None:
    """The tables have every entry of the author, in the author's spelling."""
    table = recipe_table(read_recipe(path))
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    assert table["title"] == written["title"]
    assert [s["id"] for s in table["step"]] == [s["id"] for s in written["step"]]
    assert [s.get("temperature") for s in table.get("station", [])] == [
        s.get("temperature") for s in written.get("station", [])
    ]
