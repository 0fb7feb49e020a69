"""The shop's settings: what is true of the shop whatever the recipe.

One TOML file, made by ``benchtimer setup`` and meant to be edited by hand. Every key may
be left out; a missing file is a shop of which nothing is known. Reading and writing that
file is this module's job; where it lies is told by the caller.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationError,
)
from pydantic_core import ErrorDetails, PydanticCustomError

from benchtimer.bath.fatigue import Limits
from benchtimer.quantity import Quantity, nearest
from benchtimer.recipe.fields import Id, Length, Seconds, Share, Title, Volume, Whole
from benchtimer.recipe.lines import LineFinder
from benchtimer.recipe.problems import Problem, RecipeError, quoted
from benchtimer.trade.wheel import DIAMETER_RANGE_M

FILE_NAME = "settings.toml"
MAX_BYTES = 64 * 1024
DAY_MIN = 24 * 60


class SettingsError(RecipeError):
    """Everything that is wrong with the settings file, told like the problems of a recipe."""


@dataclass(frozen=True, slots=True)
class Away:
    """Hours of the day when usually nobody is in the shop.

    Attributes:
        from_min: minutes after midnight when they begin.
        to_min: minutes after midnight when they end; before ``from_min``, the next morning.
    """

    from_min: int
    to_min: int

    def __str__(self) -> str:
        return f"{_clock(self.from_min)}-{_clock(self.to_min)}"


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02}:{minutes % 60:02}"


_AWAY = re.compile(r"\s*(\d{1,2}):(\d\d)\s*-\s*(\d{1,2}):(\d\d)\s*", re.ASCII)


def _read_away(value: Any) -> Away:
    if isinstance(value, Away):
        return value
    match = _AWAY.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise _wrong("hours away go from one time of day to another", 'write them "22:00-07:00"')
    hours = [int(match[1]), int(match[3])]
    minutes = [int(match[2]), int(match[4])]
    start, end = (h * 60 + m for h, m in zip(hours, minutes, strict=True))
    if max(minutes) > 59 or max(start, end) > DAY_MIN or start in (end, DAY_MIN):
        raise _wrong("there are no such hours", "two different times from 00:00 to 24:00")
    return Away(start, end)


def _wrong(reason: str, allowed: str) -> PydanticCustomError:
    return PydanticCustomError(
        "quantity", "{reason}; {allowed}", {"reason": reason, "allowed": allowed}
    )


def _diameter(value: Quantity) -> Quantity:
    low, high = (Quantity(1000 * limit, "mm") for limit in DIAMETER_RANGE_M)
    if not low.base <= value.base <= high.base:
        raise _wrong("no wheel has that diameter", f"{low} to {high}")
    return value


def _more_than_nothing(value: Quantity) -> Quantity:
    if value.base <= 0:
        raise _wrong("a vessel holds more than nothing", 'write it like "6 L" or "2 gal"')
    return value


AwayHours = Annotated[Away, BeforeValidator(_read_away), PlainSerializer(str, return_type=str)]
Wheel = Annotated[Length, AfterValidator(_diameter)]
Vessel = Annotated[Volume, AfterValidator(_more_than_nothing)]


class _Table(BaseModel):
    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, arbitrary_types_allowed=True
    )


class BathLimits(_Table):
    """When this shop calls a bath of one mix old or tired: its own limits, from its own record.

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
    def limits(self) -> Limits:
        """The limits in plain numbers."""
        most = self.max_exhaustion
        return Limits(
            self.max_age_s,
            self.max_parts,
            self.max_dwell_s,
            None if most is None else most.base / 100,
        )


class Settings(_Table):
    """What is known of the shop.

    Attributes:
        altitude: height above the sea; decides where water and salts boil.
        units: what the maker reads and weighs in: US customary or metric.
        hands: people who usually work.
        away: hours when usually nobody is there.
        wheels: diameters of the buffing and polishing wheels at hand.
        by: who usually presses the keys.
        vessels: volume of the vessel each mix goes into, by mix id.
        bath: the shop's limits for its baths, by mix id.
    """

    altitude: Length | None = None
    units: Literal["us", "si"] = "si"
    hands: Whole = Field(default=1, ge=1, le=20)
    away: tuple[AwayHours, ...] = Field(default=(), max_length=12)
    wheels: tuple[Wheel, ...] = Field(default=(), max_length=30)
    by: Title | None = None
    vessels: dict[Id, Vessel] = Field(default_factory=dict)
    bath: dict[Id, BathLimits] = Field(default_factory=dict)

    @property
    def limits(self) -> dict[str, Limits]:
        """The limits of the baths by mix id."""
        return {mix: told.limits for mix, told in self.bath.items()}

    @property
    def figures(self) -> dict[str, str]:
        """What figures of the trade take from the shop, by parameter name."""
        return {} if self.altitude is None else {"altitude": str(self.altitude)}


