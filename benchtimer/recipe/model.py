"""The recipe format as a model: what a recipe file may say, and what each entry means.

A recipe is a TOML file. Quantities are strings with units. Unknown keys are errors. The
model checks one entry at a time; ``rules`` checks what entries say about each other.

Meaning of a step: hands-on work of about ``hands``; then its checks; then, if it has a
dwell, the part goes into the station ``at`` and stays there between ``min`` and
``max``. Steps follow each other without waiting, unless a dwell gives the part a place
to wait. A check after a dwell belongs to the next step, because the part has to be pulled for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from benchtimer.recipe.checks import Check, RecipeEntry, SendRoute
from benchtimer.recipe.fields import (
    MAX_SHORT,
    Amount,
    Id,
    Number,
    One,
    Seconds,
    ShortName,
    SomeSeconds,
    Temperature,
    TemperatureUnit,
    Text,
    Title,
    Volume,
    Whole,
)
from benchtimer.trade.compatibility import Chemistry
from benchtimer.trade.dangers import Level

_property = property  # the recipe has a field with that name

SCHEMA = 1
"""The version of the recipe format that this program reads and writes."""

BUILT_IN_SOURCES = {
    "common-practice": "common practice, no source",
    "from-memory": "from memory, not checked",
    "own-tests": "the shop's own tests",
}
"""Sources that every recipe can name without listing them."""

MAX_STEPS = 200
MAX_ENTRIES = 100


class Property(RecipeEntry):
    """What you must know before a run, about each part or about a mix.

    Attributes:
        ask: the question; for each part, or once for the mix.
        of: the mix it belongs to, such as the oil with its flash point; without it, the question is
            about each part.
        unit: the unit in which a mix's figure is typed at the bench.
        min: a mix below this can't be used, such as an oil with a low flash point.
        kind: the kind of quantity; temperatures only so far.
        source: where ``min`` comes from.
    """

    id: Id
    ask: Title
    of: Id | None = None
    unit: TemperatureUnit = "C"
    min: Temperature | None = None
    kind: Literal["temperature"] = "temperature"
    source: Id | None = None


class Source(RecipeEntry):
    """The source of a figure: a standard, a handbook, a supplier's sheet."""

    id: Id
    cite: Text


class Window(RecipeEntry):
    """Temperatures a station's bath is kept between, and how often it is read.

    Above ``ceiling``, nothing can go in until a lower reading is recorded.
    """

    min: Temperature
    target: Temperature | None = None
    max: Temperature
    ceiling: Temperature | None = None
    every_s: SomeSeconds | None = Field(default=None, alias="every")
    source: Id | None = None


class MakeUp(RecipeEntry):
    """What a bath needs from time to time, such as water to replace what boiled off.

    The station takes no parts during this time: it cools for ``cool``, you work for ``hands``, and
    it heats up again for the station's ``heat_up``.

    Attributes:
        after_s: time at heat after which it is needed.
        text: what to do.
    """

    after_s: SomeSeconds = Field(alias="after")
    cool_s: Seconds = Field(alias="cool")
    hands_s: SomeSeconds = Field(alias="hands")
    text: Text
    source: Id | None = None


class Station(RecipeEntry):
    """A place that holds parts: a tank, a tray, a rack, the bench itself.

    Attributes:
        short: a name of at most eight letters for the large line.
        purpose: a ``rinse`` or ``neutralizer`` takes a part at any time: it makes wet parts
            safe, so no reading or unread page ever keeps a part out of it.
        chemistry: what it contains, to keep apart what must not meet.
        heat_up_s: time from cold to ready.
        too_hot: what to do when a reading is above its window, and ``too_cold`` below. A
            ``too_hot`` with "pull" takes the parts out at once, with "at its min" then.
        make_up: what the bath needs from time to time.
    """

    id: Id
    title: Title
    short: ShortName | None = None
    holds: Whole = Field(default=1, ge=1, le=100)
    bath: Id | None = None
    purpose: Literal["rinse", "neutralizer"] | None = None
    chemistry: tuple[Chemistry, ...] = Field(default=(), max_length=10)
    temperature: Window | None = None
    heat_up_s: SomeSeconds | None = Field(default=None, alias="heat_up")
    too_hot: Text | None = None
    too_cold: Text | None = None
    make_up: MakeUp | None = None
    text: Text | None = None
    source: Id | None = None

    @property
    def short_name(self) -> str:
        """The name on the large line: ``short``, or the id if it is short, or empty."""
        return self.short or (self.id.upper() if len(self.id) <= MAX_SHORT else "")


