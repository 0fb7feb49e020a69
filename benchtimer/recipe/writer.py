"""A recipe as TOML text that reads back to the same recipe."""

from __future__ import annotations

import tomli_w

from benchtimer.recipe.model import Recipe
from benchtimer.recipe.raw_tables import Table


def recipe_table(recipe: Recipe) -> Table:
    """The recipe as plain tables: strings, numbers, lists; defaults left out."""
    data = recipe.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return {"schema": 1, **data}


def write_recipe(recipe: Recipe) -> str:
    """The recipe as the text of a TOML file."""
    return tomli_w.dumps(recipe_table(recipe))
