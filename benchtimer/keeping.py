"""Saves a recipe's next revision in the shop's own recipes; nothing old is overwritten.

The newest revision is in the shop's folder under the recipe's name, where the next run finds it.
The previous file moves into ``revisions/`` next to it, with its number.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

from benchtimer.atomic_file import make_own_folder, write_if_new, write_whole
from benchtimer.quantity import printable
from benchtimer.recipe.json_schema import FILE_NAME as SCHEMA_NAME
from benchtimer.recipe.json_schema import recipe_schema
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.raw_tables import Table
from benchtimer.recipe.reader import build_recipe, parse_recipe, read_recipe, read_start
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.revise import revised
from benchtimer.values import dataclass

OLD = "revisions"


class NotKept(Exception):
    """The new revision could not be written; nothing was changed."""


@dataclass(frozen=True, slots=True)
class NewRevision:
    """A revision ready to be written, or written.

    Attributes:
        path: where it goes.
        revision: its number.
        text: the file.
        comments: whether the comments of the file it was made from are in it.
    """

    path: Path
    revision: int
    text: str
    comments: bool


def prepare(
    recipe_files: RecipeFiles,
    recipe: str,
    ran: int,
    table: Table,
    lineage: Table,
    file: Path | None = None,
) -> NewRevision:
    """The next revision of a recipe as text; nothing is written.

    Args:
        recipe_files: where recipes are; the first folder is the shop's own.
        recipe: the recipe's id.
        ran: the revision the table comes from.
        table: the new recipe, without its number and lineage.
        lineage: where it comes from.
        file: the file that was run, if it was named by a path.

    Raises:
        RecipeError: the table is not a recipe.
    """
    target = recipe_files.folders[0] / f"{recipe}.toml"
    number = max([ran, *(found.revision for _, found in _known(recipe_files, recipe))]) + 1
    whole = {**table, "revision": number, "lineage": lineage}
    text, reason = _text_of(recipe_files, recipe, ran, file)
    new_text, comments = revised(text, whole, reason)
    return NewRevision(target, number, new_text, comments)


def write(kept: NewRevision) -> Path | None:
    """Save a revision in the shop's recipes.

    Returns:
        Where the previous file is now, if there was one.

    Raises:
        NotKept: it can't be written.
    """
    try:
        make_own_folder(kept.path.parent)
        moved = _set_aside(kept.path) if kept.path.exists() else None
        write_whole(kept.path, kept.text)
        schema = json.dumps(recipe_schema(), ensure_ascii=False, indent=2)
        write_if_new(kept.path.with_name(SCHEMA_NAME), f"{schema}\n")
    except OSError as error:
        reason = error.strerror or "the system gives no reason"
        raise NotKept(f"{kept.path} can't be written: {reason}; no old file is lost") from None
    return moved


def _set_aside(path: Path) -> Path:
    """Copy what is at a path to an unused name; the path itself stays until the new file replaces
    it.
    """
    number = _number(path)
    folder = path.parent / OLD
    make_own_folder(folder)
    same = 1
    while True:
        more = f"-{same}" if same > 1 else ""
        target = folder / f"{path.stem}-{number}{more}.toml"
        if not target.exists():
            target.write_bytes(path.read_bytes())
            return target
        if target.read_bytes() == path.read_bytes():
            return target
        same += 1


def _number(path: Path) -> int | str:
    try:
        return read_recipe(path).revision
    except RecipeError:
        return "unreadable"


def made_already(recipe_files: RecipeFiles, recipe: str, table: Table, uid: str) -> int | None:
    """The revision with exactly this content from the same run, if there is one.

    Args:
        recipe_files: where recipes are.
        recipe: the recipe's id.
        table: the new recipe.
        uid: the run that it comes from.
    """
    wanted = build_recipe({**table, "revision": 1}, name=recipe)
    for _, found in _known(recipe_files, recipe):
        same = found.model_copy(update={"revision": 1, "lineage": None}) == wanted
        if same and found.lineage is not None and found.lineage.uid == uid:
            return found.revision
    return None


def _known(recipe_files: RecipeFiles, recipe: str) -> Iterator[tuple[Path, Recipe]]:
    """All revisions of a recipe that can be read, with their files."""
    for folder in recipe_files.folders:
        for path in [folder / f"{recipe}.toml", *sorted((folder / OLD).glob(f"{recipe}-*.toml"))]:
            found = _recipe_at(path, recipe)
            if found is not None and found.id == recipe and _is_revision_of(path, found):
                yield path, found


def _recipe_at(path: Path, recipe: str) -> Recipe | None:
    """The recipe in a file; an old revision has no id from its file name, which has a
    number in it.
    """
    try:
        raw = read_start(path) if path.is_file() else None
        return None if raw is None else parse_recipe(raw, name=str(path), default_id=recipe)
    except (OSError, RecipeError):
        return None


def _is_revision_of(path: Path, found: Recipe) -> bool:
    """Whether a file's name is just its recipe's name, or that with its revision."""
    pattern = rf"{re.escape(found.id)}(-{found.revision}(-\d+)?)?"
    return re.fullmatch(pattern, path.stem) is not None


def _text_of(
    recipe_files: RecipeFiles, recipe: str, ran: int, file: Path | None
) -> tuple[str | None, str]:
    """The text of the revision that was run, with its line endings, or why it is missing."""
    if file is not None and file.parent not in recipe_files.folders:
        found = _recipe_at(file, recipe)
        if found is not None and (found.id, found.revision) == (recipe, ran):
            return file.read_bytes().decode("utf-8"), ""
        # An imported run can have any name here.
        named = printable(str(file))
        return None, f"{named}, which the run followed, is gone or is another recipe now"
    for path, found in _known(recipe_files, recipe):
        if found.revision == ran:
            return path.read_bytes().decode("utf-8"), ""
    return None, f"revision {ran}, which the run followed, is no longer among the recipes"
