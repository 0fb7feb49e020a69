"""Stations of several recipes that might be one real place, and the places by your answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtimer.recipe.model import Recipe, Station
from benchtimer.recipe.places import MAX_ID, ShopPlace, address, put

Group = tuple[tuple[str, Station], ...]
"""Stations by their addresses ``RECIPE.STATION``."""


def groups_to_ask(recipes: Mapping[str, Recipe], shop: Sequence[ShopPlace] = ()) -> list[Group]:
    """Stations of different recipes that have an id, a title or a bath in common.

    A group whose stations are all assigned to places already is left out.
    """
    settled = {where for place in shop for where in place.stations}
    groups: list[list[tuple[str, Station]]] = []
    for key, recipe in recipes.items():
        for station in recipe.station:
            one = (address(key, station.id), station)
            near = [g for g in groups if any(_alike(station, other) for _, other in g)]
            groups = [g for g in groups if g not in near]
            groups.append([*(member for g in near for member in g), one])
    return [
        tuple(group)
        for group in groups
        if len({where.rpartition(".")[0] for where, _ in group}) > 1
        and not all(where in settled for where, _ in group)
    ]


def _alike(one: Station, other: Station) -> bool:
    same_bath = one.bath is not None and one.bath == other.bath
    return one.id == other.id or one.title == other.title or same_bath


def settled_places(
    recipes: Mapping[str, Recipe],
    shop: Sequence[ShopPlace],
    group: Group,
    together: Sequence[ShopPlace],
) -> list[ShopPlace]:
    """The shop's places after the answers about a group; a station left alone gets its own place.

    Args:
        recipes: the recipes by key.
        shop: the places so far.
        group: the stations asked about.
        together: the places that were named, without ids yet.

    Raises:
        PlaceError: stations at one place that are incompatible.
    """
    here = {where for where, _ in group}
    joined = {where for place in together for where in place.stations}
    kept = [
        ShopPlace(p.id, p.title, p.holds, tuple(at for at in p.stations if at not in here))
        for p in shop
    ]
    kept = [place for place in kept if place.stations]
    alone = [ShopPlace("", "", None, (where,)) for where, _ in group if where not in joined]
    for place in (*together, *alone):
        taken = {other.id for other in kept}
        kept.append(ShopPlace(_id(place, taken), place.title, place.holds, place.stations))
    put(recipes, shop=kept)
    return kept


def _id(place: ShopPlace, taken: set[str]) -> str:
    """The id of a place: the station's own if several share it, or a longer one for a single
    station.
    """
    first = place.stations[0]
    longer = first.replace(".", "-")[:MAX_ID].strip("-")
    names = [first.rpartition(".")[2], longer] if len(place.stations) > 1 else [longer]
    names += [f"{longer[: MAX_ID - 4]}-{n}" for n in range(2, len(taken) + 3)]
    return next(name for name in names if name not in taken)
