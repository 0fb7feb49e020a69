"""Plays the presses of this folder's case files at a bench in memory."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchtimer.recipe.model import Recipe
from benchtimer.run import commands as c
from tests.support import SMALL, TEMPERED, Hands, small_recipe, table

HERE = Path(__file__).parent

STRICT = SMALL.replace(
    'no = { to = "prepare", limit = 2, expect = 0.5 }', 'no = { stop = "It is uneven: decide." }'
)
AT_BENCH = SMALL.replace('title = "Prepare"\n', 'title = "Prepare"\nat = "bench"\n').replace(
    "[[hazard]]", '[[station]]\nid = "bench"\ntitle = "Bench"\n\n[[hazard]]', 1
)
TWO_TANKS = SMALL.replace("holds = 1", "holds = 2")
LOOKED_AT = SMALL.replace('id = "look"\n', 'id = "look"\nat = "bench"\n').replace(
    "[[hazard]]", '[[station]]\nid = "bench"\ntitle = "Bench"\n\n[[hazard]]', 1
)
DUSTY = SMALL.replace(
    "[[step]]", '[[hazard]]\nbefore = "look"\ntitle = "Dust"\ntext = "Wear a mask."\n\n[[step]]', 1
)
"""The small recipe with a page that the start does not need."""
TRIES = SMALL.replace("expect = 0.5 }", "expect = 0.5, new_try = true }")
"""The small recipe, in which an uneven part starts another try."""
LAST_LIFT = SMALL[: SMALL.index('[[step]]\nid = "look"')]
HOTTER = SMALL.replace(
    'min = "60 C", max = "70 C", ceiling = "80 C"', 'min = "85 C", max = "90 C", ceiling = "95 C"'
)
PULLS_HOT = SMALL.replace(
    'title = "Tank"', 'title = "Tank"\ntoo_hot = "Pull the parts. Turn off the heat."'
)
PULLS_AT_MIN = SMALL.replace(
    'title = "Tank"',
    'title = "Tank"\ntoo_hot = "Put no part in. A part in it: pull it at its min."',
)
RECIPES = {
    "two-tanks": TWO_TANKS,
    "last-lift": LAST_LIFT,
    "small": SMALL,
    "tempered": TEMPERED,
    "strict": STRICT,
    "at-bench": AT_BENCH,
    "looked-at": LOOKED_AT,
    "dusty": DUSTY,
    "tries": TRIES,
    "hotter": HOTTER,
    "pulls-hot": PULLS_HOT,
    "pulls-at-min": PULLS_AT_MIN,
}
"""The small recipe, and variants that each differ in one way."""

JOINING = {
    "@small": SMALL,
    "@tempered": TEMPERED,
    "@warm": TEMPERED.replace("ceiling_from", 'min = "20 C"\nceiling_from'),
    "@cold": SMALL.replace('min = "60 C", max = "70 C"', 'min = "40 C", max = "50 C"'),
}
"""Recipes for parts that join."""


def cases(name: str) -> list[dict[str, Any]]:
    """The cases of a data file in this folder."""
    with (HERE / f"{name}.toml").open("rb") as file:
        found: list[dict[str, Any]] = tomllib.load(file)["case"]
    return found


def recipe_of(name: str) -> Recipe:
    """One of the recipes by its name in the case files."""
    return small_recipe(RECIPES[name])


def bench_of(case: dict[str, Any]) -> Hands:
    """The bench at the start of a case: recipe, started, geared and first presses."""
    names = tuple(case.get("parts", ("bolster", "ferrule", "butt cap")))
    recipe = recipe_of(case.get("recipe", "small"))
    hands = Hands(
        names,
        recipe,
        started=case.get("started", True),
        geared=case.get("geared", True),
        reads=case.get("reads", True),
    )
    if "beside" in case:
        theirs = recipe_of(case["beside_recipe"]) if "beside_recipe" in case else recipe
        other = hands.beside["2026-03-27-1"] = Hands(("pommel",), theirs)
        play(other, case["beside"])
        hands.now_ms = other.now_ms
    play(hands, case.get("before", ()))
    return hands


def play(hands: Hands, presses: Sequence[Sequence[Any]]) -> None:
    """Play presses in order; ["wait", 300] lets 300 s pass."""
    for press in presses:
        match list(press):
            case ["wait", seconds]:
                hands.now_ms += seconds * 1000
            case ["to tank", name]:
                hands.to_tank(name)
            case ["beside", *other]:
                beside = hands.beside["2026-03-27-1"]
                beside.now_ms = hands.now_ms
                play(beside, [other])
                hands.now_ms = beside.now_ms
            case _:
                hands(command_of(press))


def command_of(press: Sequence[Any]) -> c.Command:
    """``["Begin", "bolster"]`` as a command; ``{}`` means None, ``@wide`` a recipe."""
    kind, *result = press
    words = [_meant(word) for word in result]
    made: c.Command = getattr(c, kind)(*words)
    return made


def _meant(word: Any) -> Any:
    if word == {}:
        return None
    if isinstance(word, str) and word.startswith("@"):
        return table(small_recipe(JOINING[word]))
    return word
