"""The recipe format as a model: what a recipe file may say, and what each entry means.

A recipe is a TOML file. Quantities are strings with units. Unknown keys are errors. The
model checks one entry at a time; ``rules`` checks what entries say about each other.

Meaning of a step: hands-on work of about ``hands``; then its checks; then, if it has a
dwell, the part goes into the station ``at`` and stays there between ``least`` and
``most``. Steps follow each other without waiting, unless a dwell gives the part a place
to wait. What is looked at after a dwell is a check of the next step, because the part has
to be lifted for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from benchtimer.quantity import Quantity
from benchtimer.recipe.fields import (
    Amount,
    Id,
    Number,
    One,
    Reading,
    Seconds,
    SomeSeconds,
    Temperature,
    Text,
    Title,
    UnitSymbol,
    Volume,
    Whole,
)

_property = property  # two models below have a field of that name

SCHEMA = 1
"""The version of the recipe format that this program reads and writes."""

BUILT_IN_SOURCES = {
    "common-practice": "common practice, no source",
    "from-memory": "from memory, not checked",
    "own-trials": "the shop's own trials",
}
"""Sources that every recipe may name without listing them."""

MAX_STEPS = 200
MAX_ENTRIES = 100


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Property(_Entry):
    """What must be known of each part before a run, such as a blade's temper.

    Attributes:
        ask: the question that is asked for each part.
        kind: the kind of quantity; temperatures only so far.
    """

    id: Id
    ask: Title
    kind: Literal["temperature"] = "temperature"


class Source(_Entry):
    """Where figures come from: a standard, a handbook, a supplier's sheet."""

    id: Id
    cite: Text


class Window(_Entry):
    """Temperatures a station's bath is kept between, and how often somebody looks.

    Above ``ceiling`` nothing may go in until a lower reading is written down.
    """

    low: Temperature
    aim: Temperature | None = None
    high: Temperature
    ceiling: Temperature | None = None
    every_s: SomeSeconds | None = Field(default=None, alias="every")
    source: Id | None = None


class Station(_Entry):
    """A place that holds parts: a tank, a tray, a rack, the bench itself.

    ``hazard`` tells what must not meet: a run that has both acid and caustic says so.
    """

    id: Id
    title: Title
    holds: Whole = Field(default=1, ge=1, le=100)
    bath: Id | None = None
    hazard: Literal["acid", "caustic"] | None = None
    temperature: Window | None = None
    text: Text | None = None
    source: Id | None = None


