"""The page before a run: what to wear, lay out, mix, heat and read, for this shop.

Pure: recipes and settings in, a page of lines to check off. Every computed figure comes from
    ``trade`` with its source; every figure of a recipe keeps its own.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence

from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.checks import ReadingCheck
from benchtimer.recipe.describe import show_property, show_window
from benchtimer.recipe.mixing import dose, scaled
from benchtimer.recipe.model import Hazard, Mix, Recipe, Station, Step, Window
from benchtimer.run.hazards import (
    carry_over_pages,
    clash_pages,
    hurts_of,
    pairs_between,
    pairs_within,
)
from benchtimer.run.setup import Entries, items_of, mixed_at
from benchtimer.settings import Settings
from benchtimer.times import duration
from benchtimer.trade import caustic, dangers, sources, water, wheel
from benchtimer.trade.compatibility import said
from benchtimer.trade.dangers import BOTTLES, LEVELS, headed, level_line
from benchtimer.trade.first_aid import first_aid_for
from benchtimer.trade.valid_range import TradeError
from benchtimer.values import dataclass, replace

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
"""Units for amounts under one of the unit."""

SHORT_SOURCES = {
    "common-practice": "common practice",
    "from-memory": "from memory",
    "own-tests": "own tests",
}
"""The sources that every recipe may name, as printed after a dose."""

BOIL = re.compile(r"\bboil", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Item:
    """One line to check off.

    Attributes:
        text: what to do or to know.
        more: its details.
        sources: where its figures come from.
        key: what it is checked off under in a run's setup; empty for a line of this page alone.
        guards: titles of the hazards that a piece of gear is for.
    """

    text: str
    more: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    key: str = ""
    guards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CheckListSection:
    """Lines that are done together."""

    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class CheckList:
    """The whole page."""

    title: str
    sections: tuple[CheckListSection, ...]

    def as_dict(self) -> dict[str, object]:
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
    placed: Mapping[str, Recipe],
    shop: Settings,
    baths: Mapping[str, str] | None = None,
    entered: Entries | None = None,
) -> CheckList:
    """The page before a run of these recipes in this shop.

    Args:
        placed: the recipes to run together, by key, at their places (``recipe.places``).
        shop: the shop's settings.
        baths: what the bath book has for a place, in words, by place id.
        entered: where half-done parts enter their recipes; None if all begin at the start.
    """
    known_baths, recipes = baths or {}, list(placed.values())
    sections = [
        CheckListSection("Gear", tuple(_gear(recipes))),
        CheckListSection("First aid", tuple(_first_aid(recipes))),
        CheckListSection("Hazards", tuple(_hazards(recipes))),
        CheckListSection("Keep apart", tuple(_pairs(placed))),
        CheckListSection("Mixes", tuple(_mixes(placed, shop, known_baths, entered))),
        CheckListSection("Heat", tuple(_heats(placed, entered))),
        CheckListSection("Stations", tuple(_stations(recipes, known_baths))),
        CheckListSection("Temperatures and readings", tuple(_temperatures(recipes, shop))),
        CheckListSection("Wheels", tuple(_wheels(recipes, shop))),
        CheckListSection("What to know about each part", tuple(_properties(recipes))),
    ]
    title = "Before the run: " + "; ".join(recipe.title for recipe in recipes)
    return CheckList(title, tuple(section for section in sections if section.items))


def make_list(
    placed: Mapping[str, Recipe],
    shop: Settings,
    baths: Mapping[str, str],
    days: Mapping[str, str],
) -> CheckList:
    """What to buy and set up for future sessions, each thing once.

    Args:
        placed: the recipes of the sessions, by key, at their places.
        shop: the shop's settings.
        baths: what the bath book has for a place, in words, by place id.
        days: when each recipe is first used, in words, by key.
    """
    recipes = list(placed.values())
    sections = [
        CheckListSection(
            "Before you mix or heat",
            (
                Item(f"Read the hazards and first aid: benchtimer prepare {' '.join(placed)}"),
                Item(dangers.DEFER),
            ),
        ),
        CheckListSection("To buy", tuple(_to_buy(placed, shop, baths, days))),
        CheckListSection("Gear", tuple(_gear(recipes))),
        CheckListSection("Mixes", tuple(_mixes(placed, shop, baths, None))),
        CheckListSection("Heat", tuple(_heats(placed, None))),
        CheckListSection(
            "Stations", tuple(replace(i, sources=()) for i in _stations(recipes, baths))
        ),
        CheckListSection("Wheels", tuple(_wheels(recipes, shop))),
        CheckListSection("What to know about each part", tuple(_properties(recipes))),
    ]
    planned = "; ".join(f"{recipe.title} ({days[key]})" for key, recipe in placed.items())
    return CheckList(f"To buy and set up: {planned}", tuple(s for s in sections if s.items))


def _to_buy(
    placed: Mapping[str, Recipe],
    shop: Settings,
    baths: Mapping[str, str],
    days: Mapping[str, str],
) -> Iterator[Item]:
    """What goes into the mixes that no open bath has, added up, with the day you need it."""
    amounts: dict[tuple[str, str], Quantity] = {}
    uses: dict[tuple[str, str], list[str]] = {}
    mixed: dict[tuple[str, str], tuple[str, Mix]] = {}
    for one in items_of(placed):
        if one.mix is not None and mixed_at(one.key) not in baths:
            mixed.setdefault((one.mix.id, one.mix.title), (one.recipe, one.mix))
    for key, mix in mixed.values():
        for item, amount in scaled(mix, _volume(mix, shop)):
            at = (item.what, amount.unit)
            before = amounts.get(at)
            amounts[at] = amount if before is None else replace(
                amount, value=amount.value + before.value
            )  # fmt: skip
            uses.setdefault(at, []).append(f"{mix.title}, {days[key]}")
    for at, amount in amounts.items():
        yield Item(f"{in_units(amount, shop)} {at[0]}", (f"for {'; '.join(uses[at])}",))


def _volume(mix: Mix, shop: Settings) -> Quantity:
    return shop.vessels.get(mix.id) or mix.volume or Quantity(1, "L")


def render_page(page: CheckList, width: int = WIDTH) -> str:
    """The page as a list to check off with a pencil, ending in a newline."""
    return "\n".join(_lines(page, max(40, width))) + "\n"


def _lines(page: CheckList, width: int) -> Iterator[str]:
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


def _guards(recipes: Sequence[Recipe]) -> Iterator[tuple[Hazard, tuple[str, ...]]]:
    """Every hazard of the run, once, with its source; what must not meet comes first."""
    seen: set[str] = set()
    clashes = clash_pages({str(i): recipe for i, recipe in enumerate(recipes)})
    carried = (page for recipe in recipes for page in carry_over_pages(recipe))
    hazards: list[tuple[Hazard, tuple[str, ...]]] = [(page, ()) for page in (*clashes, *carried)]
    own = [(c, _cited(recipe, c.source)) for recipe in recipes for c in recipe.hazard]
    for hazard, cited in [*hazards, *own]:
        if hazard.title not in seen:
            seen.add(hazard.title)
            yield hazard, cited


def _gear(recipes: Sequence[Recipe]) -> Iterator[Item]:
    """Each thing to wear, once, with the hazards it is for."""
    needed: dict[str, list[str]] = {}
    for hazard, _ in _guards(recipes):
        for gear in hazard.wear:
            needed.setdefault(gear, []).append(hazard.title)
    for gear, titles in needed.items():
        hazards = dict.fromkeys(title.partition(":")[0] for title in titles)
        yield Item(f"{gear} ({'; '.join(hazards)})", guards=tuple(titles))


def _hazards(recipes: Sequence[Recipe]) -> Iterator[Item]:
    hazards = list(_guards(recipes))
    for hazard, cited in hazards:
        yield Item(headed(hazard.level, hazard.title), tuple(_hazard(hazard)), cited)
    if hazards:
        meanings = tuple(level_line(level) for level in LEVELS)
        yield Item(BOTTLES, meanings)
        yield Item(dangers.DEFER)


def _hazard(hazard: Hazard) -> Iterator[str]:
    yield hazard.text
    if hazard.first_aid:
        yield f"first aid: {hazard.first_aid}"
    yield from (f"never: {never}" for never in hazard.never)


def _pairs(placed: Mapping[str, Recipe]) -> Iterator[Item]:
    """A line for each pair of baths that must not meet, even if a recipe orders them safely."""
    pairs: dict[str, tuple[str, ...]] = {}
    within = (pair for recipe in placed.values() for pair in pairs_within(recipe))
    for pair in (*pairs_between(placed), *within):
        first, second = pair.titles
        held = f"{said(pair.conflict.first)} and {said(pair.conflict.second)}"
        text = f"{first} and {second}: {pair.conflict.effect} ({held})"
        pairs.setdefault(text, (str(pair.conflict.source),))
    yield from (Item(text, (), cited) for text, cited in pairs.items())


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
            in_book = baths.get(station.id, "none is open in the bath book")
            more.append(f"bath {station.bath}: {in_book}")
        places = "one part" if station.holds == 1 else f"{station.holds} parts"
        text = f"{station.title} [{station.id}], room for {places}"
        yield Item(text, tuple(more), _cited(recipe, station.source))


def _first_aid(recipes: Sequence[Recipe]) -> Iterator[Item]:
    """First aid for everything these recipes open; key F shows it during the run."""
    hurts = hurts_of(station for recipe in recipes for station in recipe.station)
    for aid in first_aid_for(hurts | {"cut"}):
        more = [*aid.do, *(f"sign: {sign}" for sign in aid.signs)]
        more += [f"never: {never}" for never in aid.never]
        yield Item(aid.title, tuple(more), tuple(str(source) for source in aid.sources))


def _mixes(
    placed: Mapping[str, Recipe],
    shop: Settings,
    baths: Mapping[str, str],
    entered: Entries | None,
) -> Iterator[Item]:
    """What is mixed for each place, with the figures to look up; then mixes without a place."""
    seen = {(i.mix.id, i.mix.title) for i in items_of(placed) if i.mix is not None}
    for item in items_of(placed, entered):
        recipe = placed[item.recipe]
        if item.mix is not None:
            line, place = _mix(recipe, item.mix, shop), mixed_at(item.key)
            if place in baths:
                yield replace(line, more=(f"nothing to mix: {baths[place]}".rstrip(": "),))
            else:
                yield replace(line, key=item.key)
        elif item.asks is not None:
            yield Item(f"{item.title} In {item.asks.unit}", key=item.key)
    for recipe in placed.values():
        for mix in recipe.mix:
            if (mix.id, mix.title) not in seen:
                seen.add((mix.id, mix.title))
                yield _mix(recipe, mix, shop)


def _heats(placed: Mapping[str, Recipe], entered: Entries | None) -> Iterator[Item]:
    for item in items_of(placed, entered):
        if item.place is not None:
            station = placed[item.recipe].station_named(item.place)
            takes = f"about {duration(station.heat_up_s or 0)} to heat up"
            yield Item(f"{station.title}: {takes}", (), (), item.key)


def _mix(recipe: Recipe, mix: Mix, shop: Settings) -> Item:
    vessel = shop.vessels.get(mix.id)
    volume = _volume(mix, shop)
    whose = "your vessel" if vessel else "the recipe's vessel" if mix.volume else "as an example"
    more, cited = [], [mix.source]
    for item, amount in scaled(mix, volume):
        source = SHORT_SOURCES.get(item.source or "", "")
        cited += [item.source] if not source else []
        more.append(dose(in_units(amount, shop), item, mix, source))
    if mix.text:
        more.append(mix.text)
    text = f"{mix.title} [{mix.id}]: {_also(volume, shop)}, {whose}"
    sources = (cite for source in cited for cite in _cited(recipe, source))
    return Item(text, tuple(more), tuple(dict.fromkeys(sources)))


def _temperatures(recipes: Sequence[Recipe], shop: Settings) -> Iterator[Item]:
    for recipe, station in _each_station(recipes):
        window = station.temperature
        more = [*_boil(station, shop), *_salts(station, shop)]
        if window is not None:
            text = f"{station.title}: {_both(window, shop)}"
            yield Item(text, tuple(t for t, _ in more), (*_cited(recipe, window.source),
                       *dict.fromkeys(s for _, sources in more for s in sources)))  # fmt: skip
        elif more:
            yield Item(f"{station.title}: {more[0][0]}", tuple(t for t, _ in more[1:]), more[0][1])


def _both(window: Window, shop: Settings) -> str:
    """A window as written, and in the shop's unit if it is different."""
    return show_window(window, _units(shop)["temperature"])


