"""The commands about recipes: validate, recipes, schema."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, YES, json_option, put_json
from benchtimer.cli.record_common import put_out
from benchtimer.cli.shop_context import shop_recipes

if TYPE_CHECKING:
    from benchtimer.recipe.problems import RecipeProblem


def check_options(parser: argparse.ArgumentParser) -> None:
    """FILE..."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="recipe files")
    json_option(parser)


def check(arguments: argparse.Namespace) -> int:
    """Every problem of every file, each with its line."""
    from benchtimer.quantity import how_many, printable
    from benchtimer.recipe.problems import RecipeError
    from benchtimer.recipe.reader import read_recipe

    results: list[dict[str, object]] = []
    for name in arguments.files:
        try:
            recipe = read_recipe(Path(name))
        except RecipeError as error:
            rows = [_problem(problem) for problem in error.problems]
            results.append({"file": name, "valid": False, "problems": rows})
            text = str(error)
        else:
            steps = len(recipe.step)
            results.append({"file": name, "valid": True, "title": recipe.title, "steps": steps})
            text = f"{printable(name)}: fine: {recipe.title}, {how_many(steps, 'step')}"
        if not arguments.json:
            print(text)
    if arguments.json:
        put_json(results)
    return YES if all(row["valid"] for row in results) else NO


def _problem(problem: RecipeProblem) -> dict[str, object]:
    return {
        "line": problem.line, "where": problem.where, "found": problem.found,
        "allowed": problem.allowed, "text": str(problem),
    }  # fmt: skip


def list_options(parser: argparse.ArgumentParser) -> None:
    """[RECIPE] --json."""
    about = "the recipe to print, by name or path"
    parser.add_argument("recipe", metavar="RECIPE", nargs="?", help=about)
    json_option(parser)


def recipes(arguments: argparse.Namespace) -> int:
    """List the recipes, or print one."""
    if arguments.recipe is not None:
        return _print_one(arguments)
    from benchtimer.quantity import printable
    from benchtimer.recipe.problems import RecipeError
    from benchtimer.recipe.reader import read_recipe

    lines = []
    for name, path in shop_recipes().paths().items():
        try:
            recipe = read_recipe(path)
            lines.append({"recipe": name, "revision": recipe.revision, "title": recipe.title})
        except RecipeError as error:
            problems = len(error.problems)
            words = f"{problems} problems: benchtimer validate {printable(str(path))}"
            lines.append({"recipe": name, "title": words})
    if arguments.json:
        put_json(lines)
    else:
        width = max((len(str(line["recipe"])) for line in lines), default=0)
        for line in lines:
            print(f"{line['recipe']:<{width}}  {line['title']}")
    return YES


def _print_one(arguments: argparse.Namespace) -> int:
    """One recipe in readable form."""
    from benchtimer.recipe.describe import describe
    from benchtimer.recipe.writer import recipe_table

    recipe = shop_recipes().find(arguments.recipe)
    if arguments.json:
        put_json({"id": recipe.id, **recipe_table(recipe)})
    else:
        put_out(describe(recipe))
    return YES


def schema_options(parser: argparse.ArgumentParser) -> None:
    """[recipe|settings]."""
    parser.add_argument(
        "of", metavar="FORMAT", nargs="?", choices=("recipe", "settings"), default="recipe",
        help="recipe (default) or settings",
    )  # fmt: skip


def schema(arguments: argparse.Namespace) -> int:
    """The format of recipes, or of the settings file, as JSON Schema."""
    from benchtimer.recipe.json_schema import recipe_schema
    from benchtimer.settings import settings_schema

    found = settings_schema() if arguments.of == "settings" else recipe_schema()
    put_json(found)
    return YES
