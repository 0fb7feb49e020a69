"""One line for a recipe and its parts: read it, and complete what is typed."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.quantity import did_you_mean

EXAMPLE = "hot-black bolster, ferrule"


class OrderTextError(ValueError):
    """A line that names no recipe, or no parts."""


def read_order(text: str, recipes: Sequence[str]) -> tuple[str, str]:
    """The recipe, and the names of the parts separated by commas.

    Args:
        text: such as ``hot-black bolster, ferrule``.
        recipes: names of all recipes.

    Raises:
        OrderTextError: what is missing, and how to write it.
    """
    recipe, _, parts = text.strip().partition(" ")
    if not recipe:
        raise OrderTextError(f"Type a recipe, then its parts, like {EXAMPLE}")
    if recipe not in recipes:
        hint = did_you_mean(recipe, recipes, "the list below has them all")
        raise OrderTextError(f'There is no recipe "{recipe}"; {hint}')
    names = ", ".join(name.strip() for name in parts.split(",") if name.strip())
    if not names:
        raise OrderTextError(f"Now the parts, with commas between them: {recipe} bolster, ferrule")
    return recipe, names


def completed(text: str, recipes: Sequence[str], parts: Sequence[str]) -> str | None:
    """The line with the word at its end completed; None if nothing fits.

    Args:
        text: what you have typed so far.
        recipes: names of all recipes.
        parts: names of earlier parts, newest first.
    """
    recipe, space, rest = text.partition(" ")
    if not space:
        return next(
            (f"{name} " for name in sorted(recipes) if recipe and name.startswith(recipe)), None
        )
    before, comma, last = rest.rpartition(",")
    name = last.strip()
    found = next((p for p in parts if name and p.startswith(name) and p != name), None)
    if found is None:
        return None
    lead = f"{before}{comma} " if comma else ""
    return f"{recipe} {lead}{found}"


def fitting(text: str, recipes: Sequence[str]) -> list[str]:
    """The recipes that the first word can still mean."""
    word = text.strip().partition(" ")[0]
    return [name for name in recipes if name.startswith(word)] or list(recipes)
