"""The page before a run: what to wear, lay out, mix, heat and read, for this shop.

Pure: recipes and settings in, a page of lines to tick out. Every figure that is worked out
here comes from ``trade`` with its source; every figure of a recipe keeps its own.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.describe import show_window
from benchtimer.recipe.mixing import scaled
from benchtimer.recipe.model import Caution, Mix, ReadingCheck, Recipe, Station, Window
from benchtimer.run.hazards import clash_cautions
from benchtimer.settings import Settings
from benchtimer.trade import caustic, cautions, sources, water, wheel
from benchtimer.trade.limits import TradeError

WIDTH = 88

US = {
    "temperature": "F",
    "volume": "gal",
    "mass": "lb",
    "speed": "ft/min",
    "length": "in",
}
SI = {"temperature": "C", "volume": "L", "mass": "kg", "speed": "m/s", "length": "mm"}
SMALL = {"gal": "fl oz", "lb": "oz", "L": "mL", "kg": "g"}
"""Units for what is less than one of the unit."""

BOIL = re.compile(r"\bboil", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Item:
    """One line to tick.

    Attributes:
        text: what to do or to know.
        more: what belongs to it.
        sources: where its figures come from.
    """

    text: str
    more: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """Lines that are done together."""

    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """The whole page."""

    title: str
    sections: tuple[Section, ...]

    def as_dict(self) -> dict[str, Any]:
        """The page as plain values, for JSON."""
        return {
            "format": 1,
            "title": self.title,
            "sections": [
                {
                    "title": section.title,
                    "items": [
                        {"text": i.text, "more": list(i.more), "sources": list(i.sources)}
                        for i in section.items
                    ],
                }
                for section in self.sections
            ],
        }


def make_page(
    recipes: Sequence[Recipe], shop: Settings, baths: Mapping[str, str] | None = None
) -> Page:
    """The page before a run of these recipes in this shop.

    Args:
        recipes: what will be run together.
        shop: the shop's settings.
        baths: what the bath book has for a station, in words, by station id.
    """
    told = baths or {}
    sections = [
        Section("Gear", tuple(_gear(recipes))),
        Section("Cautions", tuple(_cautions(recipes))),
        Section("Stations", tuple(_stations(recipes, told))),
        Section("Mixes", tuple(_mixes(recipes, shop))),
        Section("Temperatures and readings", tuple(_temperatures(recipes, shop))),
        Section("Wheels", tuple(_wheels(recipes, shop))),
        Section("To be known of each part", tuple(_properties(recipes))),
    ]
    title = "Before the run: " + "; ".join(recipe.title for recipe in recipes)
    return Page(title, tuple(section for section in sections if section.items))


def render_page(page: Page, width: int = WIDTH) -> str:
    """The page as a list to tick with a pencil, ending in a newline."""
    return "\n".join(_lines(page, max(40, width))) + "\n"


def _lines(page: Page, width: int) -> Iterator[str]:
    yield from textwrap.wrap(page.title, width)
    for section in page.sections:
        yield ""
        yield section.title
        for item in section.items:
            yield from _wrap(item.text, "  [ ] ", "      ", width)
            for more in item.more:
                yield from _wrap(more, "      ", "        ", width)
            for source in item.sources:
                yield from _wrap(f"source: {source}", "      ", "        ", width)


def _wrap(text: str, first: str, later: str, width: int) -> list[str]:
    words = " ".join(text.split())
    return textwrap.wrap(words, width, initial_indent=first, subsequent_indent=later)


def _guards(recipes: Sequence[Recipe]) -> Iterator[tuple[Caution, tuple[str, ...]]]:
    """Every caution of the run, once, with its source: baths that must not meet before all."""
    seen: set[str] = set()
    told = [(c, ()) for _, s in _each_station(recipes) for c in clash_cautions(recipes, s.id)]
    own = [(c, _cited(recipe, c.source)) for recipe in recipes for c in recipe.caution]
    for caution, cited in [*told, *own]:
        if caution.title not in seen:
            seen.add(caution.title)
            yield caution, cited


def _gear(recipes: Sequence[Recipe]) -> Iterator[Item]:
    """Each thing to wear once, with the hazards it is for."""
    needed: dict[str, list[str]] = {}
    for caution, _ in _guards(recipes):
        for thing in caution.wear:
            needed.setdefault(thing, []).append(caution.title.partition(":")[0])
    for thing, hazards in needed.items():
        yield Item(f"{thing} ({'; '.join(dict.fromkeys(hazards))})")


def _cautions(recipes: Sequence[Recipe]) -> Iterator[Item]:
    told = list(_guards(recipes))
    for caution, cited in told:
        yield Item(caution.title, tuple(_hazard(caution)), cited)
    if told:
        yield Item(cautions.DEFER)


def _hazard(caution: Caution) -> Iterator[str]:
    yield caution.text
    if caution.first_aid:
        yield f"first aid: {caution.first_aid}"
    yield from (f"never: {never}" for never in caution.never)


def _each_station(recipes: Sequence[Recipe]) -> Iterator[tuple[Recipe, Station]]:
    seen: set[str] = set()
    for recipe in recipes:
        for station in recipe.station:
            if station.id not in seen:
                seen.add(station.id)
                yield recipe, station


def _stations(recipes: Sequence[Recipe], baths: Mapping[str, str]) -> Iterator[Item]:
    for recipe, station in _each_station(recipes):
        more = [station.text] if station.text else []
        if station.bath is not None:
            in_book = baths.get(station.id, "none of it is open in the bath book")
            more.append(f"bath {station.bath}: {in_book}")
        places = "one part" if station.holds == 1 else f"{station.holds} parts"
        text = f"{station.title} [{station.id}], room for {places}"
        yield Item(text, tuple(more), _cited(recipe, station.source))


def _mixes(recipes: Sequence[Recipe], shop: Settings) -> Iterator[Item]:
    seen: set[tuple[str, str]] = set()
    for recipe in recipes:
        for mix in recipe.mix:
            if (mix.id, mix.title) not in seen:
                seen.add((mix.id, mix.title))
                yield _mix(recipe, mix, shop)


def _mix(recipe: Recipe, mix: Mix, shop: Settings) -> Item:
    vessel = shop.vessels.get(mix.id)
    volume = vessel or mix.volume or Quantity(1, "L")
    whose = "your vessel" if vessel else "the recipe's vessel" if mix.volume else "a litre"
    more = []
    for (what, amount), item in zip(scaled(mix, volume), mix.of, strict=True):
        how = str(item.amount) if item.amount is not None else _parts(item.parts or 0)
        cite = f"; {recipe.citation(item.source)}" if item.source else ""
        more.append(f"{in_units(amount, shop)} {what} ({how}{cite})")
    if mix.text:
        more.append(mix.text)
    text = f"{mix.title} [{mix.id}]: {_also(volume, shop)}, {whose}"
    return Item(text, tuple(more), _cited(recipe, mix.source))


def _parts(parts: float) -> str:
    return f"{show_number(parts)} part{'' if parts == 1 else 's'}"


def _temperatures(recipes: Sequence[Recipe], shop: Settings) -> Iterator[Item]:
    for recipe, station in _each_station(recipes):
        window = station.temperature
        more = [*_boil(station, shop), *_salts(station, shop)]
        if window is not None:
            text = f"{station.title}: {_both(window, shop)}"
            yield Item(text, tuple(t for t, _ in more), (*_cited(recipe, window.source),
                       *dict.fromkeys(s for _, told in more for s in told)))  # fmt: skip
        elif more:
            yield Item(f"{station.title}: {more[0][0]}", tuple(t for t, _ in more[1:]), more[0][1])


def _both(window: Window, shop: Settings) -> str:
    """A window as written, and in the shop's unit if that is another."""
    unit = _units(shop)["temperature"]
    text = show_window(window)
    if window.low.unit == unit:
        return text
    low, high = (show_number(limit.to(unit).value, 0) for limit in (window.low, window.high))
    return f"{text} ({low} to {high} {unit})"


