"""Where the stations of several recipes really are, and which of them are the same place.

A place is a real tank, rack or sink. Within one run the ids of its recipes' stations are
replaced by the ids of their places, so that everything after this module knows only places.

Rules:
1. Stations that the shop's settings put at one place are one place.
2. Two stations with baths from the bath book are one place if it is the same bath.
3. Otherwise, and for dry places, two stations are one place only if id, title, bath and
   chemistry agree.
4. Anything else is two places, even if the ids are the same.
5. If stations share a place, the narrower window and the smallest ``holds`` count, including the
   one in the settings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Self

from benchtimer.quantity import Quantity
from benchtimer.recipe.checks import Check, Send
from benchtimer.recipe.model import Hazard, Recipe, Station, Step, Window
from benchtimer.recipe.raw_tables import Table
from benchtimer.trade.compatibility import conflicts_within, said
from benchtimer.values import dataclass, field

MAX_ID = 40
"""Longest id of a place, like any id."""


class PlaceError(ValueError):
    """Stations that can't share the place they are put at.

    Attributes:
        place: the place's title.
        found: what is wrong.
        way_out: what to do.
    """

    def __init__(self, place: str, found: str, way_out: str) -> None:
        super().__init__(place, found, way_out)
        self.place = place
        self.found = found
        self.way_out = way_out

    def __str__(self) -> str:
        return f"{self.place}: {self.found}. {self.way_out}"


@dataclass(frozen=True, slots=True)
class ShopPlace:
    """A real place of the shop, as its settings declare it.

    Attributes:
        id: its name in the settings and the log.
        title: its name on the screen; empty for the title from its first recipe.
        holds: parts it has room for; None if only the recipes say.
        stations: the addresses ``RECIPE.STATION`` of its stations.
    """

    id: str
    title: str = ""
    holds: int | None = None
    stations: tuple[str, ...] = ()

    def as_table(self) -> Table:
        """The place as a plain table, with the keys of the settings."""
        return {"title": self.title, "holds": self.holds, "for": list(self.stations)}

    @classmethod
    def from_table(cls, name: str, table: Mapping[str, Any]) -> Self:
        """The place from such a table."""
        return cls(name, str(table["title"]), table["holds"], tuple(table["for"]))


@dataclass(frozen=True, slots=True)
class Placed:
    """Recipes with their stations at places.

    Attributes:
        recipes: the recipes by key, station ids replaced by place ids.
        places: what is at each place, by its id; limits are those of all its stations.
        at: the id of the place of each station, by its address ``RECIPE.STATION``.
    """

    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    places: Mapping[str, Station] = field(default_factory=dict)
    at: Mapping[str, str] = field(default_factory=dict)


def address(key: str, station_id: str) -> str:
    """The full name of a station: ``hot-black.salts``."""
    return f"{key}.{station_id}"


def choose_places(
    recipes: Mapping[str, Recipe],
    baths: Mapping[str, str] | None = None,
    known: Mapping[str, str] | None = None,
    shop: Sequence[ShopPlace] = (),
) -> dict[str, str]:
    """The place id of every station, by its address.

    Args:
        recipes: the recipes by key.
        baths: names of baths of the bath book, by station address.
        known: places already assigned, by station address.
        shop: places that the settings declare.
    """
    given, at = baths or {}, dict(known or {})
    stations = dict(_stations(recipes))
    for place in shop:
        _declare(place, stations, at)
    for where, station in stations.items():
        if where not in at:
            same = (a for a, other in stations.items() if a in at and _same(
                station, other, given.get(where), given.get(a)))  # fmt: skip
            first = next(same, None)
            at[where] = at[first] if first is not None else _free_id(where, station.id, at)
    return at


def _declare(place: ShopPlace, stations: Mapping[str, Station], at: dict[str, str]) -> None:
    """Put the stations of a declared place there; one already assigned brings the others along."""
    here = [where for where in place.stations if where in stations]
    settled = [at[where] for where in here if where in at]
    name = settled[0] if settled else place.id
    if not settled and name in at.values():
        name = _free_id(f"shop.{place.id}", name, at)
    for where in here:
        at.setdefault(where, name)


def place_recipes(
    recipes: Mapping[str, Recipe], at: Mapping[str, str], shop: Sequence[ShopPlace] = ()
) -> Placed:
    """The recipes with their stations at the places chosen.

    Args:
        recipes: the recipes by key, as they are in their files.
        at: place id by station address; a station it doesn't name is its own place, with its own
            id.
        shop: places that the settings declare: their titles and what they hold.

    Raises:
        PlaceError: stations at one place with incompatible windows or chemistry, or a recipe that
            names a station it doesn't have.
    """
    everywhere = {a: at.get(a, station.id) for a, station in _stations(recipes)}
    by_place: dict[str, list[tuple[str, Station]]] = {}
    for where, station in _stations(recipes):
        by_place.setdefault(everywhere[where], []).append((where, station))
    places: dict[str, Station] = {}
    for name, stations in by_place.items():
        here = {where for where, _ in stations}
        declared = next((place for place in shop if here & set(place.stations)), None)
        places[name] = _merged(name, [station for _, station in stations], declared)
    places = _distinct_titles(places, by_place)
    moved = {key: _moved(key, recipe, everywhere, places) for key, recipe in recipes.items()}
    return Placed(moved, places, everywhere)


def put(
    recipes: Mapping[str, Recipe],
    baths: Mapping[str, str] | None = None,
    shop: Sequence[ShopPlace] = (),
) -> Placed:
    """The recipes with places chosen for them; see ``choose_places`` and ``place_recipes``.

    Args:
        recipes: the recipes by key.
        baths: names of baths of the bath book, by station address.
        shop: places that the settings declare.
    """
    return place_recipes(recipes, choose_places(recipes, baths, shop=shop), shop)


def _stations(recipes: Mapping[str, Recipe]) -> Iterator[tuple[str, Station]]:
    for key, recipe in recipes.items():
        for station in recipe.station:
            yield address(key, station.id), station


def _same(one: Station, other: Station, bath: str | None, other_bath: str | None) -> bool:
    if bath is not None and other_bath is not None:
        return bath == other_bath
    return alike(one, other)


def alike(one: Station, other: Station) -> bool:
    """Whether two stations agree in everything that makes them one place: rule 3 above."""
    own = (one.id, one.title, one.bath, set(one.chemistry))
    return own == (other.id, other.title, other.bath, set(other.chemistry))


def _free_id(where: str, own: str, at: Mapping[str, str]) -> str:
    """The place's own id, or a longer one if another place has it."""
    taken = set(at.values())
    longer = where.replace(".", "-")[:MAX_ID].strip("-")
    for name in (own, longer):
        if name not in taken:
            return name
    number = 2
    while f"{longer[: MAX_ID - 4]}-{number}" in taken:
        number += 1
    return f"{longer[: MAX_ID - 4]}-{number}"


