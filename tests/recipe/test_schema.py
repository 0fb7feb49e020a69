"""The published schema is valid and never stricter than the reader."""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from benchtimer.recipe.json_schema import recipe_schema
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import build_recipe
from tests.recipe.drawn import SHIPPED, Table, recipes
from tests.recipe.test_cases import BAD

VALIDATOR = Draft202012Validator(recipe_schema())

STRANGE_VALUES = st.sampled_from(
    [0, -1, 1.5, True, 1.0, "", "x", "10 F", "90 s", "5 s 5 min", "2 lb", "Not An Id", [], {}, [[]],
     "yes-no", "a" * 41, "b" * 121, ["a"], {"id": "x"}, 10**30, float("nan"), "°C", "5 g/L"]
)  # fmt: skip


def is_recipe(table: Table) -> bool:
    """Whether the model and the rules accept a table."""
    try:
        build_recipe({"id": "trial"} | table, name="trial")
    except RecipeError:
        return False
    return True


def places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every table and list in a recipe, with each of its keys."""
    entries = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inner in list(entries):
        yield value, key
        if isinstance(inner, dict | list):
            yield from places(inner)


@st.composite
def mutated(draw: st.DrawFn) -> Table:
    """A recipe with one to three entries changed, dropped, doubled or misspelled."""
    table: Table = copy.deepcopy(draw(recipes()))
    for _ in range(draw(st.integers(1, 3))):
        known = list(places(table))
        owner, key = draw(st.sampled_from(known))
        if key not in owner and not isinstance(owner, list):
            continue
        change = draw(st.sampled_from(["set", "drop", "double", "misspell"]))
        if change == "set":
            owner[key] = draw(STRANGE_VALUES)
        elif change == "drop":
            del owner[key]
        elif isinstance(owner, list):
            owner.append(copy.deepcopy(owner[key]))
        else:
            owner[f"{key}s"] = owner.pop(key) if change == "misspell" else owner[key]
        if not table:
            break
    return table


def test_the_schema_is_a_valid_json_schema() -> None:
    """A generic validator accepts the schema in its declared draft."""
    schema = recipe_schema()
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert json.loads(json.dumps(schema)) == schema


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_recipes_follow_the_schema(path: Path) -> None:
    """A generic validator accepts every shipped recipe."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert [error.message for error in VALIDATOR.iter_errors(table)] == []


@given(recipes())
def test_every_recipe_the_reader_accepts_follows_the_schema(table: Table) -> None:
    """Every recipe that the reader accepts follows the schema."""
    assert is_recipe(table)
    assert [error.message for error in VALIDATOR.iter_errors(table)] == []


@given(mutated())
def test_what_the_schema_refuses_the_reader_refuses(table: Table) -> None:
    """The reader refuses every broken recipe that the schema refuses."""
    if not VALIDATOR.is_valid(table):
        assert not is_recipe(table)


@pytest.mark.parametrize(
    ("name", "tells"),
    [
        ("unknown-keys", True),
        ("wrong-types", True),
        ("missing-keys", True),
        ("absurd-sizes", True),
        ("wrong-units", True),
        ("unknown-check-kind", True),
        ("limits-fall", False),
        ("undefined-names", False),
        ("duplicate-names", False),
    ],
)
def test_the_schema_covers_shapes_but_not_rules_between_entries(name: str, tells: bool) -> None:
    """The schema catches malformed entries; rules between entries need the reader."""
    path = next(p for p in BAD if p.stem == name)
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert VALIDATOR.is_valid(table) is not tells
    assert not is_recipe(table)


def test_the_schema_knows_each_key_of_the_model() -> None:
    """Every table of the format lists exactly the model's keys."""
    schema = recipe_schema()
    keys = {field.alias or name for name, field in Recipe.model_fields.items()}
    assert set(schema["properties"]) == keys
    closed = [schema, *schema["$defs"].values()]
    assert all(entry["additionalProperties"] is False for entry in closed)


def test_the_schema_uses_only_the_standard_vocabulary() -> None:
    """It has no null, which TOML lacks, and no keywords of other dialects."""
    text = json.dumps(recipe_schema())
    assert '"null"' not in text
    assert "discriminator" not in text
