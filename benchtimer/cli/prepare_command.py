"""The page before a run, as a list to check off."""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from benchtimer.cli.bath_command import looking
from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.shop_context import shop_recipes, shop_settings

if TYPE_CHECKING:
    from benchtimer.check_list import CheckList
    from benchtimer.recipe.model import Recipe


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE... --json."""
    parser.add_argument("recipes", metavar="RECIPE", nargs="+", help="recipes by name, or paths")
    json_option(parser)


def prepare(arguments: argparse.Namespace) -> int:
    """Print what to lay out, mix, heat and read before a run."""
    from benchtimer.check_list import WIDTH, render_page

    page = page_of(arguments, arguments.recipes)
    if arguments.json:
        put_json(page.as_dict())
    else:
        print(render_page(page, min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)), end="")
    return YES


def page_of(arguments: argparse.Namespace, names: Iterable[str]) -> CheckList:
    """The page before a run of some recipes, each thing once.

    Args:
        arguments: the parsed command line.
        names: the recipes, by name or path.
    """
    from benchtimer.check_list import make_page

    recipe_files = shop_recipes()
    recipes = {recipe.id: recipe for recipe in map(recipe_files.find, names)}
    placed, baths = _placed(arguments, recipes)
    return make_page(placed, shop_settings(), baths)


def list_of(arguments: argparse.Namespace, days: Mapping[str, str]) -> CheckList:
    """What to buy and set up for the sessions of some recipes, each thing once.

    Args:
        arguments: the parsed command line.
        days: when each recipe is first used, in words, by name.
    """
    from benchtimer.check_list import make_list

    recipe_files = shop_recipes()
    recipes = {recipe.id: recipe for recipe in map(recipe_files.find, days)}
    placed, baths = _placed(arguments, recipes)
    return make_list(placed, shop_settings(), baths, days)


def _placed(
    arguments: argparse.Namespace, recipes: Mapping[str, Recipe]
) -> tuple[Mapping[str, Recipe], Mapping[str, str]]:
    """The recipes at their places, and what the bath book has for each place, in words."""
    from benchtimer.recipe.places import PlaceError, put

    try:
        with looking(arguments) as (book, now_ms):
            if book is None:
                return put(recipes, shop=shop_settings().places).recipes, {}
            found, tied = book.placed(recipes, now_ms)
            return found.recipes, book.in_words(tied, now_ms)
    except PlaceError as error:
        raise Wrong(str(error), NO) from None
