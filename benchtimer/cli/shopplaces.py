"""The shop's real places: lists them, or asks about them once, group by group."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, TypedDict

from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.shop_context import settings_path, shop_recipes, shop_settings

if TYPE_CHECKING:
    from benchtimer.recipe.model import Recipe
    from benchtimer.recipe.onetank import Group
    from benchtimer.recipe.places import ShopPlace

Ask = Callable[[str], str]


class Listed(TypedDict):
    """A place in the list; ``declared`` if the settings name one of its stations."""

    id: str
    title: str
    holds: int
    stations: list[str]
    declared: bool


def options(parser: argparse.ArgumentParser) -> None:
    """--list --json."""
    parser.add_argument("--list", action="store_true", help="list the places and ask nothing")
    json_option(parser)


def places(arguments: argparse.Namespace) -> int:
    """Ask which stations are one place, at a terminal; with --list, list the places."""
    recipes = _recipes()
    warn_of_unknown_stations(recipes)
    at_terminal = sys.stdin.isatty() and sys.stdout.isatty()
    if at_terminal and not (arguments.list or arguments.json):
        return _ask_all(recipes)
    shop = shop_settings().places
    listed = _listed(recipes, shop)
    if arguments.json:
        put_json(listed)
    else:
        for place in listed:
            own = "" if place["declared"] else "   (by the recipes)"
            stations = ", ".join(place["stations"])
            print(f"{place['title']}, holds {place['holds']}: {stations}{own}")
    return YES


def warn_of_unknown_stations(recipes: Mapping[str, Recipe] | None = None) -> None:
    """Name each station in the shop's places that none of your recipes has."""
    from benchtimer.quantity import did_you_mean
    from benchtimer.recipe.places import address

    recipes = _recipes() if recipes is None else recipes
    known = [address(key, s.id) for key, recipe in recipes.items() for s in recipe.station]
    for place in shop_settings().places:
        for where in place.stations:
            if where not in known:
                hint = did_you_mean(where, known, "look at it with benchtimer recipes")
                said = f"place {place.id}: none of your recipes has {where}; {hint}"
                print(f"benchtimer: {said}", file=sys.stderr)


def _recipes() -> dict[str, Recipe]:
    """The recipes; one with errors is named and left out."""
    from benchtimer.recipe.problems import RecipeError

    recipe_files, found = shop_recipes(), {}
    for name in recipe_files.paths():
        try:
            recipe = recipe_files.find(name)
        except RecipeError:
            print(f"benchtimer: left out {name}: see benchtimer validate {name}", file=sys.stderr)
            continue
        found[recipe.id] = recipe
    return found


def _listed(recipes: Mapping[str, Recipe], shop: Sequence[ShopPlace]) -> list[Listed]:
    from benchtimer.recipe.places import PlaceError, put

    try:
        placed = put(recipes, shop=shop)
    except PlaceError as error:
        raise Wrong(str(error), NO) from None
    declared = {where for place in shop for where in place.stations}
    return [
        {
            "id": name,
            "title": station.title,
            "holds": station.holds,
            "stations": (here := [where for where, at in placed.at.items() if at == name]),
            "declared": bool(declared & set(here)),
        }
        for name, station in placed.places.items()
    ]


def _ask_all(recipes: Mapping[str, Recipe], ask: Ask = input) -> int:
    """Go through the unsettled groups; each answer is saved right away."""
    from benchtimer.recipe.onetank import groups_to_ask

    groups = groups_to_ask(recipes, shop_settings().places)
    if not groups:
        print("Every station has its place. benchtimer settings places --list shows them.")
        return YES
    print("ENTER: each is its own place. CTRL-C stops; your answers so far are saved.")
    for number, group in enumerate(groups, start=1):
        print(f"\n{number} of {len(groups)}: which of these are the same real place?")
        for line, (where, station) in enumerate(group, start=1):
            print(f"  {line}  {where}: {station.title}, holds {station.holds}")
        _save(_answered(recipes, group, ask))
    print(f"\nSaved in {settings_path()}")
    return YES


def _answered(recipes: Mapping[str, Recipe], group: Group, ask: Ask) -> list[ShopPlace]:
    """The shop's places after the answers for one group; a wrong answer is asked again."""
    from benchtimer.recipe.onetank import settled_places
    from benchtimer.recipe.places import PlaceError

    while True:
        together = _together(group, ask)
        try:
            return settled_places(recipes, shop_settings().places, group, together)
        except PlaceError as error:
            print(f"  {error}")


def _together(group: Group, ask: Ask) -> list[ShopPlace]:
    """The places that several stations of a group share."""
    from benchtimer.recipe.places import ShopPlace

    found: list[ShopPlace] = []
    left = dict(enumerate(group, start=1))
    while len(left) > 1:
        chosen = _numbers(left, ask)
        if not chosen:
            return found
        here = [left.pop(number) for number in chosen]
        title, holds = here[0][1].title, min(station.holds for _, station in here)
        named = ask(f"  What do you call it? [{title}] ").strip()
        room = _room(holds, ask)
        found.append(ShopPlace("", named or title, room, tuple(where for where, _ in here)))
    return found


def _numbers(left: Mapping[int, object], ask: Ask) -> list[int]:
    """Two or more numbers of the list; none if each is its own."""
    while True:
        text = ask("  Numbers like 1 2, or ENTER: ").strip()
        numbers = list(dict.fromkeys(int(word) for word in re.findall(r"\d+", text)))
        if not text or (len(numbers) > 1 and all(number in left for number in numbers)):
            return numbers
        print(f"  Enter two or more of {', '.join(map(str, left))}, or nothing.")


def _room(holds: int, ask: Ask) -> int:
    while True:
        text = ask(f"  How many parts does it hold? [{holds}] ").strip()
        if not text:
            return holds
        if text.isdecimal() and 1 <= int(text[:9]) <= 1000:
            return int(text)
        print("  A number from 1 to 1000.")


def _save(shop: Sequence[ShopPlace]) -> None:
    """Save the places; comments and all other keys stay as they are."""
    from benchtimer.cli.settingfile import DEFAULT, write_settings
    from benchtimer.recipe.toml_edit import NotEdited, with_values
    from benchtimer.settings import parse_settings, settings_text

    path = settings_path()
    text = settings_text(path) or DEFAULT
    was = {place.id: place for place in parse_settings(text, str(path)).places}
    changes: dict[tuple[str | int, ...], object] = {}
    for place in shop:
        if was.get(place.id) != place:
            entry = {"title": place.title or None, "holds": place.holds, "for": [*place.stations]}
            changes |= {("place", place.id, key): value for key, value in entry.items() if value}
    changes |= {("place", name): None for name in was if name not in {p.id for p in shop}}
    try:
        new = with_values(text, changes)
    except NotEdited as error:
        message = f"{path}: the places can't be written here: {error}"
        raise Wrong(f"{message}; edit the file by hand", NO) from None
    parse_settings(new, str(path))
    write_settings(path, new)
