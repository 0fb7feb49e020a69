"""Quantities as people write them: "90 s", "1 h 30 min", "290 F", "2 L", "90 g/L".

A quantity keeps the number and the unit as written, so that a recipe reads back the way its author
wrote it. It converts exactly enough for the bench (float64; the factors below are exact by
definition unless a comment says otherwise). Durations are whole seconds everywhere, because the
planner's proofs need integers.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import islice
from typing import Final

from benchtimer.values import dataclass

MAX_DURATION_S: Final = 366 * 86_400
"""Longest duration accepted: a year. Anything longer is a typing error."""

DAY_MIN: Final = 24 * 60
"""Minutes in a day."""

MAX_TEXT: Final = 64
"""Longest text read as a quantity."""

MAX_KNOWN: Final = 200
"""How many known words a misspelled one is compared with."""


class QuantityError(ValueError):
    """Text that is not a quantity of the kind needed.

    Attributes:
        text: what was found, shortened if long.
        kind: the kind of quantity needed, for example ``"temperature"``.
        reason: what is wrong with it.
        allowed: what to write instead.
    """

    def __init__(self, text: str, kind: str, reason: str, allowed: str) -> None:
        self.text = printable(text if len(text) <= MAX_TEXT else text[:MAX_TEXT] + "...")
        self.kind = kind
        self.reason = reason
        self.allowed = allowed
        article = "an" if kind[0] in "aeiou" else "a"
        super().__init__(f'"{self.text}" is not {article} {kind}: {reason}; {allowed}')


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: ``base = value * factor + offset`` in the base unit of its kind."""

    symbol: str
    factor: float
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its units (the first is the base), and the range accepted."""

    name: str
    units: Mapping[str, Unit]
    low: float
    high: float
    example: str

    @property
    def base(self) -> Unit:
        """The unit that ``Quantity.base`` is given in."""
        return next(iter(self.units.values()))


def _kind(name: str, units: list[Unit], low: float, high: float, example: str) -> Kind:
    return Kind(name, {u.symbol: u for u in units}, low, high, example)


# US customary factors are exact by the 1959 yard and pound agreement (NIST SP 811, app. B.8):
# 1 lb = 453.59237 g, 1 oz = 1/16 lb, 1 gal (US) = 231 cubic inches = 3.785411784 L.
_GAL_L = 3.785411784
_OZ_G = 28.349523125

KINDS: Final[Mapping[str, Kind]] = {
    k.name: k
    for k in (
        _kind(
            "time",
            [Unit("s", 1), Unit("min", 60), Unit("h", 3600), Unit("d", 86_400)],
            0,
            MAX_DURATION_S,
            '"90 s", "10 min" or "1 h 30 min"',
        ),
        _kind(
            "temperature",
            [Unit("C", 1), Unit("F", 5 / 9, -160 / 9), Unit("K", 1, -273.15)],
            -60,
            1400,
            '"290 F" or "143 C"',
        ),
        _kind(
            "volume",
            [
                Unit("L", 1),
                Unit("mL", 0.001),
                Unit("gal", _GAL_L),
                Unit("qt", _GAL_L / 4),
                Unit("fl oz", _GAL_L / 128),
            ],
            0,
            100_000,
            '"2 L", "250 mL" or "1 gal"',
        ),
        _kind(
            "mass",
            [
                Unit("g", 1),
                Unit("kg", 1000),
                Unit("mg", 0.001),
                Unit("oz", _OZ_G),
                Unit("lb", _OZ_G * 16),
            ],
            0,
            10_000_000,
            '"90 g" or "2 lb"',
        ),
        _kind(
            "concentration",
            [
                Unit("g/L", 1),
                Unit("kg/L", 1000),
                Unit("oz/gal", _OZ_G / _GAL_L),
                Unit("lb/gal", _OZ_G * 16 / _GAL_L),
            ],
            0,
            3000,
            '"90 g/L" or "12 oz/gal"',
        ),
        _kind("dose", [Unit("mL/L", 1)], 0, 1000, '"250 mL/L"'),
        _kind("share", [Unit("%", 1)], 0, 100, '"40 %"'),
        _kind("acidity", [Unit("pH", 1)], -2, 16, '"8.3 pH"'),
        _kind("strength", [Unit("Be", 1)], 0, 80, '"42 Be"'),
        _kind(
            "length",
            [
                Unit("mm", 1),
                Unit("um", 0.001),
                Unit("cm", 10),
                Unit("m", 1000),
                Unit("in", 25.4),
                Unit("ft", 304.8),
            ],
            -500_000,
            10_000_000,
            '"0.4 mm" or "20 um"',
        ),
        _kind("pressure", [Unit("Pa", 1), Unit("hPa", 100), Unit("kPa", 1000)], 0, 2e6, '"90 kPa"'),
        _kind("rotation", [Unit("rpm", 1)], 0, 100_000, '"1750 rpm"'),
        _kind(
            "speed",
            [Unit("m/s", 1), Unit("ft/min", 0.00508)],
            0,
            1000,
            '"25 m/s" or "7500 ft/min"',
        ),
        _kind("power", [Unit("W", 1), Unit("kW", 1000)], 0, 100_000, '"1 kW" or "800 W"'),
        _kind("angle", [Unit("deg", 1)], 0, 360, '"15 deg"'),
        _kind("area", [Unit("cm2", 1), Unit("in2", 6.4516)], 0, 1e6, '"40 cm2"'),
    )
}

_UNIT_KIND: Final = {symbol: kind for kind in KINDS.values() for symbol in kind.units}
_TIME: Final = KINDS["time"]
_DEGREES: Final = ("temperature", "strength")  # the kinds whose unit can have a degree sign

_NUMBER = r"[0-9]{1,12}(?:\.[0-9]{1,9})?"
_ONE = re.compile(rf"\s*([+-]?{_NUMBER})\s*([^\d\s][^\d]*?[23]?)\s*")
_PIECE = re.compile(rf"\s*([+-]?{_NUMBER})\s*([^\d\s.]+)\s*")
_HOURS = re.compile(r"\s*([0-9]{1,2}):([0-9]{2})\s*-\s*([0-9]{1,2}):([0-9]{2})\s*")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with the unit it was written in."""

    value: float
    unit: str

    @property
    def kind(self) -> Kind:
        """The kind of quantity, from its unit."""
        return _UNIT_KIND[self.unit]

    @property
    def base(self) -> float:
        """The value in the base unit of its kind (s, C, L, g, g/L, mm, ...)."""
        unit = self.kind.units[self.unit]
        return self.value * unit.factor + unit.offset

    @property
    def base_span(self) -> float:
        """The value as a difference, in the base unit: "45 F" between two readings is 25 C."""
        return self.value * self.kind.units[self.unit].factor

    def to(self, symbol: str) -> Quantity:
        """The same quantity in another unit of its kind.

        Raises:
            QuantityError: if the unit belongs to another kind.
        """
        if symbol == self.unit:
            return self
        unit = self.kind.units.get(symbol)
        if unit is None:
            raise QuantityError(
                str(self), self.kind.name, f'it can\'t be given in "{symbol}"', _allowed(self.kind)
            )
        return Quantity((self.base - unit.offset) / unit.factor, symbol)

    def __str__(self) -> str:
        return f"{show_number(self.value)} {self.unit}"