_Told = tuple[str, tuple[str, ...]]


def _boil(station: Station, shop: Settings) -> Iterator[_Told]:
    """Where plain water boils in this shop, for a station that is a boil."""
    window = station.temperature
    aims = window.aim or window.low if window is not None else None
    named = BOIL.search(station.title) is not None and (aims is None or aims.base <= 101)
    near = window is not None and window.low.base >= 90 and window.high.base <= 105
    if not (named or near):
        return
    pressure_pa, where = _pressure(shop)
    boils = Quantity(water.boiling_c(pressure_pa), "C")
    said = f"water boils at {_degrees(boils, shop, 1)} {where}"
    cite = (str(sources.IF97), *((str(sources.ATMOSPHERE),) if shop.altitude else ()))
    yield said, cite
    if aims is not None and not water.boil_reaches(aims.base, pressure_pa):
        yield f"it can't reach {aims} here: allow more time, and say so in the record", ()


def _salts(station: Station, shop: Settings) -> Iterator[_Told]:
    """How strong a caustic bath must be to boil in its window here, as sodium hydroxide."""
    window = station.temperature
    low, high = caustic.WINDOW_C
    if window is None or station.bath is None:
        return
    if window.low.base < low - caustic.TOLERANCE_C or window.high.base > high + caustic.TOLERANCE_C:
        return
    aim_c = (window.aim or window.low).base
    try:
        here = caustic.strength_pct(aim_c, _pressure(shop)[0])
        at_sea = caustic.strength_pct(aim_c)
    except TradeError as error:
        yield f"if these are caustic salts: {error}", (str(sources.NAOH_BOILING),)
        return
    _, where = _pressure(shop)
    text = f"if these are caustic salts, they boil at {_degrees(Quantity(aim_c, 'C'), shop, 0)} "
    text += f"when as strong as {here:.0f} % sodium hydroxide by mass {where}"
    if shop.altitude is not None and abs(here - at_sea) >= 0.5:
        text += f" ({at_sea:.0f} % at sea level)"
    yield f"{text}; a hint, no recipe: mix by the supplier's sheet", (str(sources.NAOH_BOILING),)
    yield cautions.HOT_CAUSTIC, ()
    yield cautions.ADDING_WATER, ()


