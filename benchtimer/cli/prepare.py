"""The page before a run, as a list to tick."""

from __future__ import annotations

import argparse
import json
import shutil
from collections.abc import Mapping
from typing import TYPE_CHECKING

from benchtimer.cli.bath import looking
from benchtimer.cli.common import YES
from benchtimer.cli.shop import shop_settings, shop_shelf

if TYPE_CHECKING:
    from benchtimer.recipe.model import Recipe


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE... --json."""
    parser.add_argument("recipes", metavar="RECIPE", nargs="+", help="names on the shelf, or paths")
    parser.add_argument("--json", action="store_true", help="for programs")


def prepare(arguments: argparse.Namespace) -> int:
    """Print what to lay out, mix, heat and read before a run."""
    from benchtimer.prepare import WIDTH, make_page, render_page

    shelf = shop_shelf()
    recipes = [shelf.find(name) for name in arguments.recipes]
    page = make_page(recipes, shop_settings(), _in_book(arguments, recipes))
    if arguments.json:
        print(json.dumps(page.as_dict(), ensure_ascii=False, indent=2))
    else:
        print(render_page(page, min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)), end="")
    return YES


def _in_book(arguments: argparse.Namespace, recipes: list[Recipe]) -> Mapping[str, str]:
    """What the bath book has for each station: name, age, fatigue, what speaks against it."""
    with looking(arguments) as (book, now_ms):
        if book is None:
            return {}
        return book.in_words(recipes, now_ms)