def show_number(value: float, places: int = 9) -> str:
    """A number without needless zeros: 2.0 -> "2", 0.50 -> "0.5"."""
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def parse(text: str, kind: str | None = None) -> Quantity:
    """Read one quantity.

    Args:
        text: the text, for example ``"290 F"``.
        kind: the kind needed (a key of ``KINDS``); any kind if None.

    Raises:
        QuantityError: not a quantity, a unit of another kind, or out of the accepted range.
    """
    want = KINDS[kind] if kind is not None else None
    if want is _TIME or (want is None and _starts_as_time(text)):
        return _as_written(text)
    match = _ONE.fullmatch(text) if len(text) <= MAX_TEXT else None
    if match is None:
        raise QuantityError(text, kind or "quantity", _not_one(text), _allowed(want))
    symbol = _symbol(match[2])
    found = _UNIT_KIND.get(symbol)
    if found is None or (want is not None and found is not want):
        raise QuantityError(text, kind or "quantity", _wrong_unit(symbol, want), _allowed(want))
    quantity = Quantity(float(match[1]), symbol)
    if not found.low <= quantity.base <= found.high:
        allowed = _range(found, symbol)
        raise QuantityError(text, kind or found.name, "it is far outside any real value", allowed)
    return quantity


def parse_typed(text: str, kind: str | None = None) -> Quantity:
    """Read one quantity as people type it at the bench: ``290f`` and ``143 c`` count, too.

    Args:
        text: what was typed.
        kind: the kind needed; see ``parse``.

    Raises:
        QuantityError: see ``parse``.
    """
    said = text.strip()
    number = said[:-1].rstrip()
    if said[-1:] in ("f", "c") and number[-1:].isdigit():
        said = f"{number} {said[-1].upper()}"
    return parse(said, kind)