def _listed(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


class Caution(_Entry):
    """A hazard with its gear, acknowledged before the step or station it guards."""

    before: Annotated[tuple[Id, ...], BeforeValidator(_listed), Field(min_length=1, max_length=20)]
    title: Title
    text: Text
    wear: tuple[Title, ...] = Field(default=(), max_length=20)
    first_aid: Text | None = None
    never: tuple[Title, ...] = Field(default=(), max_length=20)
    source: Id | None = None


class Ingredient(_Entry):
    """One thing that goes into a bath: an amount per volume, a share, or parts by volume."""

    what: Title
    amount: Amount | None = None
    parts: Number | None = Field(default=None, gt=0, le=10_000)
    source: Id | None = None


class Mix(_Entry):
    """What a bath is made of, for a vessel of ``volume``."""

    id: Id
    title: Title
    volume: Volume | None = None
    of: tuple[Ingredient, ...] = Field(min_length=1, max_length=30)
    text: Text | None = None
    source: Id | None = None


class OnNo(_Entry):
    """Where a check that went wrong sends the part, how often at most, how often usually.

    ``at_most`` counts the times this check sends the part back within one pass of any
    section around it; after that, and at once if it is 0, a no holds the part for the maker
    to decide. ``expect`` is the usual number of times, for the planner.
    """

    back_to: Id
    at_most: Whole = Field(ge=0, le=99)
    expect: Number = Field(default=0, ge=0, le=99)
    source: Id | None = None


class _Check(_Entry):
    id: Id
    ask: Title
    source: Id | None = None


class YesNo(_Check):
    """A question where yes means go on."""

    kind: Literal["yes-no"]
    on_no: OnNo | None = None


class CeilingFrom(_Entry):
    """A ceiling that hangs on the part: its own ``property`` less a ``margin``.

    The margin is a difference: ``"45 F"`` is as much as ``"25 C"``.
    """

    property: Id
    margin: Temperature
    source: Id | None = None


class ReadingCheck(_Check):
    """A figure read off and written down; outside ``low`` to ``high`` counts as no.

    Above ``ceiling`` the step can't be confirmed at all: correct it, hold or abort.
    """

    kind: Literal["reading"]
    unit: UnitSymbol | None = None
    low: Reading | None = None
    high: Reading | None = None
    ceiling: Reading | None = None
    ceiling_from: CeilingFrom | None = None
    on_no: OnNo | None = None

    @_property
    def unit_symbol(self) -> str:
        """The unit the figure is asked in."""
        limits = (self.low, self.high, self.ceiling)
        given = [limit.unit for limit in limits if limit is not None]
        return self.unit or (given[0] if given else "C")


class Choice(_Check):
    """One of a few answers; those in ``no`` count as no."""

    kind: Literal["choice"]
    options: tuple[Title, ...] = Field(min_length=2, max_length=9)
    no: tuple[Title, ...] = Field(default=(), max_length=9)
    on_no: OnNo | None = None


class NoteCheck(_Check):
    """A question answered in words."""

    kind: Literal["note"]


Check = Annotated[YesNo | ReadingCheck | Choice | NoteCheck, Field(discriminator="kind")]


class Dwell(_Entry):
    """Unattended time at a station; no ``most`` means no upper limit."""

    least_s: Seconds = Field(alias="least")
    aim_s: Seconds = Field(alias="aim")
    most_s: Seconds | None = Field(default=None, alias="most")
    source: Id | None = None


class Step(_Entry):
    """Hands-on work of about ``hands``, then its checks, then a dwell if it has one."""

    id: Id
    title: Title
    text: Text | None = None
    at: Id | None = None
    hands_s: SomeSeconds = Field(alias="hands")
    dwell: Dwell | None = None
    check: tuple[Check, ...] = Field(default=(), max_length=20)
    source: Id | None = None


class Lineage(_Entry):
    """Which run made this revision, what it changed, and what was said where it worked.

    Attributes:
        run: name of the run, and ``uid`` its identity on any machine.
        made_from: the recipe and revision that the run followed.
        part: the part that came out well, at its attempt number ``attempt``.
        changed: each setting with its old and new value.
        worked: answers and readings of that attempt, for whoever follows it.
    """

    run: Title
    uid: Title
    made_from: Title
    part: Text | None = None
    attempt: Whole | None = Field(default=None, ge=1)
    verdict: Title | None = None
    rating: Whole | None = Field(default=None, ge=1, le=5)
    changed: tuple[Text, ...] = Field(default=(), max_length=2 * MAX_STEPS)
    worked: tuple[Text, ...] = Field(default=(), max_length=2 * MAX_STEPS)


class Recipe(_Entry):
    """A whole recipe. ``id`` comes from the file's name unless the file says otherwise."""

    schema_: One = Field(alias="schema")
    id: Id
    title: Title
    revision: Whole = Field(default=1, ge=1, le=100_000)
    about: Text | None = None
    source: tuple[Source, ...] = Field(default=(), max_length=MAX_ENTRIES)
    property: tuple[Property, ...] = Field(default=(), max_length=20)
    station: tuple[Station, ...] = Field(default=(), max_length=MAX_ENTRIES)
    caution: tuple[Caution, ...] = Field(default=(), max_length=MAX_ENTRIES)
    mix: tuple[Mix, ...] = Field(default=(), max_length=MAX_ENTRIES)
    walk: dict[Id, dict[Id, Seconds]] = Field(default_factory=dict)
    step: tuple[Step, ...] = Field(min_length=1, max_length=MAX_STEPS)
    lineage: Lineage | None = None

    def step_index(self, step_id: str) -> int:
        """The place of a step in the order of work.

        Raises:
            KeyError: if the recipe has no such step.
        """
        for index, step in enumerate(self.step):
            if step.id == step_id:
                return index
        raise KeyError(step_id)

    def station_named(self, station_id: str) -> Station:
        """The station with this id.

        Raises:
            KeyError: if the recipe has no such station.
        """
        for station in self.station:
            if station.id == station_id:
                return station
        raise KeyError(station_id)

    def cautions_for(self, step: Step) -> Iterator[Caution]:
        """The cautions that guard a step, by its id or by its station's."""
        for caution in self.caution:
            if step.id in caution.before or (step.at is not None and step.at in caution.before):
                yield caution

    def walk_s(self, from_station: str, to_station: str) -> int:
        """Seconds from one station to another; the way back is as long unless told."""
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
        return BUILT_IN_SOURCES[source_id]


def is_no(check: YesNo | ReadingCheck | Choice | NoteCheck, answer: str | bool | Quantity) -> bool:
    """Whether an answer counts as no: a plain no, a bad choice, a reading out of its window."""
    if isinstance(check, YesNo):
        return answer is False
    if isinstance(check, Choice):
        return answer in check.no
    if isinstance(check, ReadingCheck) and isinstance(answer, Quantity):
        too_low = check.low is not None and answer.base < check.low.base - 1e-9
        too_high = check.high is not None and answer.base > check.high.base + 1e-9
        return too_low or too_high
    return False
