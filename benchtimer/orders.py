"""From a request (a recipe, parts, changes) to a run that can be set up."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from benchtimer.bench.newrun import NewRun
from benchtimer.job.order import split_identity
from benchtimer.quantity import nearest
from benchtimer.recipe.adjust import Adjustment, adjusted, parse_adjustment
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError, RecipeProblem, quoted
from benchtimer.recipe.recipe_files import RecipeFiles, path_in
from benchtimer.recipe.writer import recipe_table
from benchtimer.run.layout import EntersAt


def new_run(
    recipe_files: RecipeFiles,
    recipe: str,
    parts: Sequence[str],
    changes: Sequence[str] = (),
    hands: int = 1,
    about: Sequence[str] = (),
    away: Sequence[str] = (),
    begins: Sequence[str] = (),
    before: Sequence[str] = (),
    counts: Sequence[str] = (),
) -> NewRun:
    """A run to set up.

    Args:
        recipe_files: where recipes are found.
        recipe: name or path of the recipe that parts follow unless they name their own.
        parts: part names, or ``name=RECIPE``; a part of a job is ``JOB/PART``.
        changes: ``ID.FIELD=VALUE`` for the main recipe, or ``RECIPE:ID.FIELD=VALUE``.
        hands: people who work.
        about: ``PART.PROPERTY=VALUE``, what is known about a part.
        away: hours when you are away, such as ``22:00-07:00``.
        begins: ``PART=STEP``, the step at which a half-done part enters its recipe.
        before: ``PART=WORDS``, what was done to it before.
        counts: ``PART=NUMBER``, the pieces of a part that is a batch.

    Raises:
        RecipeError: a recipe or a change is invalid.
    """
    main = recipe_files.find(recipe)
    recipes = {main.id: main}
    files = _file_of(recipe, main.id)
    chosen = [_part(recipe_files, text, main, recipes, files) for text in parts]
    short = short_names([name for name, _ in chosen])
    used = {key for _, key in chosen}
    recipes = {key: found for key, found in recipes.items() if key in used or not used}
    by_recipe = _by_recipe(changes, main.id, recipes)
    done = {key: adjusted(found, by_recipe.get(key, [])) for key, found in recipes.items()}
    first = next(iter(done.values()), main)
    return NewRun(
        title=first.title,
        recipes={key: recipe_table(found) for key, found in done.items()},
        parts=[(short[name], key) for name, key in chosen],
        properties={short.get(name, name): given for name, given in _properties(about).items()},
        away=tuple(away),
        adjustments=tuple(f"{key}: {a}" for key, found in by_recipe.items() for a in found),
        hands=hands,
        files={key: path for key, path in files.items() if key in recipes},
        enters={short.get(name, name): given for name, given in _enters(begins, before).items()},
        counts={short.get(name, name): given for name, given in _counts(counts).items()},
        jobs={short[name]: name for name, _ in chosen if "/" in name},
    )


def _enters(begins: Sequence[str], before: Sequence[str]) -> dict[str, EntersAt]:
    steps, said = _by_part(begins, "PART=STEP", "blade=hang"), _by_part(
        before, "PART=WORDS", "blade=etched last week"
    )  # fmt: skip
    for name in said:
        if name not in steps:
            found = "it has no step to enter at"
            raise RecipeError(
                "part", [RecipeProblem(quoted(name), found, f"give --from {name}=STEP")]
            )
    return {name: EntersAt(step, said.get(name, "")) for name, step in steps.items()}


def _counts(counts: Sequence[str]) -> dict[str, int]:
    given = _by_part(counts, "PART=NUMBER", "pins=6")
    for name, text in given.items():
        if not (text.isdecimal() and len(text) < 9):
            found = f"{quoted(text)} is not a number of pieces"
            raise RecipeError("part", [RecipeProblem(quoted(name), found, 'like "pins=6"')])
    return {name: int(text) for name, text in given.items()}


def _by_part(texts: Sequence[str], form: str, example: str) -> dict[str, str]:
    """Values by part name, from ``NAME=VALUE``."""
    found: dict[str, str] = {}
    for text in texts:
        name, equals, value = unicodedata.normalize("NFC", text).partition("=")
        if not (equals and name.strip() and value.strip()):
            problem = RecipeProblem(quoted(text), f"it is not {form}", f'like "{example}"')
            raise RecipeError("part", [problem])
        found[name.strip()] = value.strip()
    return found


def short_names(names: Sequence[str]) -> dict[str, str]:
    """The short names of parts on the board: without the job, unless two would be the same."""
    short: dict[str, str] = {}
    for name in names:
        job, part = split_identity(name)
        taken = {*short.values(), *(n for n in names if "/" not in n)}
        short[name] = f"{part} ({job})" if job and part in taken else part if job else name
    return short


def _file_of(name: str, key: str) -> dict[str, str]:
    """The file of a recipe that is named by a path, by the recipe's key."""
    path = path_in(name)
    where = "" if path is None else str(path.absolute())
    # The log is UTF-8; other text can't be a name to find a file by later.
    return {key: where} if where.isprintable() and where else {}


def _part(
    recipe_files: RecipeFiles,
    text: str,
    main: Recipe,
    recipes: dict[str, Recipe],
    files: dict[str, str],
) -> tuple[str, str]:
    """The name and the recipe's key of a part; new ones are added to the last two arguments."""
    # One spelling for each name: composed letters, no spaces around it.
    name, equals, own = unicodedata.normalize("NFC", text).partition("=")
    name = name.strip()
    if not equals:
        return name, main.id
    found = recipe_files.find(own)
    if recipes.setdefault(found.id, found) != found:
        problem = RecipeProblem(
            quoted(own), f"another recipe here has the id {found.id}", "rename it"
        )
        raise RecipeError(own, [problem])
    for key, path in _file_of(own, found.id).items():
        files.setdefault(key, path)
    return name, found.id


def _by_recipe(
    changes: Sequence[str], main: str, recipes: dict[str, Recipe]
) -> dict[str, list[Adjustment]]:
    grouped: dict[str, list[Adjustment]] = {}
    for change in changes:
        key, rest = main, change
        before = change.partition("=")[0]
        if ":" in before:
            key, _, rest = change.partition(":")
        if key not in recipes:
            near = nearest(key, list(recipes))
            allowed = f"known: {', '.join(recipes)}"
            found = f"this run has no recipe {quoted(key)}"
            raise RecipeError(
                "adjustment", [RecipeProblem(quoted(change), found, allowed, near=near)]
            )
        grouped.setdefault(key, []).append(parse_adjustment(rest))
    return grouped


def _properties(about: Sequence[str]) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for text in about:
        left, equals, value = text.partition("=")
        part, dot, name = left.strip().rpartition(".")
        if not (equals and dot and part and name and value.strip()):
            problem = RecipeProblem(
                quoted(text), "it is not PART.PROPERTY=VALUE", 'like "blade.temper=200 C"'
            )
            raise RecipeError("property", [problem])
        found.setdefault(part, {})[name] = value.strip()
    return found