def parse_duration(text: str) -> int:
    """Seconds of a duration such as ``"90 s"``, ``"1.5 h"`` or ``"1 h 30 min"``.

    Raises:
        QuantityError: not a duration, not whole seconds, negative, or over a year.
    """
    total = Fraction(0)
    last = float("inf")
    for number, symbol in _pieces(text):
        unit = _TIME.units.get(symbol)
        if unit is None:
            raise _no_time(text, _wrong_unit(_symbol(symbol), _TIME))
        if number[0] in "+-":
            raise _no_time(text, "it has a sign")
        if unit.factor >= last:
            raise _no_time(text, "the larger units go first")
        last = unit.factor
        total += Fraction(number) * int(unit.factor)
    if total > MAX_DURATION_S:
        raise _no_time(text, "it is longer than a year")
    if total.denominator != 1:
        raise _no_time(text, "it is not a whole number of seconds")
    return int(total)


def parse_hours(text: str) -> tuple[int, int]:
    """Minutes of the day of two times such as ``"22:00-07:00"``; 24:00 is the end of the day.

    Raises:
        QuantityError: not two times of day, or the same time twice.
    """
    allowed = 'write it like "22:00-07:00"'
    match = _HOURS.fullmatch(text) if len(text) <= MAX_TEXT else None
    if match is None:
        raise QuantityError(text, "span of the day", "it is not a pair of times of day", allowed)
    hours, minutes = (int(match[1]), int(match[3])), (int(match[2]), int(match[4]))
    begin, end = (60 * h + m for h, m in zip(hours, minutes, strict=True))
    if max(minutes) > 59 or max(begin, end) > DAY_MIN or begin in (end, DAY_MIN):
        raise QuantityError(text, "span of the day", "there are no such hours", allowed)
    return begin, end


