"""The commands about recipes: check, recipes, show, schema."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from benchtimer.cli.common import NO, YES
from benchtimer.cli.shop import shop_shelf


def check_options(parser: argparse.ArgumentParser) -> None:
    """FILE..."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="recipe files")


def check(arguments: argparse.Namespace) -> int:
    """Every problem of every file, each with its line."""
    from benchtimer.recipe.problems import RecipeError, printable
    from benchtimer.recipe.reader import read_recipe

    code = YES
    for name in arguments.files:
        try:
            recipe = read_recipe(Path(name))
        except RecipeError as error:
            print(error)
            code = NO
        else:
            print(f"{printable(name)}: fine: {recipe.title}, {len(recipe.step)} steps")
    return code


def list_options(parser: argparse.ArgumentParser) -> None:
    """--json."""
    parser.add_argument("--json", action="store_true", help="for programs")


def recipes(arguments: argparse.Namespace) -> int:
    """What is on the shelf."""
    from benchtimer.recipe.problems import RecipeError, printable
    from benchtimer.recipe.reader import read_recipe

    lines = []
    for stem, path in shop_shelf().paths().items():
        name = printable(stem)
        try:
            recipe = read_recipe(path)
            lines.append({"recipe": name, "revision": recipe.revision, "title": recipe.title})
        except RecipeError as error:
            problems = len(error.problems)
            words = f"{problems} problems: benchtimer validate {printable(str(path))}"
            lines.append({"recipe": name, "title": words})
    if arguments.json:
        print(json.dumps(lines, ensure_ascii=False, indent=2))
    else:
        width = max((len(str(line["recipe"])) for line in lines), default=0)
        for line in lines:
            print(f"{line['recipe']:<{width}}  {line['title']}")
    return YES


def show_options(parser: argparse.ArgumentParser) -> None:
    """RECIPE."""
    parser.add_argument("recipe", metavar="RECIPE", help="a name on the shelf, or a path")


def show(arguments: argparse.Namespace) -> int:
    """One recipe in readable form."""
    from benchtimer.recipe.describe import describe

    print(describe(shop_shelf().find(arguments.recipe)))
    return YES


def schema(_arguments: argparse.Namespace) -> int:
    """The recipe format as JSON Schema."""
    from benchtimer.recipe.schema import recipe_schema

    print(json.dumps(recipe_schema(), ensure_ascii=False, indent=2))
    return YES
