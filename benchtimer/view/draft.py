"""A run that is being planned: parts and recipes, hands, hours away, start.

It is not on the bench yet. Every change makes a new draft; the planner gets ``problem_of_draft``,
and ``order_of`` is what is finally set up.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping

from benchtimer.bench.advice import away_of, away_windows, check_away
from benchtimer.bench.beside import beside
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.wallclock import later, moment_of, until_time_of_day_s
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.problem import Problem
from benchtimer.quantity import QuantityError, parse_duration, parse_hours
from benchtimer.recipe.adjust import adjusted, parse_adjustment
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import Placed, ShopPlace, place_recipes
from benchtimer.recipe.writer import recipe_table
from benchtimer.run.evolve import recipe_from_table
from benchtimer.run.layout import (
    EntersAt,
    check_count,
    check_entries,
    check_entry,
    check_layout,
    check_name,
)
from benchtimer.shop.hours import ALWAYS, Hours, parse_week
from benchtimer.shop.shop_state import Shop
from benchtimer.store.log import Stamp
from benchtimer.values import dataclass, field, replace

MOST_HANDS = 4


@dataclass(frozen=True, slots=True)
class DraftPart:
    """A planned part: its name, its recipe, its properties, and how long it is held back.

    Attributes:
        later_s: seconds after the plan's start before which it must not start.
        enters: the step at which it enters its recipe, if it is half done.
        count: its pieces, if it is a batch.
    """

    name: str
    recipe: str
    properties: Mapping[str, str] = field(default_factory=dict)
    later_s: int = 0
    enters: EntersAt | None = None
    count: int = 1


@dataclass(frozen=True, slots=True)
class Draft:
    """The choices so far.

    Attributes:
        recipes: the recipes by id, in the order they were chosen.
        parts: in the order of their numbers.
        start_wall_ms: Unix time at which the plan begins, in milliseconds; None: now.
        changes: the changes to the recipes for this run, as text for the record.
        hours_worked: the shop's hours by weekday.
        shop: the shop's places, as its settings declare them.
    """

    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    parts: tuple[DraftPart, ...] = ()
    hands: int = 1
    away: tuple[str, ...] = ()
    start_wall_ms: int | None = None
    changes: tuple[str, ...] = ()
    hours_worked: Hours = ALWAYS
    shop: tuple[ShopPlace, ...] = ()

    def add(self, recipe: Recipe, text: str, known: Mapping[str, str] | None = None) -> Draft:
        """More parts for a recipe: names separated by commas.

        Args:
            recipe: their recipe.
            text: the names.
            known: what is known about each, ``PART.PROPERTY`` to value.

        Raises:
            Refused: a name that is invalid or in use.
            ValueError: no name at all, or another recipe here has this id.
        """
        if any(change.startswith(f"{recipe.id}: ") for change in self.changes):
            recipe = self.recipes[recipe.id]  # with its changes for this run
        if self.recipes.get(recipe.id, recipe) != recipe:
            raise ValueError(f"another recipe of this plan has the id {recipe.id}; rename one")
        taken = [part.name for part in self.parts]
        fresh = []
        for name in names_in(text):
            check_name(name, taken)
            taken.append(name)
            own = {k.removeprefix(f"{name}."): v for k, v in (known or {}).items()
                   if k.rpartition(".")[0] == name}  # fmt: skip
            fresh.append(DraftPart(name, recipe.id, own))
        if not fresh:
            raise ValueError("name at least one part")
        recipes = {**self.recipes, recipe.id: recipe}
        return replace(self, recipes=recipes, parts=(*self.parts, *fresh))

    def drop(self, name: str) -> Draft:
        """The draft without a part, and without its recipe if no other part uses it."""
        parts = tuple(part for part in self.parts if part.name != name)
        used = {part.recipe for part in parts}
        recipes = {key: recipe for key, recipe in self.recipes.items() if key in used}
        changes = tuple(c for c in self.changes if c.partition(": ")[0] in used)
        return replace(self, parts=parts, recipes=recipes, changes=changes)

    def change(self, key: str, text: str) -> Draft:
        """The draft with a recipe changed for this run only, like ``black.target=12 min``.

        Raises:
            RecipeError: the text names nothing that can be changed this way.
        """
        wish = parse_adjustment(text)
        recipes = {**self.recipes, key: adjusted(self.recipes[key], [wish])}
        return replace(self, recipes=recipes, changes=(*self.changes, f"{key}: {wish}"))

    def forward(self, name: str) -> Draft:
        """The draft with a part moved one place up; the first one goes to the end."""
        parts = list(self.parts)
        at = next(i for i, part in enumerate(parts) if part.name == name)
        parts.insert(at - 1 if at else len(parts), parts[at])
        del parts[at + 1 if at else 0]
        return replace(self, parts=tuple(parts))

    def enter(self, name: str, step: str, before: str) -> Draft:
        """The draft with a part that enters its recipe at a given step.

        At the first step the part is not half done.

        Args:
            name: the part's name.
            step: the id of the step.
            before: what was done before, in words.

        Raises:
            Refused: its recipe has no such step.
        """
        part = next(part for part in self.parts if part.name == name)
        enters = EntersAt(step, before)
        first = check_entry(self.recipes[part.recipe], enters)
        return self._with(name, lambda part: replace(part, enters=enters if first else None))

    def batch(self, name: str, text: str) -> Draft:
        """The draft with a part of this many pieces, handled as one.

        Raises:
            Refused: the number of pieces is not possible.
            ValueError: the text is not a number.
        """
        if not (text.strip().isdecimal() and len(text.strip()) < 9):
            raise ValueError(f'"{text}" is not a number of pieces; write it like 6')
        count = int(text)
        check_count(name, count)
        return self._with(name, lambda part: replace(part, count=count))

    def later(self, name: str, by_s: int) -> Draft:
        """The draft with a part held back longer or less."""
        return self._with(name, lambda part: replace(part, later_s=max(0, part.later_s + by_s)))

    def not_before(self, name: str, text: str, zero: Stamp) -> Draft:
        """The draft with a part held back until 10:30, or for 45 min; 0 for none.

        Args:
            name: the part's name.
            text: a time of day or a duration.
            zero: both clocks at the start of the plan.

        Raises:
            ValueError: the text is neither.
        """
        if text.strip() == "0":
            return self._with(name, lambda part: replace(part, later_s=0))
        if ":" in text:
            seconds = until_time_of_day_s(time_of_day(text), zero)
        else:
            try:
                seconds = parse_duration(text)
            except QuantityError as error:
                raise ValueError(f'"{text}" is not a time: write 10:30, 45 min, or 0') from error
        return self._with(name, lambda part: replace(part, later_s=seconds))

    def _with(self, name: str, change: Callable[[DraftPart], DraftPart]) -> Draft:
        parts = tuple(change(part) if part.name == name else part for part in self.parts)
        return replace(self, parts=parts)

    def with_away(self, text: str) -> Draft:
        """The draft with other hours away: FROM-TO separated by commas, or ``none``.

        Raises:
            ValueError: the text is not such hours, or they cover the whole day.
        """
        hours = tuple(piece.strip() for piece in text.split(",") if piece.strip())
        hours = () if hours == ("none",) else hours
        check_away(hours)
        return replace(self, away=hours)

    def more_hands(self) -> Draft:
        """The draft with one more pair of hands; after four, one again."""
        return replace(self, hands=self.hands % MOST_HANDS + 1)

    def with_start(self, text: str, now: Stamp) -> Draft:
        """The draft with another start: a time of day, ``Sat 09:00``, an ISO time, or ``now``.

        Raises:
            TimeError: the text is none of these, or the time is in the past.
        """
        if text.strip().lower() == "now":
            return replace(self, start_wall_ms=None)
        return replace(self, start_wall_ms=moment_of(text, now).wall_ms)

    def with_hours(self, text: str) -> Draft:
        """The draft with other hours by weekday; ``always`` for none. The closed dates stay.

        Raises:
            TimeError: the text is not hours.
        """
        always = text.strip().lower() == "always"
        week = ALWAYS if always else parse_week(text)
        return replace(self, hours_worked=replace(week, closed=self.hours_worked.closed))


def names_in(text: str) -> list[str]:
    """Part names separated by commas, in composed Unicode form."""
    return [
        name for piece in unicodedata.normalize("NFC", text).split(",") if (name := piece.strip())
    ]


def time_of_day(text: str) -> int:
    """Minutes after midnight of ``08:30``.

    Raises:
        ValueError: it is not a time of day.
    """
    try:
        return parse_hours(f"{text.strip()}-23:59" if text.strip() != "23:59" else "23:59-00:00")[0]
    except QuantityError:
        raise ValueError(f'"{text}" is not a time of day; write it like 08:30') from None


def zero_of(draft: Draft, now: Stamp) -> Stamp:
    """The moment the plan begins: the requested time, or now if that is past or missing."""
    ahead_ms = (draft.start_wall_ms or 0) - now.wall_ms
    return later(now, ahead_ms) if ahead_ms > 0 else now


def problem_of_draft(
    draft: Draft,
    zero: Stamp,
    baths: Mapping[str, str] | None = None,
    learned: Learned = NOTHING,
) -> Problem:
    """The problem for the planner.

    Args:
        draft: the choices so far.
        zero: the moment the plan begins.
        baths: names of baths of the bath book, by station address.
        learned: your own times and rates.

    Raises:
        ProblemError: the draft contradicts itself.
        Refused: its recipes can't share a bench.
    """
    placed, assigned, enters = placed_draft(draft, baths, learned)
    releases = {part.name: part.later_s for part in draft.parts}
    away = away_windows(draft.away, zero, draft.hours_worked)
    return plan_problem(placed, assigned, releases, hands=draft.hands, away=away, enters=enters)


def placed_draft(
    draft: Draft, baths: Mapping[str, str] | None = None, learned: Learned = NOTHING
) -> tuple[Placed, list[tuple[str, str]], Mapping[str, int]]:
    """The recipes at their places with learned times, each part's recipe, and where it enters.

    Args:
        draft: the choices so far.
        baths: names of baths of the bath book, by station address.
        learned: your own times and rates.

    Raises:
        Refused: its recipes can't share a bench.
    """
    new = order_of(draft)
    at = check_layout(new.recipes, list(new.parts), new.properties, baths, draft.shop)
    placed = place_recipes(learned.applied(draft.recipes), at, draft.shop)
    assigned = [(part.name, part.recipe) for part in draft.parts]
    return placed, assigned, check_entries(new.recipes, new.parts, new.enters)


def problem_beside(
    draft: Draft,
    now: Stamp,
    shop: Shop,
    baths: Mapping[str, str] | None = None,
    learned: Learned = NOTHING,
) -> Problem:
    """The problem for the planner while work is in progress: draft and bench, with now as zero.

    Args:
        draft: the choices so far.
        now: the time.
        shop: what is on the bench.
        baths: names of baths of the bath book, by station address.
        learned: your own times and rates.

    Raises:
        ProblemError: the draft or the bench contradicts itself.
        Refused: its recipes can't share a bench.
    """
    ahead_s = -(-(zero_of(draft, now).noted_ms - now.noted_ms) // 1000)
    parts = tuple(replace(part, later_s=part.later_s + ahead_s) for part in draft.parts)
    alone = problem_of_draft(replace(draft, parts=parts), now, baths, learned)
    away = away_windows(away_of(shop), now, draft.hours_worked)
    return beside(shop, order_of(draft), alone, now.noted_ms, away, baths, draft.shop)


def order_of(draft: Draft) -> NewRun:
    """The run to set up."""
    return NewRun(
        title=" + ".join(recipe.title for recipe in draft.recipes.values())[:200],
        recipes={key: recipe_table(recipe) for key, recipe in draft.recipes.items()},
        parts=[(part.name, part.recipe) for part in draft.parts],
        properties={part.name: dict(part.properties) for part in draft.parts if part.properties},
        away=draft.away,
        adjustments=draft.changes,
        hands=draft.hands,
        enters={part.name: part.enters for part in draft.parts if part.enters is not None},
        counts={part.name: part.count for part in draft.parts if part.count > 1},
    )


def draft_of(new: NewRun, empty: Draft) -> Draft:
    """A run that is set up again, as a draft.

    Args:
        new: the run to set up.
        empty: a draft with what is known about the shop.
    """
    parts = tuple(
        DraftPart(name, key, new.properties.get(name, {}), enters=new.enters.get(name),
                  count=new.counts.get(name, 1))
        for name, key in new.parts
    )  # fmt: skip
    return replace(
        empty,
        recipes={key: recipe_from_table(table) for key, table in new.recipes.items()},
        parts=parts,
        hands=new.hands,
        away=new.away,
        changes=new.adjustments,
    )


def held_back(draft: Draft, zero: Stamp, now: Stamp) -> dict[str, int]:
    """Bench time before which each held-back part must not start.

    Args:
        draft: the draft.
        zero: both clocks at the start of the plan.
        now: both clocks now.
    """
    ahead_ms = zero.noted_ms - now.noted_ms
    times = {part.name: ahead_ms + part.later_s * 1000 for part in draft.parts}
    return {name: now.noted_ms + ms for name, ms in times.items() if ms > 0}