def pattern(kind: str) -> str:
    """A regular expression (JSON Schema dialect) that text of a kind matches. It describes the
    syntax that ``parse`` reads, in the kind's units. It can't check ranges or whole seconds.
    """
    if kind == _TIME.name:
        large_to_small = sorted(_TIME.units.values(), key=lambda unit: -unit.factor)
        pieces = "".join(rf"({_NUMBER}\s*{unit.symbol}\s*)?" for unit in large_to_small)
        return rf"^\s*(?=\S){pieces}$"
    symbols = sorted(KINDS[kind].units, key=len, reverse=True)
    units = "|".join(symbol.replace(" ", r"\s+") for symbol in symbols)
    degree = r"(°\s*)?" if kind in _DEGREES else ""
    return rf"^\s*[+-]?{_NUMBER}\s*{degree}({units})\s*$"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word closest to the one found, if any is close. It compares only some known words
    of normal length, so that a hostile file can't cause a long wait.
    """
    if len(word) > MAX_TEXT:
        return None
    some = [k for k in islice(known, MAX_KNOWN) if len(k) <= MAX_TEXT]
    folded = {k.casefold(): k for k in reversed(some)}
    close = difflib.get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.55)
    return folded[close[0]] if close else None


def did_you_mean(word: str, known: Iterable[str], otherwise: str = "") -> str:
    """The question after a misspelled word; the whole program uses this one sentence.

    Args:
        word: what was found.
        known: the known words.
        otherwise: what to say if none of them is close.
    """
    return meant(nearest(word, known), otherwise)


def meant(near: str | None, otherwise: str = "") -> str:
    """The same if the nearest word is already known."""
    return f'did you mean "{near}"?' if near else otherwise


def _starts_as_time(text: str) -> bool:
    match = _PIECE.match(text) if len(text) <= MAX_TEXT else None
    return match is not None and match[2] in _TIME.units


def _as_written(text: str) -> Quantity:
    seconds = parse_duration(text)
    match = _ONE.fullmatch(text)
    if match is not None and match[2] in _TIME.units:
        return Quantity(float(match[1]), match[2])
    return Quantity(float(seconds), "s")


def _pieces(text: str) -> list[tuple[str, str]]:
    """The numbers of a duration with their units, for example ``[("1", "h"), ("30", "min")]``."""
    pieces: list[tuple[str, str]] = []
    at = 0
    while len(text) <= MAX_TEXT and (match := _PIECE.match(text, at)):
        pieces.append((match[1], match[2]))
        at = match.end()
    if not pieces or at < len(text):
        raise _no_time(text, _not_pieces(text))
    return pieces


def _not_pieces(text: str) -> str:
    """What is wrong with text that is not a duration: perhaps a quantity of another kind."""
    match = _ONE.fullmatch(text) if len(text) <= MAX_TEXT else None
    symbol = _symbol(match[2]) if match is not None else ""
    return _wrong_unit(symbol, _TIME) if symbol in _UNIT_KIND else _not_one(text)


def _no_time(text: str, reason: str) -> QuantityError:
    return QuantityError(text, _TIME.name, reason, _allowed(_TIME))


def _not_one(text: str) -> str:
    if len(text) <= MAX_TEXT and re.search(r"[0-9],[0-9]", text):
        return "it has a comma; use a point for decimals"
    return "it needs a number and a unit"


def _symbol(text: str) -> str:
    """The unit as ``KINDS`` spells it: single spaces, no degree sign where one is optional."""
    symbol = " ".join(text.split())
    bare = symbol.removeprefix("°").strip()
    kind = _UNIT_KIND.get(bare)
    return bare if kind is not None and kind.name in _DEGREES else symbol


def _allowed(kind: Kind | None) -> str:
    if kind is None:
        return 'write it like "290 F", "10 min" or "2 L"'
    return f"write it like {kind.example} (units: {', '.join(kind.units)})"


def _range(kind: Kind, symbol: str) -> str:
    """The accepted range, in the unit the user wrote."""
    base = kind.base.symbol
    low, high = (Quantity(limit, base).to(symbol) for limit in (kind.low, kind.high))
    shown = [f"{show_number(limit.value, 3)} {symbol}" for limit in (low, high)]
    return f"between {shown[0]} and {shown[1]} is accepted"


def _wrong_unit(symbol: str, want: Kind | None) -> str:
    found = _UNIT_KIND.get(symbol)
    if found is not None:
        return f'"{symbol}" is a unit of {found.name}'
    if symbol.startswith(","):
        return "it has a comma; use a point for decimals"
    question = did_you_mean(symbol, want.units if want is not None else _UNIT_KIND)
    hint = f", {question}" if question else ""
    return f'"{printable(symbol)}" is not a unit{hint}'


def how_many(number: int, one: str, many: str = "") -> str:
    """A number with its word: ``1 part``, ``3 parts``, ``2 tries``.

    Args:
        number: how many.
        one: the word for one.
        many: the word for several, if it does not just take an s.
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def printable(text: str) -> str:
    """Text on one line, with a ? for anything that could garble a terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)