def _listed(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


class Hazard(RecipeEntry):
    """A hazard with its gear, acknowledged before the step, station or mix it applies to.

    Attributes:
        level: the signal word of ANSI Z535 (``trade.dangers``); the worst one if none is given.
    """

    before: Annotated[tuple[Id, ...], BeforeValidator(_listed), Field(min_length=1, max_length=20)]
    level: Level = "danger"
    title: Title
    text: Text
    wear: tuple[Title, ...] = Field(default=(), max_length=20)
    first_aid: Text | None = None
    never: tuple[Title, ...] = Field(default=(), max_length=20)
    source: Id | None = None


class Ingredient(RecipeEntry):
    """One thing that goes into a bath: an amount per volume, a share, or parts by volume.

    Attributes:
        what: the substance and nothing else; it is printed right after the amount.
        note: anything else about it: its grade, its form, when it goes in.
    """

    what: Title
    note: Title | None = None
    amount: Amount | None = None
    parts: Number | None = Field(default=None, gt=0, le=10_000)
    source: Id | None = None


class Mix(RecipeEntry):
    """What a bath is made of, for a vessel of ``volume``."""

    id: Id
    title: Title
    chemistry: tuple[Chemistry, ...] = Field(default=(), max_length=10)
    volume: Volume | None = None
    of: tuple[Ingredient, ...] = Field(min_length=1, max_length=30)
    text: Text | None = None
    source: Id | None = None


class Dwell(RecipeEntry):
    """Unattended time at a station; no ``max`` means no upper limit."""

    min_s: Seconds = Field(alias="min")
    target_s: Seconds = Field(alias="target")
    max_s: Seconds | None = Field(default=None, alias="max")
    source: Id | None = None

    @property
    def is_rest(self) -> bool:
        """Whether it is a place to wait: it has no end, or its target is zero."""
        return self.max_s is None or self.target_s == 0


class Step(RecipeEntry):
    """Hands-on work of about ``hands``, then its checks, then a dwell if it has one.

    Attributes:
        rinse: the work rinses the part, so that none of the previous bath is carried over.
    """

    id: Id
    title: Title
    text: Text | None = None
    at: Id | None = None
    hands_s: SomeSeconds = Field(alias="hands")
    rinse: bool = False
    dwell: Dwell | None = None
    check: tuple[Check, ...] = Field(default=(), max_length=20)
    source: Id | None = None


class Lineage(RecipeEntry):
    """The run that made this revision, what it changed, and the answers when it worked.

    Attributes:
        run: name of the run, and ``uid`` its identity on any machine.
        made_from: the recipe and revision that the run followed.
        part: the part that came out well, and ``try_number`` which of its tries in that run.
        changed: each setting with its old and new value.
        worked: answers and readings of that try, for the next run.
        rests_on: how many tries it is based on, and which.
    """

    run: Title
    uid: Title
    made_from: Title
    part: Text | None = None
    try_number: Whole | None = Field(default=None, ge=1, alias="try")
    verdict: Title | None = None
    rating: Whole | None = Field(default=None, ge=1, le=5)
    changed: tuple[Text, ...] = Field(default=(), max_length=2 * MAX_STEPS)
    worked: tuple[Text, ...] = Field(default=(), max_length=2 * MAX_STEPS)
    rests_on: Text | None = None


class Recipe(RecipeEntry):
    """A whole recipe. ``id`` comes from the file's name unless the file has one."""

    schema_: One = Field(alias="schema")
    id: Id
    title: Title
    revision: Whole = Field(default=1, ge=1, le=100_000)
    about: Text | None = None
    source: tuple[Source, ...] = Field(default=(), max_length=MAX_ENTRIES)
    property: tuple[Property, ...] = Field(default=(), max_length=20)
    station: tuple[Station, ...] = Field(default=(), max_length=MAX_ENTRIES)
    hazard: tuple[Hazard, ...] = Field(default=(), max_length=MAX_ENTRIES)
    mix: tuple[Mix, ...] = Field(default=(), max_length=MAX_ENTRIES)
    walk: dict[Id, dict[Id, Seconds]] = Field(default_factory=dict)
    step: tuple[Step, ...] = Field(min_length=1, max_length=MAX_STEPS)
    lineage: Lineage | None = None

    def step_index(self, step_id: str) -> int:
        """The index of a step in the order of work.

        Raises:
            KeyError: if the recipe has no such step.
        """
        for index, step in enumerate(self.step):
            if step.id == step_id:
                return index
        raise KeyError(step_id)

    @_property
    def part_properties(self) -> tuple[Property, ...]:
        """What you must know about each part."""
        return tuple(prop for prop in self.property if prop.of is None)

    @_property
    def ways(self) -> tuple[SendRoute, ...]:
        """Every send of the recipe, in the order of its steps."""
        return tuple(
            SendRoute(i, f"{step.id}/{check.id}/{answer}", answer, send,
                None if send.to is None else self.step_index(send.to))
            for i, step in enumerate(self.step)
            for check in step.check
            for answer, send in check.send.items()
        )  # fmt: skip

    def station_named(self, station_id: str) -> Station:
        """The station with this id.

        Raises:
            KeyError: if the recipe has no such station.
        """
        for station in self.station:
            if station.id == station_id:
                return station
        raise KeyError(station_id)

    def hazards_for(self, step: Step) -> Iterator[Hazard]:
        """The hazards for a step, by its id or its station's."""
        for hazard in self.hazard:
            if step.id in hazard.before or (step.at is not None and step.at in hazard.before):
                yield hazard

    def walk_s(self, from_station: str, to_station: str) -> int:
        """Seconds from one station to another; the way back takes as long unless given."""
        there = self.walk.get(from_station, {}).get(to_station)
        back = self.walk.get(to_station, {}).get(from_station)
        return there if there is not None else back if back is not None else 0

    def citation(self, source_id: str | None) -> str:
        """The words to print for a source id, or "no source given"."""
        if source_id is None:
            return "no source given"
        for source in self.source:
            if source.id == source_id:
                return source.cite
        # A recipe in an old log may name a source that has since been renamed.
        return BUILT_IN_SOURCES.get(source_id, source_id)
