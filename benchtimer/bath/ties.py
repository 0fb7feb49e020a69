"""Which bath is in which station of a run, and what to say about it before the run starts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from benchtimer.bath.bath_state import Bath
from benchtimer.bath.bath_wear import NO_LIMITS, WearLimits, complaints
from benchtimer.quantity import Quantity, did_you_mean
from benchtimer.recipe.model import Mix, Recipe, Station
from benchtimer.recipe.places import ShopPlace, address, alike
from benchtimer.run.refusals import BadValue, UnknownName, as_way_out
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class Need:
    """A station that needs a bath.

    Attributes:
        at: the station's address ``RECIPE.STATION``.
        mix_id: the id of the mix it needs, and ``mix`` the mix itself; None if the recipe does not
            list it.
    """

    at: str
    station: Station
    recipe: str
    mix_id: str
    mix: Mix | None


def needs(recipes: Mapping[str, Recipe]) -> list[Need]:
    """Every station with a bath."""
    found: list[Need] = []
    for key, recipe in recipes.items():
        mixes = {mix.id: mix for mix in recipe.mix}
        for station in recipe.station:
            if station.bath is not None:
                mix = mixes.get(station.bath)
                at = address(key, station.id)
                found.append(Need(at, station, recipe.id, station.bath, mix))
    return found


def suits(bath: Bath, need: Need) -> bool:
    """Whether a bath is open and is the mix that a station needs.

    Recipes may use one id for different things (one recipe's "oil" is not another's), so a bath
    from another recipe fits only if its mix has the same title, or if it names no recipe.
    """
    if not bath.is_open or bath.mix != need.mix_id:
        return False
    same_words = need.mix is not None and bath.of == need.mix.title
    return bath.recipe in (None, need.recipe) or same_words


def tie(
    recipes: Mapping[str, Recipe],
    baths: Iterable[Bath],
    wanted: Mapping[str, str] | None = None,
    shop: Sequence[ShopPlace] = (),
) -> dict[str, str]:
    """The bath in each station: the one chosen, or the newest open one that fits.

    Stations at one place of the shop have one bath: the newest that fits them all.

    Args:
        recipes: the recipes of the run, by key.
        baths: every bath in the book.
        wanted: bath names by station, as chosen: by the station's address, or by its
            id if every recipe that has it means the same place.
        shop: places that the settings declare.

    Returns:
        Bath names by station address; stations without a bath are left out.

    Raises:
        Refused: a station or bath that doesn't exist, an id that means two stations, a retired
            bath, or two baths for one place.
    """
    known = {bath.name: bath for bath in baths}
    needed = needs(recipes)
    wishes = {
        at: _chosen(known, station, name)
        for station, name in (wanted or {}).items()
        for at in _meant(recipes, station, shop)
    }
    tied = {need.at: name for need in needed if (name := _newest(known.values(), [need]))}
    tied |= wishes
    for place in shop:
        here = [need for need in needed if need.at in place.stations]
        name = _one_bath(place, here, tied, wishes) or _newest(known.values(), here)
        tied |= {need.at: name for need in here if name}
        _want_one(place, [tied[need.at] for need in here if need.at in tied])
    return tied


def _newest(baths: Iterable[Bath], stations: Sequence[Need]) -> str:
    """The newest bath that fits all these stations; empty if none does."""
    fit = [bath for bath in baths if stations and all(suits(bath, need) for need in stations)]
    return max(fit, key=lambda bath: (bath.mixed_ms, bath.name)).name if fit else ""


def _one_bath(
    place: ShopPlace, here: Sequence[Need], tied: Mapping[str, str], wishes: Mapping[str, str]
) -> str:
    """The bath chosen for a place, or the only one that its stations found."""
    wished = {wishes[need.at] for need in here if need.at in wishes}
    _want_one(place, sorted(wished))
    found = wished or {tied[need.at] for need in here if need.at in tied}
    return next(iter(found)) if len(found) == 1 else ""


def _want_one(place: ShopPlace, names: Sequence[str]) -> None:
    if len(set(names)) > 1:
        what = f"Can't use two baths in {place.title or place.id}"
        found = f"{' and '.join(dict.fromkeys(names))} would be in one tank"
        way_out = f"Choose one with --bath STATION=NAME, or change place.{place.id} in the settings"
        raise BadValue(what, found, way_out)


def _meant(
    recipes: Mapping[str, Recipe], station: str, shop: Sequence[ShopPlace] = ()
) -> list[str]:
    """The addresses of the stations that a name means; they must all be the same place."""
    stations = {address(key, s.id): s for key, recipe in recipes.items() for s in recipe.station}
    meant = {at: s for at, s in stations.items() if station in (at, s.id)}
    if not meant:
        raise UnknownName("station", station, list(dict.fromkeys(s.id for s in stations.values())))
    first = next(iter(meant.values()))
    one_place = any(set(meant) <= set(place.stations) for place in shop)
    if not one_place and not all(alike(first, other) for other in meant.values()):
        what = f'Can\'t choose a bath for "{station}"'
        way_out = f"Name one: {' or '.join(meant)}"
        raise BadValue(what, "it means different stations in this run's recipes", way_out)
    return list(meant)


def _chosen(known: Mapping[str, Bath], station: str, name: str) -> str:
    what = f'Can\'t put the bath "{name}" into {station}'
    if name not in known:
        hint = did_you_mean(name, known, "benchtimer bath lists them")
        raise BadValue(what, "the bath book has no bath with that name", as_way_out(hint))
    if not known[name].is_open:
        raise BadValue(what, f"it is retired ({known[name].how})", "Choose an open one")
    return name


def warnings(
    recipes: Mapping[str, Recipe],
    tied: Mapping[str, str],
    baths: Mapping[str, Bath],
    limits: Mapping[str, WearLimits],
    now_ms: int,
) -> list[str]:
    """What to say about a run's baths before it starts, one line each.

    Args:
        recipes: the recipes of the run.
        tied: bath names by station address.
        baths: the book's baths by name.
        limits: the shop's own limits by mix id.
        now_ms: bench time.
    """
    lines: list[str] = []
    windows = {need.at: _window(need.station) for need in needs(recipes)}
    for at, name in tied.items():
        bath = baths[name]
        own = limits.get(bath.mix or "", NO_LIMITS)
        found = complaints(bath, own, now_ms, windows.get(at))
        lines += [f"bath {name} ({at.rpartition('.')[2]}): {complaint}" for complaint in found]
    missing = [
        f"{need.mix_id} ({need.station.id})" for need in needs(recipes) if need.at not in tied
    ]
    if missing:
        names = ", ".join(dict.fromkeys(missing))
        lines.append(f"not in the bath book: {names}. M: the bath book")
    return list(dict.fromkeys(lines))


def _window(station: Station) -> tuple[Quantity, Quantity] | None:
    window = station.temperature
    return (window.min, window.max) if window is not None else None
