"""Changes to a recipe for one run."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.recipe.adjust import Adjustment, adjusted, parse_adjustment
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import build_recipe, read_recipe
from benchtimer.recipe.writer import recipe_table
from tests.recipe.drawn import SAMPLE, Table, recipes


@pytest.fixture(scope="module")
def hot_black() -> Recipe:
    """A recipe for hot-salt blacking."""
    return read_recipe(SAMPLE)


def change(recipe: Recipe, *texts: str) -> Table:
    """The tables of a recipe after changes, as in its file."""
    return recipe_table(adjusted(recipe, [parse_adjustment(text) for text in texts]))


def entry(table: Table, key: str, name: str) -> Table:
    """The step, station or mix with this id."""
    found: Table = next(e for e in table[key] if e["id"] == name)
    return found


@pytest.mark.parametrize(
    ("text", "where", "value"),
    [
        ("black.target=12 min", ("step", "black", "dwell", "target"), "12 min"),
        ('black.target = "12 min"', ("step", "black", "dwell", "target"), "12 min"),
        (" black . min = 9 min ", ("step", "black", "dwell", "min"), "9 min"),
        ("black.max=25 min", ("step", "black", "dwell", "max"), "25 min"),
        ("black.hands=30 s", ("step", "black", "hands"), "30 s"),
        ("salts.max=292 F", ("station", "salts", "temperature", "max"), "292 F"),
        ("salts.every=5 min", ("station", "salts", "temperature", "every"), "5 min"),
        ("boil.holds=5", ("station", "boil", "holds"), 5),
        ("black-salts.volume=8 L", ("mix", "black-salts", "volume"), "8 L"),
        ("black-salts.1=700 g/L", ("mix", "black-salts", "of", 0, "amount"), "700 g/L"),
        ("cleaner.max=190 F", ("station", "cleaner", "temperature", "max"), "190 F"),
        ("cleaner.volume=5 L", ("mix", "cleaner", "volume"), "5 L"),
    ],
)
def test_one_entry_changes_and_nothing_else(
    hot_black: Recipe, text: str, where: tuple[str | int, ...], value: object
) -> None:
    """Only the changed entry differs, and changing it back restores the recipe."""
    before, after = recipe_table(hot_black), change(hot_black, text)
    key, name, *path, last = where
    old: Any = entry(before, str(key), str(name))
    new: Any = entry(after, str(key), str(name))
    for part in path:
        old, new = old[part], new[part]
    assert new[last] == value
    new[last] = old.get(last, new[last])
    if last in old:
        assert after == before


@pytest.mark.parametrize(
    ("text", "found", "near"),
    [
        ("black", "it is not ID.FIELD=VALUE", None),
        ("black.target", "it is not ID.FIELD=VALUE", None),
        ("black=12 min", "it is not ID.FIELD=VALUE", None),
        (".target=12 min", "it is not ID.FIELD=VALUE", None),
        ("black.=12 min", "it is not ID.FIELD=VALUE", None),
        ("black.target=", "it is not ID.FIELD=VALUE", None),
        ("blck.target=12 min", 'there is no step, station or mix "blck"', "black"),
        ("black.title=Dip", '"black" has no field "title"', None),
        ("scrub.target=12 min", '"scrub" has no field "target"', None),
        ("boil.max=100 C", '"boil" has no field "max"', None),
        ("oil.1=5 g/L", '"oil" has no field "1"', None),
        ("black-salts.2=5 g/L", '"black-salts" has no field "2"', None),
        ("black-salts.-1=5 g/L", '"black-salts" has no field "-1"', None),
    ],
)
def test_what_cannot_be_adjusted_is_refused(
    hot_black: Recipe, text: str, found: str, near: str | None
) -> None:
    """An unknown id, an unknown field and a wrong form each get their own message."""
    with pytest.raises(RecipeError) as caught:
        change(hot_black, text)
    (problem,) = caught.value.problems
    assert (problem.found, problem.near) == (found, near)
    assert problem.allowed


@pytest.mark.parametrize(
    ("text", "where", "found"),
    [
        (
            "black.target=12 F",
            'step "black", dwell, target',
            '"12 F": "F" is a unit of temperature',
        ),
        (
            "black.target=25 min",
            'step "black", dwell, max',
            'max "20 min" is under target "25 min"',
        ),
        ("salts.min=300 F", 'station "salts", temperature, target', "under min"),
        ("boil.holds=many", 'station "boil", holds', 'found "many"'),
        ("boil.holds=-1", 'station "boil", holds', 'found "-1"'),
        ("boil.holds=0", 'station "boil", holds', "found 0"),
        ("boil.holds=99999", 'station "boil", holds', "found 99999"),
        ("black-salts.volume=0 L", 'mix "black-salts", volume', '"0 L"'),
        ("black-salts.1=5 min", 'mix "black-salts"', '"min" is a unit of time'),
    ],
)
def test_a_change_that_breaks_the_recipe_is_refused(
    hot_black: Recipe, text: str, where: str, found: str
) -> None:
    """The changed recipe goes through every check of a file."""
    with pytest.raises(RecipeError) as caught:
        change(hot_black, text)
    (problem,) = caught.value.problems
    assert problem.where.startswith(where)
    assert found in problem.found
    assert caught.value.name == "hot-black, adjusted"


def test_later_changes_override_earlier_ones(hot_black: Recipe) -> None:
    """Changes are applied together, and the last one for a field wins."""
    after = change(hot_black, "black.max=30 min", "black.target=20 min", "black.target=25 min")
    dwell = entry(after, "step", "black")["dwell"]
    assert (dwell["target"], dwell["max"]) == ("25 min", "30 min")


def test_a_limit_that_was_not_there_can_be_added(hot_black: Recipe) -> None:
    """A station with a temperature window can get a ceiling for one run."""
    after = change(hot_black, "cleaner.ceiling=205 F")
    assert entry(after, "station", "cleaner")["temperature"]["ceiling"] == "205 F"


@given(recipes())
def test_no_change_leaves_everything_as_it_is(table: Table) -> None:
    """A recipe with no changes equals itself."""
    recipe = build_recipe(table | {"id": "drawn"}, name="drawn")
    assert adjusted(recipe, []) == recipe


@given(st.text(max_size=30))
def test_any_text_is_an_adjustment_or_refused(text: str) -> None:
    """An accepted change has three parts and reads back from its display."""
    try:
        found: object = parse_adjustment(text)
    except RecipeError as error:
        found = error
    if isinstance(found, Adjustment):
        assert found.entry
        assert found.field
        assert found.value
    else:
        assert isinstance(found, RecipeError)


@pytest.mark.parametrize(
    "text", ["black.target = 12 min", "salts.max = 292 F", "oil.volume = 1 gal"]
)
def test_an_adjustment_shown_reads_back_to_itself(text: str) -> None:
    """A change in the record can be typed again."""
    adjustment = parse_adjustment(text)
    assert str(adjustment) == text
    assert parse_adjustment(str(adjustment)) == adjustment


def test_a_field_takes_the_value_of_its_neighbor(hot_black: Recipe) -> None:
    """``black.min = target`` sets min to the recipe's target, in the recipe's own words."""
    dwell = entry(change(hot_black, "black.min=target"), "step", "black")["dwell"]
    assert dwell["min"] == dwell["target"] == "10 min"
    window = entry(change(hot_black, "salts.min=target"), "station", "salts")["temperature"]
    assert window["min"] == window["target"]


@given(recipes())
def test_every_dwell_can_be_held_to_its_target(table: Table) -> None:
    """``*.min = target`` keeps every dwell to its target and changes nothing else."""
    recipe = build_recipe(table | {"id": "drawn"}, name="drawn")
    if not any(step.dwell for step in recipe.step):
        with pytest.raises(RecipeError, match="applies to no step"):
            change(recipe, "*.min=target")
        return
    before, after = recipe_table(recipe), change(recipe, "*.min=target")
    for old, new in zip(before["step"], after["step"], strict=True):
        if "dwell" in old:
            assert new["dwell"]["min"] == new["dwell"]["target"]
            new["dwell"]["min"] = old["dwell"]["min"]
    assert after == before


@pytest.mark.parametrize("text", ["*.min=10 min", "*.hands=target", "*.min=source", "*.holds=min"])
def test_a_change_to_all_steps_sets_only_limits_they_have(hot_black: Recipe, text: str) -> None:
    """One value for every dwell is refused, and the message says what works."""
    with pytest.raises(RecipeError, match=r'"\*\.min=target" uses the target'):
        change(hot_black, text)


@pytest.mark.parametrize("text", ["black.min=bim", "black.min=source", "black-salts.1=target"])
def test_an_unknown_limit_is_refused(hot_black: Recipe, text: str) -> None:
    """A word that names no limit is refused, even if the entry has a field with its name."""
    with pytest.raises(RecipeError, match=text.partition("=")[2]):
        change(hot_black, text)