def _merged(name: str, stations: list[Station], declared: ShopPlace | None) -> Station:
    """One station for a place, with the limits of all stations at it."""
    first = stations[0]
    holds = [station.holds for station in stations]
    if declared is not None:
        first = first.model_copy(update={"title": declared.title or first.title})
        holds += [declared.holds] if declared.holds is not None else []
    chemistry = tuple(dict.fromkeys(c for station in stations for c in station.chemistry))
    for conflict in conflicts_within(chemistry):
        pair = f"{said(conflict.first)} and {said(conflict.second)}"
        raise PlaceError(first.title, f"{pair} in one vessel: {conflict.effect}",
                         "Give each recipe a bath of its own")  # fmt: skip
    windows = [s.temperature for s in stations if s.temperature is not None]
    return first.model_copy(
        update={
            "id": name,
            "chemistry": chemistry,
            "holds": min(holds),
            "temperature": narrowed(first.title, windows) if windows else None,
        }
    )


def narrowed(title: str, windows: Sequence[Window]) -> Window:
    """The window inside all of some windows.

    Args:
        title: the place they are of.
        windows: at least one.

    Raises:
        PlaceError: they are incompatible.
    """
    first = windows[0]
    low = max((w.min for w in windows), key=_base)
    high = min((w.max for w in windows), key=_base)
    if low.base > high.base:
        found = f"one recipe wants at least {low}, another at most {high}"
        raise PlaceError(
            title, found, "Give each recipe a bath of its own, or run them at different times"
        )
    ceilings = [w.ceiling for w in windows if w.ceiling is not None]
    every = [w.every_s for w in windows if w.every_s is not None]
    aim = (
        first.target
        if first.target is not None and low.base <= first.target.base <= high.base
        else None
    )
    return first.model_copy(
        update={
            "min": low,
            "max": high,
            "target": aim,
            "ceiling": min(ceilings, key=_base) if ceilings else None,
            "every_s": min(every) if every else None,
        }
    )


def _base(quantity: Quantity) -> float:
    return quantity.base


def _distinct_titles(
    places: dict[str, Station], by_place: Mapping[str, list[tuple[str, Station]]]
) -> dict[str, Station]:
    """If two places have the same title, add the recipe's name to each."""
    titles = [place.title for place in places.values()]
    apart = {}
    for name, place in places.items():
        if titles.count(place.title) > 1:
            owner = by_place[name][0][0].rpartition(".")[0]
            place = place.model_copy(update={"title": f"{place.title} ({owner})"})
        apart[name] = place
    return apart


def _moved(
    key: str, recipe: Recipe, at: Mapping[str, str], places: Mapping[str, Station]
) -> Recipe:
    """A recipe with places instead of its stations."""
    own = {station.id: at[address(key, station.id)] for station in recipe.station}
    others = {step.id for step in recipe.step} | {mix.id for mix in recipe.mix}
    return recipe.model_copy(
        update={
            "station": tuple({name: places[name] for name in own.values()}.values()),
            "hazard": tuple(_guarding(hazard, own, others) for hazard in recipe.hazard),
            "walk": {
                _named(own, a): {_named(own, b): seconds for b, seconds in to.items()}
                for a, to in recipe.walk.items()
            },
            "step": tuple(_at_place(step, own) for step in recipe.step),
        }
    )


def _named(own: Mapping[str, str], station: str) -> str:
    """The place of a station in a recipe; a log can have a station without one."""
    if station not in own:
        raise PlaceError(station, "the recipe has no such station", f"Known: {', '.join(own)}")
    return own[station]


def _guarding(hazard: Hazard, own: Mapping[str, str], others: set[str]) -> Hazard:
    """A hazard without places; a name that is also a step or a mix stays."""
    before: list[str] = []
    for name in hazard.before:
        before += [own[name]] if name in own else []
        before += [name] if name in others or name not in own else []
    return hazard.model_copy(update={"before": tuple(dict.fromkeys(before))})


def _at_place(step: Step, own: Mapping[str, str]) -> Step:
    checks = tuple(_closing(check, own) for check in step.check)
    at = _named(own, step.at) if step.at is not None else None
    return step.model_copy(update={"at": at, "check": checks})


def _closing(check: Check, own: Mapping[str, str]) -> Check:
    if not any(send.out_of_service for send in check.send.values()):
        return check
    sends = {answer: _closes(send, own) for answer, send in check.send.items()}
    return check.model_copy(update={"send": sends})


def _closes(send: Send, own: Mapping[str, str]) -> Send:
    if send.out_of_service is None:
        return send
    return send.model_copy(update={"out_of_service": _named(own, send.out_of_service)})
