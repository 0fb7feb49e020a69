"""From typed recipe, parts, changes and properties to a run to set up."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtimer.orders import new_run
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.recipe_files import RecipeFiles
from tests.support import SMALL, TEMPERED


@pytest.fixture(name="shelf", scope="module")
def _shelf(tmp_path_factory: pytest.TempPathFactory) -> RecipeFiles:
    """A shop with two recipes of its own, and a third in another folder under a known name."""
    folder = tmp_path_factory.mktemp("shop")
    (folder / "dip.toml").write_text(SMALL, encoding="utf-8")
    (folder / "wax.toml").write_text(TEMPERED, encoding="utf-8")
    (folder / "other").mkdir()
    slower = SMALL.replace('"5 min"', '"6 min"')
    (folder / "other" / "dip.toml").write_text(slower, encoding="utf-8")
    return RecipeFiles(folder)


def _other(shelf: RecipeFiles) -> str:
    return str(shelf.folders[0] / "other" / "dip.toml")


def test_parts_follow_the_recipe_or_their_own(shelf: RecipeFiles) -> None:
    """A part without a recipe follows the run's; a part with one adds it."""
    run = new_run(shelf, "dip", ["bolster", "blade=wax", " cap "])
    assert run.parts == [("bolster", "dip"), ("blade", "wax"), ("cap", "dip")]
    assert list(run.recipes) == ["dip", "wax"]
    assert run.title == "Dip and look"


def test_a_recipe_that_no_part_follows_is_left_out(shelf: RecipeFiles) -> None:
    """If every part has its own recipe, the run's recipe is left out."""
    run = new_run(shelf, "dip", ["blade=wax"])
    assert list(run.recipes) == ["wax"]


def test_without_parts_the_recipe_stays(shelf: RecipeFiles) -> None:
    """A run without parts keeps its recipe, and setting it up says what is missing."""
    assert list(new_run(shelf, "dip", []).recipes) == ["dip"]


def test_a_recipe_named_by_a_path_is_known_by_its_file(
    shelf: RecipeFiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A recipe given by a path has its whole path in the run, and one given by name has none."""
    monkeypatch.chdir(shelf.folders[0])
    file = str(shelf.folders[0] / "other" / "dip.toml")
    assert new_run(shelf, "other/dip.toml", ["a", "b=wax"]).files == {"dip": file}
    assert new_run(shelf, "wax", ["a", "b=./other/dip.toml"]).files == {"dip": file}
    assert new_run(shelf, "dip", ["a"]).files == {}
    assert new_run(shelf, "other/dip.toml", ["b=wax"]).files == {}


def test_changes_apply_to_the_recipe_they_name(shelf: RecipeFiles) -> None:
    """A change applies to the run's recipe unless it names another one before a colon."""
    run = new_run(shelf, "dip", ["a", "b=wax"], ["dip.target=6 min", "wax:dip.target=7 min"])
    aims = {key: table["step"][1]["dwell"]["target"] for key, table in run.recipes.items()}
    assert aims == {"dip": "6 min", "wax": "7 min"}
    assert run.adjustments == ("dip: dip.target = 6 min", "wax: dip.target = 7 min")


def test_a_colon_in_a_value_does_not_name_a_recipe(shelf: RecipeFiles) -> None:
    """Only the text before the equals sign can name a recipe."""
    with pytest.raises(RecipeError, match="10:30"):
        new_run(shelf, "dip", ["a"], ["dip.target=10:30"])


def test_properties_are_kept_by_part(shelf: RecipeFiles) -> None:
    """The last dot separates part from property, so a name can have dots."""
    about = ["blade.temper=200 C", " no. 2.temper = 400 F", "blade.colour=a=b"]
    assert new_run(shelf, "dip", ["a"], about=about).properties == {
        "blade": {"temper": "200 C", "colour": "a=b"},
        "no. 2": {"temper": "400 F"},
    }


@pytest.mark.parametrize(
    "about",
    ["blade", "temper=200 C", "blade.temper", "blade.temper= ", ".temper=1", "blade.=1"],
)
def test_an_unknown_property_is_refused(shelf: RecipeFiles, about: str) -> None:
    """The message quotes the text and shows a correct form."""
    way = 'it is not PART.PROPERTY=VALUE; like "blade.temper=200 C"'
    with pytest.raises(RecipeError, match=way):
        new_run(shelf, "dip", ["a"], about=[about])


def test_an_unknown_recipe_in_a_change_suggests_the_nearest(shelf: RecipeFiles) -> None:
    """A change for an unknown recipe lists the run's recipes."""
    with pytest.raises(RecipeError) as found:
        new_run(shelf, "dip", ["a", "b=wax"], ["wx:dip.target=7 min"])
    assert 'this run has no recipe "wx"; known: dip, wax; did you mean "wax"?' in str(found.value)


def test_two_recipes_with_one_id_are_refused(shelf: RecipeFiles) -> None:
    """Another file with the same id but other contents is refused."""
    with pytest.raises(RecipeError, match="another recipe here has the id dip; rename it"):
        new_run(shelf, "dip", ["a", f"b={_other(shelf)}"])


def test_the_same_recipe_twice_is_one(shelf: RecipeFiles) -> None:
    """A recipe given by its name and by its path is the same recipe."""
    run = new_run(shelf, "dip", ["a", f"b={shelf.folders[0] / 'dip.toml'}"])
    assert run.parts == [("a", "dip"), ("b", "dip")]


def test_one_name_has_one_spelling(shelf: RecipeFiles) -> None:
    """A letter with a separate accent is the same letter."""
    run = new_run(shelf, "dip", ["caf\u0065\u0301", "caf\u00e9 2"])
    assert run.parts == [("caf\u00e9", "dip"), ("caf\u00e9 2", "dip")]


def test_hands_and_away_hours_are_included(shelf: RecipeFiles) -> None:
    """The run has the number of hands and the hours away."""
    run = new_run(shelf, "dip", ["a"], hands=2, away=["22:00-07:00"])
    assert (run.hands, run.away) == (2, ("22:00-07:00",))


_CHANGES = st.lists(
    st.sampled_from(["dip.target=6 min", "dip.max=9 min", "wax:hang.target=90 min"])
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(changes=_CHANGES)
def test_every_change_is_in_the_record(shelf: RecipeFiles, changes: list[str]) -> None:
    """The record keeps every change in a form that can be typed again."""
    run = new_run(shelf, "dip", ["a", "b=wax"], changes)
    assert len(run.adjustments) == len(changes)
    again = new_run(shelf, "dip", ["a", "b=wax"], [t.replace(": ", ":") for t in run.adjustments])
    assert (again.recipes, again.adjustments) == (run.recipes, run.adjustments)


def test_a_file_can_be_named_by_its_path(shelf: RecipeFiles, tmp_path: Path) -> None:
    """A recipe outside the usual folders runs from its path."""
    path = tmp_path / "quick try.toml"
    path.write_text(SMALL, encoding="utf-8")
    assert new_run(shelf, str(path), ["a"]).parts == [("a", "quick-try")]
