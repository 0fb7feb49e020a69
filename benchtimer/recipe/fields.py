"""Field types of the recipe format: quantities, ids and text as people write them.

Each type reads a string, keeps a checked value, writes a string back, and gives JSON Schema the
pattern of such a string.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer, WithJsonSchema
from pydantic_core import PydanticCustomError

from benchtimer.quantity import (
    KINDS,
    MAX_TEXT,
    Quantity,
    QuantityError,
    did_you_mean,
    parse,
    parse_duration,
    pattern,
)
from benchtimer.times import duration

_T = TypeVar("_T")

ID_PATTERN = r"^[a-z0-9][a-z0-9-]{0,39}$"
"""Ids are short, lower case and safe in a file name, a command line and a log."""

_UNSAFE = ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")
_COMMON = {"\t": " (a tab)", "\n": " (a line break)", "\ufeff": " (a byte-order mark)"}


def unsafe_character(text: str, *, lines: bool = False) -> str | None:
    """The name of the first character that could garble a screen, or None.

    Control codes, bidirectional marks, surrogates and private-use characters are not allowed in a
    title; a line break is allowed if ``lines`` is true.
    """
    if text.isprintable():  # none of the categories below, and fast to check
        return None
    for char in text:
        if char == "\n" and lines:
            continue
        if unicodedata.category(char) in _UNSAFE and char != "\u200d":
            return f"U+{ord(char):04X}{_COMMON.get(char, '')}"
    return None


def _plain(text: str) -> str:
    return _check_text(text, lines=False)


def _plain_lines(text: str) -> str:
    return _check_text(text, lines=True)


def _check_text(text: str, *, lines: bool) -> str:
    bad = unsafe_character(text, lines=lines)
    if bad is not None:
        raise wrong(f"the character {bad} could garble the screen", "leave it out")
    if not text.strip():
        raise wrong("the text is empty", "write a few words")
    return text


def wrong(reason: str, allowed: str) -> PydanticCustomError:
    """The two parts of a field's error, which the reader puts into a ``Problem``."""
    return PydanticCustomError(
        "worded", "{reason}; {allowed}", {"reason": reason, "allowed": allowed}
    )


def _read(reader: Callable[[str], _T], value: object, kind: str) -> _T:
    if not isinstance(value, str):
        raise wrong(f"a {kind} is text in quotes", f"write it like {KINDS[kind].example}")
    try:
        return reader(value)
    except QuantityError as error:
        raise wrong(error.reason, error.allowed) from None


def _read_duration(value: object) -> int:
    return _read(parse_duration, value, "time")


def _some_time(seconds: int) -> int:
    if seconds < 1:
        raise wrong("it is not a time", "at least 1 s")
    return seconds


def _quantity(*kinds: str, positive: bool = False) -> Any:
    """A field type for a ``Quantity`` of one of the kinds."""

    def read(value: object) -> Quantity:
        quantity = _read(lambda text: _parse_any(text, kinds), value, kinds[0])
        if positive and quantity.base <= 0:
            raise wrong("it is zero or less", "give more than 0")
        return quantity

    union = "|".join(f"({pattern(kind)})" for kind in kinds)
    shape = {"type": "string", "maxLength": MAX_TEXT, "pattern": union}
    return Annotated[
        Quantity,
        BeforeValidator(read),
        PlainSerializer(str, return_type=str),
        WithJsonSchema(shape | {"examples": [_example(kinds[0])]}),
    ]


def _parse_any(text: str, kinds: tuple[str, ...]) -> Quantity:
    if len(kinds) == 1:
        return parse(text, kinds[0])
    quantity = parse(text)
    if quantity.kind.name not in kinds:
        raise QuantityError(
            text,
            kinds[0],
            f'"{quantity.unit}" is a unit of {quantity.kind.name}',
            f"use a {' or '.join(kinds)}",
        )
    return quantity


def _known_unit(symbol: str) -> str:
    if symbol in READING_UNITS:
        return symbol
    question = did_you_mean(symbol, READING_UNITS)
    hint = f", {question}" if question else ""
    raise wrong(f"it is not a unit of a reading{hint}", f"one of {', '.join(READING_UNITS)}")


def _example(kind: str) -> str:
    return KINDS[kind].example.split('"')[1]


READING_KINDS = (
    "temperature",
    "acidity",
    "strength",
    "share",
    "length",
    "mass",
    "volume",
    "concentration",
    "time",
    "rotation",
    "speed",
    "angle",
)
"""What you can measure and record at the bench."""

READING_UNITS = tuple(symbol for kind in READING_KINDS for symbol in KINDS[kind].units)
"""The units of such readings."""

_DURATION = {
    "type": "string",
    "maxLength": MAX_TEXT,
    "pattern": pattern("time"),
    "examples": ["1 h 30 min"],
}
Seconds = Annotated[
    int,
    BeforeValidator(_read_duration),
    PlainSerializer(duration, return_type=str),
    WithJsonSchema(_DURATION),
]
SomeSeconds = Annotated[Seconds, AfterValidator(_some_time), WithJsonSchema(_DURATION)]
Temperature = _quantity("temperature")
Volume = _quantity("volume", positive=True)
Amount = _quantity("concentration", "dose", "mass", "volume", "share", positive=True)
UnitSymbol = Annotated[
    str,
    AfterValidator(_known_unit),
    WithJsonSchema({"type": "string", "enum": list(READING_UNITS)}),
]
TemperatureUnit = Literal["C", "F"]
Reading = _quantity(*READING_KINDS)


def _not_true(value: object) -> object:
    """Python accepts true as 1; a recipe doesn't."""
    if isinstance(value, bool):
        raise wrong("it is not a number", "write 1")
    return value


One = Annotated[Literal[1], BeforeValidator(_not_true)]
Whole = Annotated[int, Field(strict=True)]
Number = Annotated[float, Field(strict=True)]
Id = Annotated[str, Field(pattern=ID_PATTERN)]
Title = Annotated[str, Field(max_length=120), AfterValidator(_plain)]
MAX_SHORT = 8
"""The number of letters of a place's name that fit on the large line."""

ShortName = Annotated[str, Field(max_length=MAX_SHORT), AfterValidator(_plain)]
Text = Annotated[str, Field(max_length=4000), AfterValidator(_plain_lines)]

# For the shop's settings, which have the same syntax.
Length = _quantity("length")
Share = _quantity("share")
