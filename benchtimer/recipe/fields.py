"""Field types of the recipe format: quantities, ids and texts as people write them.

Each type reads a string, keeps a checked value, writes a string back, and tells a JSON
Schema validator the pattern that such a string follows.
"""

from __future__ import annotations

import unicodedata
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer, WithJsonSchema
from pydantic_core import PydanticCustomError

from benchtimer.quantity import (
    KINDS,
    Quantity,
    QuantityError,
    parse,
    parse_duration,
    pattern,
    show_duration,
)

ID_PATTERN = r"^[a-z0-9][a-z0-9-]{0,39}$"
"""Ids are short, lower case and safe in a file name, a command line and a log."""


def unsafe_character(text: str, *, lines: bool = False) -> str | None:
    """The first character that could disturb a screen, named, or None.

    Control codes, bidirectional marks, surrogates and private-use characters have no
    place in a title; a line break is allowed where ``lines`` says so.
    """
    for char in text:
        if char == "\n" and lines:
            continue
        if unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co") and char != "\u200d":
            return f"U+{ord(char):04X}"
    return None


def _plain(text: str) -> str:
    return _check_text(text, lines=False)


def _plain_lines(text: str) -> str:
    return _check_text(text, lines=True)


def _check_text(text: str, *, lines: bool) -> str:
    bad = unsafe_character(text, lines=lines)
    if bad is not None:
        raise PydanticCustomError(
            "unsafe_text", "the character {char} could disturb the screen", {"char": bad}
        )
    if not text.strip():
        raise PydanticCustomError("empty_text", "the text is empty")
    return text


def _read_duration(value: Any) -> int:
    return int(_as_quantity_error(parse_duration, value, "time"))


def _as_quantity_error(reader: Any, value: Any, kind: str) -> Any:
    if not isinstance(value, str):
        raise PydanticCustomError(
            "quantity",
            "{reason}; write it like {allowed}",
            {"reason": f"a {kind} is written as text", "allowed": KINDS[kind].example},
        )
    try:
        return reader(value)
    except QuantityError as error:
        raise PydanticCustomError(
            "quantity", "{reason}; {allowed}", {"reason": error.reason, "allowed": error.allowed}
        ) from None


def _quantity(*kinds: str) -> Any:
    """A field type that holds a ``Quantity`` of one of the kinds."""

    def read(value: Any) -> Quantity:
        if isinstance(value, Quantity):
            return value
        quantity: Quantity = _as_quantity_error(lambda t: _parse_any(t, kinds), value, kinds[0])
        return quantity

    union = "|".join(f"({pattern(kind)})" for kind in kinds)
    return Annotated[
        Quantity,
        BeforeValidator(read),
        PlainSerializer(str, return_type=str),
        WithJsonSchema({"type": "string", "pattern": union, "examples": [_example(kinds[0])]}),
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
            f"wanted is a {' or '.join(kinds)}",
        )
    return quantity


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
"""What can be read off at the bench and written down."""

Seconds = Annotated[
    int,
    BeforeValidator(_read_duration),
    PlainSerializer(show_duration, return_type=str),
    WithJsonSchema({"type": "string", "pattern": pattern("time"), "examples": ["1 h 30 min"]}),
]
Temperature = _quantity("temperature")
Volume = _quantity("volume")
Amount = _quantity("concentration", "dose", "mass", "volume", "share")
Reading = _quantity(*READING_KINDS)

Whole = Annotated[int, Field(strict=True)]
Number = Annotated[float, Field(strict=True)]
Id = Annotated[str, Field(pattern=ID_PATTERN)]
Title = Annotated[str, Field(max_length=120), AfterValidator(_plain)]
Text = Annotated[str, Field(max_length=4000), AfterValidator(_plain_lines)]
