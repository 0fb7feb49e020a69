"""Sets up a run: its parts, their names, and the stations that recipes share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import islice

from benchtimer.quantity import Quantity, QuantityError, parse
from benchtimer.recipe.checks import ReadingCheck
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import PlaceError, ShopPlace, choose_places, place_recipes
from benchtimer.recipe.raw_tables import Table
from benchtimer.recipe.reader import build_recipe
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import safe_text
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class EntersAt:
    """Where a half-done part enters its recipe.

    Attributes:
        step: id of the step its work begins with.
        before: what was done to it earlier, in the maker's words.
    """

    step: str
    before: str = ""


MAX_PARTS = 200
MAX_NAME = 200
MAX_COUNT = 1000
"""Largest number of pieces in one batch."""


def create(
    now: Now,
    *,
    uid: str,
    title: str,
    recipes: Mapping[str, Table],
    parts: list[tuple[str, str]],
    properties: Mapping[str, Mapping[str, str]] | None = None,
    away: tuple[str, ...] = (),
    adjustments: tuple[str, ...] = (),
    hands: int = 1,
    speed: float = 1,
    baths: Mapping[str, str] | None = None,
    files: Mapping[str, str] | None = None,
    taken: frozenset[int] = frozenset(),
    shop: Sequence[ShopPlace] = (),
    enters: Mapping[str, EntersAt] | None = None,
    counts: Mapping[str, int] | None = None,
    jobs: Mapping[str, str] | None = None,
) -> list[e.Event]:
    """The first event of a run.

    Args:
        now: bench time and who sets the run up.
        uid: the run's unique id.
        title: the run's title.
        recipes: tables of the recipes by key.
        parts: name and recipe key of each part.
        properties: what is known about each part.
        away: when you will be away.
        adjustments: changes made to the recipe, in words.
        hands: pairs of hands.
        speed: bench seconds per real second.
        files: the files that recipes were read from, by key.
        baths: names of baths of the bath book, by station address ``RECIPE.STATION``.
        taken: part numbers that other runs on the bench have.
        shop: places that the settings declare.
        enters: where half-done parts enter their recipe, by name.
        counts: pieces of each part that is a batch, by name.
        jobs: what parts of jobs are called in the log, by their names in this run.

    Raises:
        Refused: no parts, too many, a bad or repeated name, or stations that contradict.
    """
    known, known_baths = properties or {}, baths or {}
    at = check_layout(recipes, parts, known, known_baths, shop)
    check_entries(recipes, parts, enters or {})
    check_counts(parts, counts or {})
    created = e.Created(
        press=0,
        t_ms=now.t_ms,
        by=now.by,
        uid=uid,
        title=safe_text("title", title),
        recipes=dict(recipes),
        parts=tuple(parts),
        properties={name: dict(values) for name, values in known.items()},
        away=away,
        adjustments=adjustments,
        hands=hands,
        speed=speed,
        places=at,
        baths={at[station]: bath for station, bath in known_baths.items()},
        files=dict(files or {}),
        numbers=free_numbers(taken, len(parts)),
        shop={place.id: place.as_table() for place in shop},
        enters={
            name: {"step": entry.step, "before": entry.before}
            for name, entry in (enters or {}).items()
        },
        counts=dict(counts or {}),
        jobs=dict(jobs or {}),
    )
    return [created]


def free_numbers(taken: frozenset[int], count: int) -> tuple[int, ...]:
    """The lowest part numbers not in use on the bench.

    Args:
        taken: the ones in use.
        count: how many to return.
    """
    free = (number for number in range(1, len(taken) + count + 1) if number not in taken)
    return tuple(islice(free, count))


def check_layout(
    recipes: Mapping[str, Table],
    parts: list[tuple[str, str]],
    known: Mapping[str, Mapping[str, str]],
    baths: Mapping[str, str] | None = None,
    shop: Sequence[ShopPlace] = (),
) -> dict[str, str]:
    """The places of a run's stations, by their addresses.

    Args:
        recipes: tables of the recipes by key.
        parts: name and recipe key of each part.
        known: what is known about each part.
        baths: names of baths of the bath book, by station address.
        shop: places that the settings declare.

    Raises:
        Refused: no parts, bad names, stations that contradict, or unknown properties.
    """
    if not parts:
        raise r.BadValue("Can't set up a run", "it has no parts", "Name at least one part")
    if len(parts) > MAX_PARTS:
        raise r.BadValue(
            "Can't set up a run", f"it has {len(parts)} parts", f"Name {MAX_PARTS} or fewer"
        )
    taken: list[str] = []
    for name, key in parts:
        check_name(name, taken)
        taken.append(name)
        if key not in recipes:
            raise r.UnknownName("recipe", key, list(recipes))
    read = {key: checked_recipe(table) for key, table in recipes.items()}
    at = check_places(read, choose_places(read, baths, shop=shop), shop)
    for name in known:
        if name not in taken:
            raise r.UnknownName("part", name, taken)
    for name, key in parts:
        check_properties(read[key], name, known.get(name, {}))
    return at


def check_entries(
    recipes: Mapping[str, Table],
    parts: Sequence[tuple[str, str]],
    enters: Mapping[str, EntersAt],
) -> dict[str, int]:
    """The index of the step at which each half-done part enters, by its name.

    Args:
        recipes: tables of the recipes by key.
        parts: name and recipe key of each part.
        enters: where half-done parts enter their recipe, by name.

    Raises:
        Refused: an unknown part or step, or unsafe text.
    """
    keys = dict(parts)
    found = {}
    for name, step in enters.items():
        if name not in keys:
            raise r.UnknownName("part", name, list(keys))
        found[name] = check_entry(checked_recipe(recipes[keys[name]]), step)
    return found


def check_counts(parts: Sequence[tuple[str, str]], counts: Mapping[str, int]) -> None:
    """Refuse a count for a part that doesn't exist, or an invalid one."""
    names = [name for name, _ in parts]
    for name, count in counts.items():
        if name not in names:
            raise r.UnknownName("part", name, names)
        check_count(name, count)


