"""Quantities as people write them: "90 s", "1 h 30 min", "290 F", "2 L", "90 g/L".

A quantity keeps the number and the unit it was written in, so that a recipe reads back
as its author wrote it, and converts exactly enough for the bench (float64; the factors
below are exact by definition unless a comment says otherwise).

Durations are whole seconds everywhere: the planner's proofs need integers, and nobody
lifts a blade on the half second.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

MAX_DURATION_S: Final = 366 * 86_400
"""Longest duration accepted: a year. Anything longer is a slip of the pen."""

MAX_TEXT: Final = 64
"""Longest text read as a quantity."""


class QuantityError(ValueError):
    """A text that is not a quantity of the kind asked for.

    Attributes:
        text: what was found, shortened if long.
        kind: the kind of quantity wanted, for example ``"temperature"``.
        reason: what is wrong with it.
        allowed: what would be right.
    """

    def __init__(self, text: str, kind: str, reason: str, allowed: str) -> None:
        self.text = text if len(text) <= MAX_TEXT else text[:MAX_TEXT] + "..."
        self.kind = kind
        self.reason = reason
        self.allowed = allowed
        super().__init__(f'"{self.text}" is not a {kind}: {reason}; {allowed}')


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
        _kind("angle", [Unit("deg", 1)], 0, 360, '"15 deg"'),
        _kind("area", [Unit("cm2", 1), Unit("in2", 6.4516)], 0, 1e6, '"40 cm2"'),
    )
}

_UNIT_KIND: Final = {symbol: kind for kind in KINDS.values() for symbol in kind.units}
_NUMBER = r"[+-]?[0-9]{1,12}(?:\.[0-9]{1,9})?"
_ONE = re.compile(rf"\s*({_NUMBER})\s*([^\d\s][^\d]*?[23]?)\s*")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with the unit it was written in."""

    value: float
    unit: str

    @property
    def kind(self) -> Kind:
        """The kind of quantity, told by the unit."""
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
                str(self), self.kind.name, f'it can\'t be told in "{symbol}"', _allowed(self.kind)
            )
        return Quantity((self.base - unit.offset) / unit.factor, symbol)

    def __str__(self) -> str:
        return f"{show_number(self.value)} {self.unit}"


def show_number(value: float, places: int = 9) -> str:
    """A number without needless zeros: 2.0 -> "2", 0.50 -> "0.5"."""
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def parse(text: str, kind: str | None = None) -> Quantity:
    """Read one quantity.

    Args:
        text: what somebody wrote, for example ``"290 F"``.
        kind: the kind wanted (a key of ``KINDS``); any kind if None.

    Raises:
        QuantityError: not a quantity, a unit of another kind, or out of the accepted range.
    """
    want = KINDS[kind] if kind is not None else None
    name = kind or "quantity"
    if want is not None and want.name == "time":
        return _as_written(text)
    match = _ONE.fullmatch(text) if len(text) <= MAX_TEXT else None
    if match is None:
        raise QuantityError(text, name, "a number and a unit are needed", _allowed(want))
    number, symbol = float(match[1]), _symbol(match[2])
    found = _UNIT_KIND.get(symbol)
    if found is None or (want is not None and found is not want):
        raise QuantityError(text, name, _wrong_unit(symbol, found, want), _allowed(want))
    quantity = Quantity(number, symbol)
    if not found.low <= quantity.base <= found.high:
        raise QuantityError(text, name, "it is out of all reason", _range(found))
    return quantity


def parse_duration(text: str) -> int:
    """Seconds of a duration such as ``"90 s"``, ``"1.5 h"`` or ``"1 h 30 min"``.

    Raises:
        QuantityError: not a duration, not whole seconds, negative, or over a year.
    """
    kind = KINDS["time"]
    pieces = re.findall(rf"({_NUMBER})\s*([^\d\s.]+)\s*", text) if len(text) <= MAX_TEXT else []
    if not pieces or re.sub(rf"({_NUMBER})\s*([^\d\s.]+)\s*", "", text).strip():
        raise QuantityError(text, "time", "a number and a unit are needed", _allowed(kind))
    total = 0.0
    last = float("inf")
    for number, symbol in pieces:
        unit = kind.units.get(symbol)
        if unit is None:
            found = _UNIT_KIND.get(_symbol(symbol))
            raise QuantityError(text, "time", _wrong_unit(symbol, found, kind), _allowed(kind))
        if unit.factor >= last or number[0] in "+-":
            raise QuantityError(text, "time", "the pieces go from large to small", _allowed(kind))
        last = unit.factor
        total += float(number) * unit.factor
    if total > MAX_DURATION_S:
        raise QuantityError(text, "time", "it is longer than a year", _allowed(kind))
    if abs(total - round(total)) > 1e-6:
        raise QuantityError(text, "time", "it is not a whole number of seconds", _allowed(kind))
    return round(total)


def show_duration(seconds: int) -> str:
    """A duration in words that read back to the same seconds: 5400 -> "1 h 30 min"."""
    pieces = []
    rest = seconds
    for symbol, size in (("d", 86_400), ("h", 3600), ("min", 60), ("s", 1)):
        # "90 s" and "36 h" are how the trade says them; split only where it helps the eye.
        if symbol == "d" and rest % size:
            continue
        if rest >= size and not (symbol == "min" and rest < 120 and rest % 60):
            pieces.append(f"{rest // size} {symbol}")
            rest %= size
    return " ".join(pieces) or "0 s"


def pattern(kind: str) -> str:
    """A regular expression (JSON Schema dialect) that the texts of a kind match."""
    symbols = sorted(KINDS[kind].units, key=len, reverse=True)
    units = "|".join(re.escape(s).replace(r"\ ", " ") for s in symbols)
    if kind == "time":
        return rf"^\s*(\d+(\.\d+)?\s*({units})\s*)+$"
    degree = "°?" if kind == "temperature" else ""
    return rf"^\s*[+-]?\d+(\.\d+)?\s*{degree}({units})\s*$"


def nearest(word: str, known: list[str]) -> str | None:
    """The known word most like the one found, if one is like it at all."""
    if len(word) > MAX_TEXT:
        return None
    folded = {k.casefold(): k for k in reversed(known)}
    close = difflib.get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.55)
    return folded[close[0]] if close else None


def _as_written(text: str) -> Quantity:
    seconds = parse_duration(text)
    match = _ONE.fullmatch(text)
    if match is not None and match[2] in KINDS["time"].units:
        return Quantity(float(match[1]), match[2])
    return Quantity(float(seconds), "s")


def _symbol(text: str) -> str:
    return " ".join(text.split()).removeprefix("°").strip()


def _allowed(kind: Kind | None) -> str:
    if kind is None:
        return 'write it like "290 F", "10 min" or "2 L"'
    return f"write it like {kind.example} (units: {', '.join(kind.units)})"


def _range(kind: Kind) -> str:
    unit = kind.base.symbol
    return f"between {show_number(kind.low)} {unit} and {show_number(kind.high)} {unit} is accepted"


def _wrong_unit(symbol: str, found: Kind | None, want: Kind | None) -> str:
    if found is not None:
        return f'"{symbol}" is a unit of {found.name}'
    known = list(want.units) if want is not None else list(_UNIT_KIND)
    close = nearest(symbol, known)
    hint = f', did you mean "{close}"?' if close else ""
    return f'"{symbol}" is no unit it knows{hint}'
