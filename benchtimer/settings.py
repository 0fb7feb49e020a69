"""The shop's settings: what is true of the shop for every recipe.

One TOML file, made by ``benchtimer settings`` and meant to be edited by hand. Every key is
optional; a missing file means that nothing is known about the shop. This module reads and writes
the file; the caller knows where it is.
"""

from __future__ import annotations

import os
import shlex
import stat
import sys
from collections.abc import Mapping
from itertools import combinations
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    StrictBool,
    ValidationError,
    WithJsonSchema,
)

from benchtimer.bath.bath_wear import WearLimits
from benchtimer.quantity import Quantity, QuantityError, parse_hours
from benchtimer.recipe.fields import Id, Length, Seconds, Share, Title, Volume, Whole, wrong
from benchtimer.recipe.json_schema import published
from benchtimer.recipe.line_finder import LineFinder
from benchtimer.recipe.loading import load
from benchtimer.recipe.places import ShopPlace
from benchtimer.recipe.problems import RecipeError, RecipeProblem
from benchtimer.recipe.reader import read_start
from benchtimer.recipe.shapes import shape_problems
from benchtimer.shop.hours import Hours, parse_closed, parse_week
from benchtimer.times import TimeError, minute_of_day
from benchtimer.trade.wheel import DIAMETER_RANGE_M
from benchtimer.values import dataclass, replace

SCHEMA_NAME = "settings.schema.json"
"""The schema file next to the settings, which name it on their first line."""


class SettingsError(RecipeError):
    """Everything wrong with the settings file, in the same form as a recipe's problems."""


@dataclass(frozen=True, slots=True)
class DailyAway:
    """Hours of the day when you are usually away.

    Attributes:
        from_min: minutes after midnight when they begin.
        to_min: minutes after midnight when they end; before ``from_min``, the next morning.
    """

    from_min: int
    to_min: int

    def __str__(self) -> str:
        return f"{minute_of_day(self.from_min)}-{minute_of_day(self.to_min)}"


def _read_away(value: Any) -> DailyAway:
    if not isinstance(value, str):
        raise wrong("hours away are text in quotes", 'write them "22:00-07:00"')
    try:
        return DailyAway(*parse_hours(value))
    except QuantityError as error:
        raise wrong(error.reason, error.allowed) from None


def _diameter(value: Quantity) -> Quantity:
    low, high = (Quantity(1000 * limit, "mm") for limit in DIAMETER_RANGE_M)
    if not low.base <= value.base <= high.base:
        raise wrong("no wheel has that diameter", f"{low} to {high}")
    return value


def _named(command: tuple[str, ...]) -> tuple[str, ...]:
    if not (command and command[0].strip()):
        allowed = 'name one, like ["/usr/local/bin/tell-me"], or leave the key out for none'
        raise wrong("the alarm command has no program", allowed)
    return command


AwayHours = Annotated[
    DailyAway,
    BeforeValidator(_read_away),
    PlainSerializer(str, return_type=str),
    WithJsonSchema({"type": "string", "examples": ["22:00-07:00"]}),
]
Wheel = Annotated[Length, AfterValidator(_diameter)]


def _work_hours(text: str) -> str:
    try:
        parse_week(text)
    except TimeError as error:
        raise wrong(f'"{text}" {error.reason}', error.allowed) from None
    return text


def _closed_dates(text: str) -> str:
    try:
        parse_closed((text,))
    except TimeError as error:
        raise wrong(f'"{text}" {error.reason}', error.allowed) from None
    return text


WorkHours = Annotated[str, AfterValidator(_work_hours), Field(max_length=500)]
ClosedDates = Annotated[str, AfterValidator(_closed_dates), Field(max_length=30)]


class _Table(BaseModel):
    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=True,
        arbitrary_types_allowed=True,
        defer_build=True,
    )


class BathLimits(_Table):
    """When this shop considers a bath of one mix old or spent: its own limits, from its own
    records.

    Attributes:
        max_age_s: oldest, since it was mixed.
        max_parts: most parts through it.
        max_dwell_s: most time of parts in it, all parts added up.
        max_exhaustion: largest share of a ferric chloride bath used up, by estimate.
    """

    max_age_s: Seconds | None = Field(default=None, alias="max_age", ge=1)
    max_parts: Whole | None = Field(default=None, ge=1, le=1_000_000)
    max_dwell_s: Seconds | None = Field(default=None, alias="max_dwell", ge=1)
    max_exhaustion: Share | None = None

    @property
    def limits(self) -> WearLimits:
        """The limits in plain numbers."""
        most = self.max_exhaustion
        return WearLimits(
            self.max_age_s,
            self.max_parts,
            self.max_dwell_s,
            None if most is None else most.base / 100,
        )


