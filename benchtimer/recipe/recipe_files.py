"""Recipe files, found by name.

Built-in recipes are next to the package in a clone and inside it in an installed wheel. A shop's
own recipes are in another folder and override built-in ones with the same name.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtimer.recipe.model import Recipe

_PACKAGE = Path(__file__).resolve().parent.parent


def shipped_folder() -> Path:
    """The folder of the recipes that come with the program."""
    inside = _PACKAGE / "shipped"
    return inside if inside.is_dir() else _PACKAGE.parent / "recipes"


class RecipeFiles:
    """Recipes in folders; the first folder with a given name wins."""

    def __init__(self, *folders: Path) -> None:
        self.folders = (*folders, shipped_folder())

    def paths(self) -> dict[str, Path]:
        """Recipe names and their files, by name. A file can have any name; characters that could
        garble a screen become ? in the recipe's name.
        """
        from benchtimer.quantity import printable

        found: dict[str, Path] = {}
        for folder in self.folders:
            for path in _toml_files(folder):
                found.setdefault(printable(path.stem), path)
        return dict(sorted(found.items()))

    def find(self, name: str) -> Recipe:
        """The recipe with this name, or at this path.

        Raises:
            RecipeError: no such recipe, or everything wrong with its file.
        """
        # Imported here because names are needed where no recipe is read.
        from benchtimer.quantity import nearest
        from benchtimer.recipe.problems import RecipeError, RecipeProblem, quoted
        from benchtimer.recipe.reader import read_recipe

        path = path_in(name)
        if path is not None:
            return read_recipe(path)
        known = self.paths()
        if name not in known:
            found = f"there is no recipe {quoted(name)}"
            allowed = f"known: {', '.join(known) or 'none'}; or give a path to a .toml file"
            near = nearest(name, list(known))
            raise RecipeError(quoted(name), [RecipeProblem("recipes", found, allowed, near=near)])
        return read_recipe(known[name])


def path_in(name: str) -> Path | None:
    """The path in a recipe's name; None for a plain name."""
    return Path(name) if name.endswith(".toml") or "/" in name or "\\" in name else None


def _toml_files(folder: Path) -> Iterator[Path]:
    try:
        yield from (p for p in sorted(folder.iterdir()) if p.suffix == ".toml" and p.is_file())
    except OSError:
        return  # a missing folder has no recipes