def check_count(name: str, count: int) -> None:
    """Refuse a batch with no pieces, or with more than fit on a wire."""
    if not 1 <= count <= MAX_COUNT:
        raise r.BadValue(
            f"Can't set up {name} as a batch", f"it has {count} pieces", f"Give 1 to {MAX_COUNT}"
        )


def check_entry(recipe: Recipe, enters: EntersAt) -> int:
    """The index of the step a part enters at.

    Raises:
        Refused: the recipe has no such step, or the text is unsafe.
    """
    known = [step.id for step in recipe.step]
    if enters.step not in known:
        raise r.UnknownName("step", enters.step, known, recipe.id)
    if enters.before:
        safe_text("note on what was done before", enters.before)
    return known.index(enters.step)


def checked_recipe(table: Table) -> Recipe:
    """The recipe of a table, with every rule checked.

    Raises:
        RecipeError: everything wrong with it.
    """
    return build_recipe(dict(table), name=str(table.get("id", "recipe")))


def check_name(name: str, taken: list[str]) -> None:
    """Refuse a name that is empty, too long, unsafe on a screen, or taken."""
    safe_text("part name", name)
    if len(name) > MAX_NAME or "\n" in name:
        raise r.BadValue(
            "Bad part name",
            f"it is longer than {MAX_NAME} characters or more than one line",
            "Shorten it",
        )
    if name in taken:
        raise r.BadValue("Two parts with one name", f'"{name}" is listed twice', f'Try "{name} 2"')


def check_places(
    recipes: Mapping[str, Recipe], at: dict[str, str], shop: Sequence[ShopPlace] = ()
) -> dict[str, str]:
    """The places, if the stations at each of them agree.

    Args:
        recipes: the recipes by key.
        at: the place of each station, by station address.
        shop: places that the settings declare.

    Raises:
        Refused: stations at one place with incompatible windows or chemistry.
    """
    try:
        place_recipes(recipes, at, shop)
    except PlaceError as error:
        what = f"Can't set up {error.place}"
        raise r.BadValue(what, error.found, error.way_out) from None
    return at


def check_properties(recipe: Recipe, part: str, known: Mapping[str, str]) -> None:
    """Refuse a part without something that its recipe needs to know.

    Args:
        recipe: the recipe.
        part: the part's name.
        known: what is known about it, by property.
    """
    asked = {prop.id: prop for prop in recipe.property}
    for name in known:
        if name not in asked:
            raise r.UnknownName("property", name, list(asked) or ["none"], part)
    given: dict[str, Quantity] = {}
    for name, prop in asked.items():
        if name not in known and prop.of is not None:
            continue  # the setup asks for it once for the mix
        if name not in known:
            raise r.PropertyMissing(part, name, prop.ask)
        try:
            given[name] = parse(known[name], prop.kind)
        except QuantityError as error:
            what = f"Can't use that {name} for {part}"
            raise r.BadValue(what, error.reason, r.as_way_out(error.allowed)) from None
    _check_ceilings(recipe, part, given)


def _check_ceilings(recipe: Recipe, part: str, given: Mapping[str, Quantity]) -> None:
    """Refuse a property that puts the ceiling of a reading below its lowest figure."""
    for check in (check for step in recipe.step for check in step.check):
        if not isinstance(check, ReadingCheck) or check.min is None or check.ceiling_from is None:
            continue  # its own ceiling was checked when the recipe was read
        ceiling = check.ceiling_for(given)
        if ceiling is not None and ceiling.base < check.min.base:
            raise r.BadValue(
                f"Can't set up {part}",
                f'"{check.id}" can never pass: its ceiling would be below its lowest reading',
                f"Correct the {check.ceiling_from.property}, or use another recipe",
            )