def _pressure(shop: Settings) -> tuple[float, str]:
    """Air pressure in the shop, Pa, and words for where that is."""
    if shop.altitude is None:
        return water.SEA_LEVEL_PA, "at sea level (the settings tell no altitude)"
    return water.pressure_pa(shop.altitude.base / 1000), f"at {shop.altitude} (standard weather)"


def _wheels(recipes: Sequence[Recipe], shop: Settings) -> Iterator[Item]:
    """The turns that give the surface speeds asked for, for each wheel at hand."""
    for recipe in recipes:
        for step in recipe.step:
            for check in step.check:
                if isinstance(check, ReadingCheck) and _is_speed(check):
                    yield _wheel(recipe, step.title, check, shop)


def _is_speed(check: ReadingCheck) -> bool:
    return Quantity(1, check.unit_symbol).kind.name == "speed"


def _wheel(recipe: Recipe, title: str, check: ReadingCheck, shop: Settings) -> Item:
    limits = [limit for limit in (check.low, check.high, check.ceiling) if limit is not None]
    asked = " to ".join(str(limit) for limit in (check.low, check.high) if limit is not None)
    if check.low is None and check.high is not None:
        asked = f"up to {asked}"
    if not shop.wheels:
        more = ['the settings tell no wheels: benchtimer setup --set wheels="8 in, 6 in"']
    else:
        more = [f"{size} wheel: {_turns(size, check)}" for size in shop.wheels]
        more.append("a worn wheel is slower than its size when new; a small part heats fast")
    if not limits:
        more = ["the recipe asks for the speed and sets no limits"]
    text = f"{title}: {check.ask} {asked}".rstrip()
    return Item(text, tuple(more), (*_cited(recipe, check.source), str(sources.CIRCLE)))


def _turns(size: Quantity, check: ReadingCheck) -> str:
    diameter_m = size.base / 1000

    def rpm(limit: Quantity) -> str:
        return show_number(wheel.rotation_rpm(limit.base, diameter_m), 0)

    try:
        if check.low is not None and check.high is not None:
            return f"{rpm(check.low)} to {rpm(check.high)} rpm"
        top = check.high or check.ceiling
        if top is not None:
            return f"{rpm(top)} rpm at most"
        return f"{rpm(check.low)} rpm at least" if check.low is not None else ""
    except TradeError as error:
        return str(error)


def _properties(recipes: Sequence[Recipe]) -> Iterator[Item]:
    told: dict[str, None] = {}
    for recipe in recipes:
        for prop in recipe.property:
            told[f"{prop.id}: {prop.ask}"] = None
    yield from (Item(text) for text in told)


def in_units(quantity: Quantity, shop: Settings) -> str:
    """A quantity as the shop weighs and measures, rounded as a scale at the bench would."""
    unit = _units(shop).get(quantity.kind.name, quantity.unit)
    value = quantity.to(unit)
    if abs(value.value) < 1 and unit in SMALL:
        value = quantity.to(SMALL[unit])
    places = 0 if abs(value.value) >= 100 else 1 if abs(value.value) >= 10 else 2
    return f"{show_number(value.value, places)} {value.unit}"


def _also(quantity: Quantity, shop: Settings) -> str:
    """A quantity as the shop measures, with the words it was written in if those differ."""
    shown = in_units(quantity, shop)
    return shown if shown == str(quantity) else f"{shown} ({quantity})"


def _degrees(quantity: Quantity, shop: Settings, places: int) -> str:
    value = quantity.to(_units(shop)["temperature"])
    return f"{show_number(value.value, places)} {value.unit}"


def _units(shop: Settings) -> Mapping[str, str]:
    return US if shop.units == "us" else SI


def _cited(recipe: Recipe, source: str | None) -> tuple[str, ...]:
    return () if source is None else (recipe.citation(source),)