_Cited = tuple[str, tuple[str, ...]]
"""A sentence, and its sources."""


def _boil(station: Station, shop: Settings) -> Iterator[_Cited]:
    """Where plain water boils in this shop, for a boiling rinse."""
    window = station.temperature
    aims = window.target or window.min if window is not None else None
    named = BOIL.search(station.title) is not None and (aims is None or aims.base <= 101)
    near = window is not None and window.min.base >= 90 and window.max.base <= 105
    if not (named or near):
        return
    pressure_pa, where = _pressure(shop)
    boils = Quantity(water.boiling_c(pressure_pa), "C")
    boiling = f"water boils at {_degrees(boils, shop, 1)} {where}"
    cite = (str(sources.IF97), *((str(sources.ATMOSPHERE),) if shop.altitude else ()))
    yield boiling, cite
    if aims is not None and not water.boil_reaches(aims.base, pressure_pa):
        yield f"it can't reach {aims} here: allow more time, and note it in the record", ()


def _salts(station: Station, shop: Settings) -> Iterator[_Cited]:
    """How strong a caustic bath must be to boil in its window here, as sodium hydroxide."""
    window = station.temperature
    low, high = caustic.WINDOW_C
    if window is None or station.bath is None:
        return
    if window.min.base < low - caustic.TOLERANCE_C or window.max.base > high + caustic.TOLERANCE_C:
        return
    target_c = (window.target or window.min).base
    try:
        here = caustic.strength_pct(target_c, _pressure(shop)[0])
        at_sea = caustic.strength_pct(target_c)
    except TradeError as error:
        yield f"if these are caustic salts: {error}", (str(sources.NAOH_BOILING),)
        return
    _, where = _pressure(shop)
    text = f"if these are caustic salts, they boil at {_degrees(Quantity(target_c, 'C'), shop, 0)} "
    text += f"at the strength of {here:.0f} % sodium hydroxide by mass {where}"
    if shop.altitude is not None and abs(here - at_sea) >= 0.5:
        text += f" ({at_sea:.0f} % at sea level)"
    yield (
        f"{text}; a hint, not a recipe: mix by the supplier's data sheet",
        (str(sources.NAOH_BOILING),),
    )
    yield dangers.HOT_CAUSTIC, ()
    yield dangers.ADDING_WATER, ()


