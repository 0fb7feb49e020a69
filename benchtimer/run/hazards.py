"""Pages about chemistry that must not meet, to acknowledge before the work.

Two cases come from the table of ``trade.compatibility``: a dangerous pair that two recipes of the
run bring to one bench, and a part that would carry drops from one bath into another without a
rinse. A pair that one recipe orders by itself, with a rinse in between, has no page; the list
before the run has it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import combinations

from benchtimer.recipe.model import Hazard, Recipe, Station, Step
from benchtimer.run.run_state import Bench, Part
from benchtimer.trade.compatibility import BURNS_C, Chemistry, Conflict, conflicts, said
from benchtimer.trade.first_aid import Hurt
from benchtimer.values import dataclass

WEAR = ("face shield over goggles", "a fresh pair of gloves for each bath", "apron")
NAMED = 6
"""How many places a page names; the others are counted."""
FIRST_AID = (
    "Skin and eyes: rinse at once and keep rinsing for 30 minutes, 60 minutes for caustic, even on "
    "the way to get help; call for help. Gas breathed in: get out into fresh air. Call for help "
    "even if you "
    "feel well."
)


def hurts_of(stations: Iterable[Station]) -> set[Hurt]:
    """What can hurt at some stations: their chemistry, and heat that burns."""
    hurts: set[Hurt] = set()
    for station in stations:
        window = station.temperature
        hot = window is not None and window.max.base >= BURNS_C
        hurts |= {*station.chemistry, *(("heat",) if hot or station.heat_up_s else ())}
    return hurts


@dataclass(frozen=True, slots=True)
class Pair:
    """Two places that must not meet.

    Attributes:
        conflict: the row of the table.
        places: their ids and ``titles``, in the order of the conflict.
    """

    conflict: Conflict
    places: tuple[str, str]
    titles: tuple[str, str]


def pairs_within(recipe: Recipe) -> Iterator[Pair]:
    """Pairs of places of one recipe that must not meet; the recipe orders them itself."""
    for one, other in combinations(recipe.station, 2):
        yield from _pairs(one, other)


def pairs_between(recipes: Mapping[str, Recipe]) -> Iterator[Pair]:
    """Pairs of places that must not meet, and that no single recipe has both of."""
    own = [{station.id for station in recipe.station} for recipe in recipes.values()]
    places = {s.id: s for recipe in recipes.values() for s in recipe.station}
    for one, other in combinations(places.values(), 2):
        if any({one.id, other.id} <= stations for stations in own):
            continue
        yield from (pair for pair in _pairs(one, other) if pair.conflict.level != "caution")


def danger_pairs(own: Station, title: str, chemistry: Iterable[Chemistry]) -> Iterator[Pair]:
    """What makes a place and something open elsewhere in the shop a dangerous pair.

    Args:
        own: the place.
        title: the open bath's title.
        chemistry: what it holds.
    """
    for conflict in conflicts(own.chemistry, chemistry):
        titles = (own.title, title) if conflict.first in own.chemistry else (title, own.title)
        if conflict.level == "danger":
            yield Pair(conflict, (own.id, own.id), titles)


def _pairs(one: Station, other: Station) -> Iterator[Pair]:
    for conflict in conflicts(one.chemistry, other.chemistry):
        first, second = (one, other) if conflict.first in one.chemistry else (other, one)
        yield Pair(conflict, (first.id, second.id), (first.title, second.title))


def clash_pages(recipes: Mapping[str, Recipe]) -> tuple[Hazard, ...]:
    """A page for each conflict that two recipes of a run bring to one bench."""
    found: dict[tuple[str, str], list[Pair]] = {}
    dangers = (pair for pair in pairs_between(recipes) if pair.conflict.level == "danger")
    for pair in dangers:
        found.setdefault((pair.conflict.first, pair.conflict.second), []).append(pair)
    return tuple(clash_page(pairs) for pairs in found.values())


def clash_line(recipes: Mapping[str, Recipe], places: Collection[str] | None = None) -> str:
    """One line for a plan on the dangerous pairs that its recipes bring to one bench; empty if
    none.

    Args:
        recipes: the recipes by key.
        places: ids of the places that count; all of them if None.
    """
    found: dict[Chemistry, dict[str, None]] = {}
    for pair in pairs_between(recipes):
        counts = places is None or all(place in places for place in pair.places)
        if pair.conflict.level == "danger" and counts:
            found.setdefault(pair.conflict.first, {})[said(pair.conflict.second)] = None
    words = "; ".join(f"{said(one)} with {', '.join(others)}" for one, others in found.items())
    return f"DANGER: {words}. Use another room or day" if words else ""


def clash_page(pairs: Sequence[Pair]) -> Hazard:
    """The page about pairs of places that clash in one way."""
    conflict = pairs[0].conflict
    first, second = said(conflict.first), said(conflict.second)
    held = [(first, [p.titles[0] for p in pairs]), (second, [p.titles[1] for p in pairs])]
    where = "; ".join(f"{what}: {_listed(titles)}" for what, titles in held)
    return Hazard(
        level=conflict.level,
        before=tuple(dict.fromkeys(name for pair in pairs for name in pair.places)),
        title=f"{first.capitalize()} and {second} on one bench: {conflict.effect}",
        text=f"{where}. Never have both open in one room: use another room, or run them on "
        f"different days. "
        "No shared tray, sink, brush, wire, glove or rag, and no drips from one into the other. "
        "Before a part goes from one to the other, rinse it, neutralize it and rinse it again.",
        wear=WEAR,
        first_aid=FIRST_AID,
        never=(f"{first} into {second}, or the other way around: {conflict.effect}",),
    )


def _listed(titles: Iterable[str]) -> str:
    """Titles without repeats, the first ``NAMED`` of them."""
    names = list(dict.fromkeys(titles))
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return f"{', '.join(names[:NAMED])}{more}"


def carry_over_pages(recipe: Recipe) -> tuple[Hazard, ...]:
    """A page for each bath that a part enters straight from one that must not meet it."""
    pages: dict[str, Hazard] = {}
    for source, step in _direct_ways(recipe):
        target = recipe.station_named(step.at or "")
        for conflict in conflicts(source.chemistry, target.chemistry):
            if conflict.level != "caution":
                page = _carried(source, target, step, conflict)
                pages.setdefault(page.title, page)
    return tuple(pages.values())


def _carried(source: Station, target: Station, step: Step, conflict: Conflict) -> Hazard:
    return Hazard(
        before=(step.id,),
        level=conflict.level,
        title=f"{source.title} into {target.title} without a rinse: {conflict.effect}",
        text=f"The part carries drops of {source.title} into {target.title}. Rinse it first, "
        "slots and holes too.",
        wear=WEAR,
        first_aid=FIRST_AID,
    )


def _direct_ways(recipe: Recipe) -> Iterator[tuple[Station, Step]]:
    """Every bath with the step in which a part enters it next, if nothing rinses in between."""
    ways: list[tuple[int, int]] = [(i, i + 1) for i in range(len(recipe.step))]
    ways += [(way.index, way.to_index) for way in recipe.ways if way.to_index is not None]
    for left, entered in ways:
        source = _bath_before(recipe, left)
        step = _bath_after(recipe, entered) if source is not None else None
        if source is not None and step is not None and step.at != source.id:
            yield source, step


def why_not_skip(bench: Bench, part: Part, first: int, last: int) -> tuple[str, str] | None:
    """Why the steps from ``first`` up to ``last`` can't be skipped, and what to do.

    A part never skips the rinse or the neutralizer of a bath whose drops it carries, and never
    carries them into a bath that they must not meet.

    Args:
        bench: the run's bench.
        part: the part as it is.
        first: index of the first step left out.
        last: index of the step that comes next; the number of steps for none.
    """
    if part.began_ms is None:
        return None
    recipe = bench.recipe_of(part)
    source = _bath_before(recipe, first - 1)
    if source is None:
        return None
    for step in recipe.step[first:last]:
        if _rinses(recipe, step):
            found = f"it carries {source.title}, and you would skip {step.title}"
            return found, f"Do {step.title} first, then skip from there"
    entered = _bath_after(recipe, last)
    for conflict in conflicts(source.chemistry, _chemistry(recipe, entered)):
        at = entered.title if entered is not None else ""
        return f"{source.title} would go into {at}: {conflict.effect}", "Rinse it first"
    return None


def _chemistry(recipe: Recipe, step: Step | None) -> tuple[Chemistry, ...]:
    station = _station(recipe, step)
    return station.chemistry if station is not None else ()


def _rinses(recipe: Recipe, step: Step) -> bool:
    station = _station(recipe, step)
    return step.rinse or (station is not None and station.purpose is not None)


def _bath_before(recipe: Recipe, index: int) -> Station | None:
    """The bath whose drops a part still carries after a step; None if it has been rinsed since."""
    return _station(recipe, _first_wet(recipe, reversed(recipe.step[: index + 1])))


def _bath_after(recipe: Recipe, index: int) -> Step | None:
    """The step in which a part enters the next bath, if nothing rinses it first."""
    return _first_wet(recipe, recipe.step[index:])


def _first_wet(recipe: Recipe, steps: Iterable[Step]) -> Step | None:
    for step in steps:
        if _rinses(recipe, step):
            return None
        station = _station(recipe, step)
        if station is not None and station.chemistry:
            return step
    return None


def _station(recipe: Recipe, step: Step | None) -> Station | None:
    return recipe.station_named(step.at) if step is not None and step.at is not None else None