def _address(text: str) -> str:
    recipe, dot, station = text.partition(".")
    if not (recipe and dot and station):
        raise wrong(f'"{text}" names no station of a recipe', 'like "hot-black.salts"')
    return text


class PlaceSettings(_Table):
    """A real tank, rack or sink of the shop, and the recipe stations there.

    Attributes:
        title: its name on the screen.
        holds: parts it has room for; a recipe can allow fewer.
        stations: the stations, as ``RECIPE.STATION``.
    """

    title: Title | None = None
    holds: Whole | None = Field(default=None, ge=1, le=1000)
    stations: tuple[Annotated[str, AfterValidator(_address)], ...] = Field(
        default=(), alias="for", max_length=200
    )


def _one_place_each(places: dict[str, PlaceSettings]) -> dict[str, PlaceSettings]:
    for (one, first), (other, second) in combinations(places.items(), 2):
        both = [at for at in first.stations if at in second.stations]
        if both:
            raise wrong(
                f"{both[0]} is listed under two places, {one} and {other}",
                "list it under one of them",
            )
    return places


class AlarmSettings(_Table):
    """What the shop does about an alarm besides the bell.

    Attributes:
        command: a program and its arguments; the message is added as the last one. It is started
            without a shell, and its failure does no harm.
        tone: play a tone through the system's own player.
        notice: ask the terminal for a desktop notice, by the OSC command of this number.
    """

    command: Annotated[
        tuple[Annotated[str, Field(min_length=1, max_length=4096)], ...],
        Field(max_length=64),
        AfterValidator(_named),
    ] = ()
    tone: StrictBool = True
    notice: Literal["off", "9", "777", "99"] = "off"


class ScreenSettings(_Table):
    """How the screen looks in this shop.

    Attributes:
        theme: dim, bright or contrast.
        text: ``ascii`` for a terminal without box characters, ``full`` for one that has
            them, ``auto`` to follow the terminal's locale.
    """

    theme: Literal["dim", "bright", "contrast"] = "dim"
    text: Literal["auto", "ascii", "full"] = "auto"


class Settings(_Table):
    """What is known about the shop.

    Attributes:
        altitude: height above sea level; decides where water and salts boil.
        units: what the maker reads and weighs in: US customary or metric; if it is left out,
            temperatures are as each recipe writes them.
        clock: 12 or 24, for times of day.
        hands: people who usually work.
        away: hours when you are usually away.
        hours: when you work, by weekday.
        closed: dates on which you don't, or ranges of them.
        wheels: diameters of the available buffing and polishing wheels.
        by: who usually presses the keys.
        vessels: volume of the vessel each mix goes into, by mix id.
        bath: the shop's limits for its baths, by mix id.
        place: the shop's real places, by an id of your own.
        alarm: what else happens at an alarm.
        screen: how the screen looks.
        keep_awake: keep the computer from going to sleep while parts are in process.
        learn_from: which runs teach times and rates besides your own real ones: practice, imported.
    """

    altitude: Length | None = None
    units: Literal["us", "si"] | None = None
    clock: Literal[12, 24] = 24
    hands: Whole = Field(default=1, ge=1, le=20)
    away: tuple[AwayHours, ...] = Field(default=(), max_length=12)
    hours: WorkHours = ""
    closed: tuple[ClosedDates, ...] = Field(default=(), max_length=100)
    wheels: tuple[Wheel, ...] = Field(default=(), max_length=30)
    by: Title | None = None
    vessels: dict[Id, Volume] = Field(default_factory=dict)
    bath: dict[Id, BathLimits] = Field(default_factory=dict)
    place: Annotated[dict[Id, PlaceSettings], AfterValidator(_one_place_each)] = Field(
        default_factory=dict
    )
    alarm: AlarmSettings = Field(default_factory=AlarmSettings)
    screen: ScreenSettings = Field(default_factory=ScreenSettings)
    keep_awake: StrictBool = True
    learn_from: tuple[Literal["practice", "imported"], ...] = Field(default=(), max_length=2)

    @property
    def degrees(self) -> str:
        """The unit in which temperatures are shown and typed; empty for the recipes' own."""
        return {"us": "F", "si": "C"}.get(self.units or "", "")

    @property
    def work_hours(self) -> Hours:
        """The shop's hours, less the days it is closed."""
        return replace(parse_week(self.hours), closed=parse_closed(self.closed))

    @property
    def limits(self) -> dict[str, WearLimits]:
        """The limits of the baths by mix id."""
        return {mix: bath.limits for mix, bath in self.bath.items()}

    @property
    def places(self) -> tuple[ShopPlace, ...]:
        """The shop's places, in the order of the file."""
        return tuple(
            ShopPlace(name, table.title or "", table.holds, table.stations)
            for name, table in self.place.items()
        )

    @property
    def figures(self) -> dict[str, str]:
        """What shop calculations take from the settings, by parameter name."""
        return {} if self.altitude is None else {"altitude": str(self.altitude)}