def _pressure(shop: Settings) -> tuple[float, str]:
    """Air pressure in the shop, Pa, and words for where it comes from."""
    if shop.altitude is None:
        return water.SEA_LEVEL_PA, "at sea level (your settings have no altitude)"
    return water.pressure_pa(shop.altitude.base / 1000), f"at {shop.altitude} (standard weather)"


def _wheels(recipes: Sequence[Recipe], shop: Settings) -> Iterator[Item]:
    """The rotation that gives the surface speeds in the recipe, for each wheel you have."""
    for recipe in recipes:
        for step in recipe.step:
            for check in step.check:
                if isinstance(check, ReadingCheck) and _is_speed(check):
                    yield _wheel(recipe, step, check, shop)


def _is_speed(check: ReadingCheck) -> bool:
    return Quantity(1, check.unit_symbol).kind.name == "speed"


def _wheel(recipe: Recipe, step: Step, check: ReadingCheck, shop: Settings) -> Item:
    asked = check.limits or (f"up to {check.ceiling}" if check.ceiling else "")
    if not shop.wheels:
        more = ['your settings list no wheels: benchtimer settings --set wheels="8 in, 6 in"']
    else:
        more = [f"{size} wheel: {_turns(size, check)}" for size in shop.wheels]
        more.append(
            "a worn wheel has a lower surface speed than a new one; a small part heats fast"
        )
    if not asked:
        more = ["the recipe asks for the speed and sets no limits"]
    text = f"{check.ask.rstrip('?')} [{step.id}]" + (f": {asked}" if asked else "")
    return Item(text, tuple(more), (*_cited(recipe, check.source), str(sources.CIRCLE)))


