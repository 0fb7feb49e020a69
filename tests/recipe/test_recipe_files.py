"""Where recipes are found."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.recipe_files import RecipeFiles, shipped_folder
from tests.recipe.drawn import SHIPPED, SMALLEST


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A shop's own folder: a recipe, a changed shipped one, a broken one, other files."""
    (tmp_path / "wipe.toml").write_text(SMALLEST)
    (tmp_path / "hot-black.toml").write_text(SMALLEST.replace('"Wipe"', '"Our own way"'))
    (tmp_path / "broken.toml").write_text("title = ")
    (tmp_path / "notes.txt").write_text("not a recipe")
    (tmp_path / "folder.toml").mkdir()
    return tmp_path


def test_shipped_recipes_are_always_found() -> None:
    """A shop without its own folder finds the shipped recipes."""
    assert list(RecipeFiles().paths()) == [path.stem for path in SHIPPED]
    assert "hot-black" in RecipeFiles().paths()
    assert shipped_folder().is_dir()


def test_your_own_recipe_overrides_a_shipped_one(own: Path) -> None:
    """A shop's own version of a recipe wins."""
    assert RecipeFiles(own).find("hot-black").title == "Our own way"
    assert RecipeFiles().find("hot-black").title != "Our own way"


def test_only_recipe_files_are_listed(own: Path) -> None:
    """Names come in order, without folders and other files."""
    names = list(RecipeFiles(own).paths())
    assert names == sorted(names)
    assert {"wipe", "broken", "hot-black"} <= set(names)
    assert not {"notes", "folder"} & set(names)


def test_a_missing_folder_has_no_recipes(tmp_path: Path) -> None:
    """A missing own folder is no error."""
    assert list(RecipeFiles(tmp_path / "none").paths()) == [path.stem for path in SHIPPED]


def test_a_recipe_is_found_by_its_path(own: Path) -> None:
    """A path finds a file anywhere."""
    assert RecipeFiles().find(str(own / "wipe.toml")).id == "wipe"


def test_a_misspelled_name_gets_the_nearest(own: Path) -> None:
    """The message lists the recipes and the nearest name."""
    with pytest.raises(RecipeError) as caught:
        RecipeFiles(own).find("hot-blak")
    (problem,) = caught.value.problems
    assert problem.near == "hot-black"
    assert "wipe" in problem.allowed


def test_a_broken_recipe_is_listed_with_what_is_wrong(own: Path) -> None:
    """A broken recipe is listed with its error."""
    with pytest.raises(RecipeError, match="it is not TOML"):
        RecipeFiles(own).find("broken")


def test_the_name_of_a_file_cannot_disturb_the_screen(tmp_path: Path) -> None:
    """A control code shows as ? in lists and messages, and the file is still found."""
    (tmp_path / "\x1b[2Jred\u202e.toml").write_text("", encoding="utf-8")
    shelf = RecipeFiles(tmp_path)
    assert "?[2Jred?" in shelf.paths()
    with pytest.raises(RecipeError, match=r"known: \?\[2Jred\?, ") as unknown:
        shelf.find("hit-black")
    assert "\x1b" not in str(unknown.value)
    with pytest.raises(RecipeError, match=r"\?\[2Jred\?.*\"title\" is missing"):
        shelf.find("?[2Jred?")