def read_settings(path: Path) -> Settings:
    """The settings in a file; the defaults if there is no such file.

    Raises:
        SettingsError: with every problem of the file, each with its line.
    """
    text = settings_text(path)
    return Settings() if text is None else parse_settings(text, str(path))


def settings_text(path: Path) -> str | None:
    """The settings file's text with its line endings; None if there is no such file.

    Raises:
        SettingsError: it can't be read, others can write it, or it is not TOML.
    """
    name = str(path)
    try:
        raw = read_start(path)
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte in it
        reason = getattr(error, "strerror", None) or "no file can have that name"
        problem = RecipeProblem("the file", f"it can't be read: {reason}", "check the path")
        raise SettingsError(name, [problem]) from None
    _want_own(path, name)
    _load(raw, name)
    return raw.decode("utf-8")


def _want_own(path: Path, name: str) -> None:
    """Refuse a file that others can write or replace: it can name a program to run as you.

    Windows has different permissions, which are not checked.

    Raises:
        SettingsError: with how to remove the permission.
    """
    if sys.platform != "win32":
        try:
            file, folder = path.stat(), path.parent.stat()
        except OSError:
            return  # it no longer exists
        message = ""
        if file.st_uid not in (0, os.geteuid()):
            message = f"it belongs to user {file.st_uid}, and it could run a program as you"
            way_out = "make a file of your own in its place"
        elif file.st_mode & _OTHERS_WRITE:
            message = "others can change it, and it could run a program as you"
            way_out = f"chmod go-w {shlex.quote(name)}"
        elif folder.st_mode & _OTHERS_WRITE and not folder.st_mode & stat.S_ISVTX:
            message = "others can replace it, and it could run a program as you"
            way_out = f"chmod go-w {shlex.quote(str(path.parent))}"
        if message:
            raise SettingsError(name, [RecipeProblem("the file", message, way_out)])


_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH


def parse_settings(text: str, name: str) -> Settings:
    """The settings in a TOML text.

    Args:
        text: the text of the file.
        name: what messages call it.

    Raises:
        SettingsError: with every problem.
    """
    data, plain = _load(text.encode(), name)
    try:
        return Settings.model_validate(data)
    except ValidationError as error:
        finder = LineFinder(plain)
        found = shape_problems(error, data, lambda loc: known_keys(loc[:-1]))
        problems = [replace(problem, line=finder.line_of(path)) for path, problem in found]
        raise SettingsError(name, problems) from None


def parse_table(text: str, name: str) -> dict[str, Any]:
    """The plain table of a TOML text.

    Raises:
        SettingsError: it is not TOML.
    """
    return _load(text.encode(), name)[0]


def _load(raw: bytes, name: str) -> tuple[dict[str, Any], str]:
    try:
        return load(raw, name)
    except RecipeError as error:
        raise SettingsError(error.name, error.problems) from None


def settings_schema() -> dict[str, Any]:
    """The JSON Schema of the settings file, for editors."""
    return published(Settings, "benchtimer settings")


def model_of(path: tuple[str | int, ...]) -> type[BaseModel] | None:
    """The model for the table at a path;

    None if any id is allowed there, or if it is not a table.
    """
    if len(path) == 2 and path[0] in _BY_ID:
        return _BY_ID[path[0]]
    models: dict[tuple[str | int, ...], type[BaseModel]] = {
        (): Settings, ("alarm",): AlarmSettings, ("screen",): ScreenSettings,
    }  # fmt: skip
    return models.get(path)


_BY_ID: Mapping[str | int, type[BaseModel]] = {"bath": BathLimits, "place": PlaceSettings}
"""Tables with a table for each id."""


def known_keys(path: tuple[str | int, ...]) -> list[str]:
    """The possible keys of the table at a path; none if any id is allowed."""
    model = model_of(path)
    fields: Mapping[str, Any] = model.model_fields if model is not None else {}
    return [field.alias or name for name, field in fields.items()]