def _turns(size: Quantity, check: ReadingCheck) -> str:
    diameter_m = size.base / 1000

    def rpm(limit: Quantity) -> str:
        return show_number(wheel.rotation_rpm(limit.base, diameter_m), 0)

    try:
        if check.min is not None and check.max is not None:
            return f"{rpm(check.min)} to {rpm(check.max)} rpm"
        top = check.max or check.ceiling
        if top is not None:
            return f"{rpm(top)} rpm at most"
        return f"{rpm(check.min)} rpm at least" if check.min is not None else ""
    except TradeError as error:
        return str(error)


def _properties(recipes: Sequence[Recipe]) -> Iterator[Item]:
    lines: dict[str, None] = {}
    for recipe in recipes:
        for prop in recipe.part_properties:
            lines[show_property(prop)] = None
    yield from (Item(text) for text in lines)


def in_units(quantity: Quantity, shop: Settings) -> str:
    """A quantity as the shop weighs and measures, rounded like a scale at the bench."""
    unit = _units(shop).get(quantity.kind.name, quantity.unit)
    value = quantity.to(unit)
    if abs(value.value) < 1 and unit in SMALL:
        value = quantity.to(SMALL[unit])
    return f"{show_number(value.value, _places(abs(value.value)))} {value.unit}"


def _places(size: float) -> int:
    """Decimal places of a figure to weigh or pour: three significant digits, fewer for little."""
    if size >= 1:
        return 0 if size >= 100 else 1 if size >= 10 else 2
    return next((n for n in range(2, 10) if size * 10**n >= 10), 9)


def _also(quantity: Quantity, shop: Settings) -> str:
    """A quantity as the shop measures it, with the words it was written in if they differ."""
    shown = in_units(quantity, shop)
    return shown if shown == str(quantity) else f"{shown} ({quantity})"


def _degrees(quantity: Quantity, shop: Settings, places: int) -> str:
    value = quantity.to(_units(shop)["temperature"])
    return f"{show_number(value.value, places)} {value.unit}"


def _units(shop: Settings) -> Mapping[str, str]:
    return US if shop.units == "us" else SI


def _cited(recipe: Recipe, source: str | None) -> tuple[str, ...]:
    return () if source is None else (recipe.citation(source),)