def read_settings(path: Path) -> Settings:
    """The settings in a file; the defaults if there is no such file.

    Raises:
        SettingsError: with every problem of the file, each with its line.
    """
    text = settings_text(path)
    return Settings() if text is None else parse_settings(text, str(path))


def settings_text(path: Path) -> str | None:
    """The text of the settings file; None if there is no such file.

    Raises:
        SettingsError: it can't be read.
    """
    name = str(path)
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        return None
    except OSError as error:
        reason = error.strerror or "it can't be read"
        raise _one(name, f"the file can't be read: {reason}", "check the path") from None
    if len(raw) > MAX_BYTES:
        raise _one(name, f"it is larger than {MAX_BYTES // 1024} KiB", "settings are a short text")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _one(name, "it is not UTF-8 text", "save it as UTF-8", line) from None


def parse_settings(text: str, name: str) -> Settings:
    """The settings in a TOML text.

    Args:
        text: the text of the file.
        name: what messages call it.

    Raises:
        SettingsError: with every problem.
    """
    data = parse_table(text, name)
    try:
        return Settings.model_validate(data)
    except ValidationError as error:
        finder = LineFinder(text)
        details = error.errors(include_url=False)
        raise SettingsError(name, [_problem(d, finder) for d in details]) from None


def parse_table(text: str, name: str) -> dict[str, Any]:
    """The plain table of a TOML text.

    Raises:
        SettingsError: it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _one(name, "it is nested too deeply", "settings are two levels deep") from None
    except ValueError as error:
        words = "".join(c if c.isprintable() else "?" for c in str(error))[:200]
        at = re.search(r"line (\d+)", words)
        line = int(at[1]) if at else None
        raise _one(name, f"it is not TOML: {words}", "see toml.io", line) from None


def _one(name: str, found: str, allowed: str, line: int | None = None) -> SettingsError:
    return SettingsError(name, [Problem("the file", found, allowed, line=line)])


_WANTED = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "dict_type": "a table",
    "model_type": "a table",
    "tuple_type": "a list, like [...]",
    "literal_error": '"us" or "si"',
}


def _problem(detail: ErrorDetails, finder: LineFinder) -> Problem:
    path = tuple(part for part in detail["loc"] if part != "[key]")
    words = [f"number {part + 1}" if isinstance(part, int) else str(part) for part in path]
    where = ", ".join(quoted(word)[1:-1] for word in words) or "the file"
    line = finder.line_of(path)
    found, kind = quoted(detail["input"]), detail["type"]
    if kind == "extra_forbidden":
        known = known_keys(tuple(str(part) for part in path[:-1]))
        key = str(path[-1])
        owner = ", ".join(words[:-1]) or "the file"
        return Problem(
            owner, f"unknown key {quoted(key)}", f"known here: {', '.join(known)}", line,
            nearest(key, known),
        )  # fmt: skip
    if kind in _WANTED:
        return Problem(where, f"{found} stands here", f"{_WANTED[kind]} is wanted", line)
    if kind == "string_pattern_mismatch":
        return Problem(where, found, "small letters, digits and -, 40 at most", line)
    reason, mark, allowed = detail["msg"].partition("; ")
    if mark:
        return Problem(where, f"{found}: {reason}", allowed, line)
    said = detail["msg"][:1].lower() + detail["msg"][1:]
    return Problem(where, f"{found} stands here", said, line)


def known_keys(path: tuple[str, ...]) -> list[str]:
    """The keys that the table at a path may have; none where any mix id may stand."""
    model: type[BaseModel] | None = Settings if not path else None
    if len(path) == 2 and path[0] == "bath":
        model = BathLimits
    fields: Mapping[str, Any] = model.model_fields if model is not None else {}
    return [field.alias or name for name, field in fields.items()]
