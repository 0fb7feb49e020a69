"""Which bath stands in which station of a run, and what should be said before it begins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchtimer.bath.fatigue import NO_LIMITS, Limits, complaints
from benchtimer.bath.state import Bath
from benchtimer.quantity import Quantity, did_you_mean
from benchtimer.recipe.model import Mix, Recipe, Station
from benchtimer.run.refusals import BadValue, UnknownName, as_way_out


@dataclass(frozen=True, slots=True)
class Need:
    """A station that wants a bath: of which mix, by which recipe; ``mix`` None if not listed."""

    station: Station
    recipe: str
    mix_id: str
    mix: Mix | None


def needs(recipes: Mapping[str, Recipe]) -> list[Need]:
    """Every station with a bath, once, told by the first recipe that has it."""
    found: dict[str, Need] = {}
    for recipe in recipes.values():
        mixes = {mix.id: mix for mix in recipe.mix}
        for station in recipe.station:
            if station.bath is not None:
                need = Need(station, recipe.id, station.bath, mixes.get(station.bath))
                found.setdefault(station.id, need)
    return list(found.values())


def suits(bath: Bath, need: Need) -> bool:
    """Whether a bath is open and of the mix a station wants.

    Recipes may use one id for different things (one recipe's "oil" is not another's), so a
    bath of another recipe suits only if its mix is called the same, or it names no recipe.
    """
    if not bath.is_open or bath.mix != need.mix_id:
        return False
    same_words = need.mix is not None and bath.of == need.mix.title
    return bath.recipe in (None, need.recipe) or same_words


def tie(
    recipes: Mapping[str, Recipe], baths: Iterable[Bath], wanted: Mapping[str, str] | None = None
) -> dict[str, str]:
    """The bath in each station: the one wanted, else the newest open one that suits.

    Args:
        recipes: the recipes of the run.
        baths: every bath of the book.
        wanted: station id to bath name, as somebody chose.

    Returns:
        Bath names by station id; stations for which there is no bath are left out.

    Raises:
        Refused: a wanted station or bath that isn't there, or a bath that is retired.
    """
    known = {bath.name: bath for bath in baths}
    stations = [station.id for recipe in recipes.values() for station in recipe.station]
    tied: dict[str, str] = {}
    for need in needs(recipes):
        fit = [bath for bath in known.values() if suits(bath, need)]
        if fit:
            tied[need.station.id] = max(fit, key=lambda bath: (bath.mixed_ms, bath.name)).name
    for station, name in (wanted or {}).items():
        if station not in stations:
            raise UnknownName("station", station, list(dict.fromkeys(stations)))
        tied[station] = _chosen(known, station, name)
    return tied


def _chosen(known: Mapping[str, Bath], station: str, name: str) -> str:
    what = f'Can\'t put the bath "{name}" into {station}'
    if name not in known:
        hint = did_you_mean(name, known, "ask for them with benchtimer bath")
        raise BadValue(what, "the bath book has none of that name", as_way_out(hint))
    if not known[name].is_open:
        raise BadValue(what, f"it is retired ({known[name].how})", "Choose an open one")
    return name


def warnings(
    recipes: Mapping[str, Recipe],
    tied: Mapping[str, str],
    baths: Mapping[str, Bath],
    limits: Mapping[str, Limits],
    now_ms: int,
) -> list[str]:
    """What should be said of a run's baths before it begins, one line each.

    Args:
        recipes: the recipes of the run.
        tied: bath names by station id.
        baths: the book's baths by name.
        limits: the shop's own limits by mix id.
        now_ms: bench time.
    """
    told: list[str] = []
    for station, name in tied.items():
        bath = baths[name]
        own = limits.get(bath.mix or "", NO_LIMITS)
        found = complaints(bath, own, now_ms, _window(recipes, station))
        told += [f"bath {name} ({station}): {complaint}" for complaint in found]
    missing = [need for need in needs(recipes) if need.station.id not in tied]
    if missing:
        names = ", ".join(f"{need.mix_id} ({need.station.id})" for need in missing)
        told.append(f"not in the bath book: {names}; benchtimer bath mix writes it down")
    return told


def _window(recipes: Mapping[str, Recipe], station_id: str) -> tuple[Quantity, Quantity] | None:
    stations = (s for recipe in recipes.values() for s in recipe.station if s.id == station_id)
    for station in stations:
        if station.temperature is not None:
            return station.temperature.low, station.temperature.high
    return None
