"""The factors of units, beside a general-purpose library and a published table.

Source: NIST Special Publication 811 (2008), appendix B.8, where a factor in bold is exact:
inch, foot, pound and ounce (avoirdupois), US gallon, quart and fluid ounce, foot per
minute, and the relation of Fahrenheit and Celsius (section B.8, "degree Fahrenheit").
The digits were written down from memory; three of them (ounce per gallon, pound per
gallon, quart) were found the same in independent conversion tables, and all are checked
against pint, whose default registry takes the same definitions.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from benchtimer.quantity import KINDS, Quantity
from tests.units import UNITS

# Our symbol and the library's name for it; US gallons and avoirdupois ounces throughout.
NAMES = {
    "s": "second", "min": "minute", "h": "hour", "d": "day",
    "C": "degC", "F": "degF", "K": "kelvin",
    "L": "liter", "mL": "milliliter", "gal": "gallon", "qt": "quart", "fl oz": "fluid_ounce",
    "g": "gram", "kg": "kilogram", "mg": "milligram", "oz": "ounce", "lb": "pound",
    "g/L": "gram/liter", "kg/L": "kilogram/liter",
    "oz/gal": "ounce/gallon", "lb/gal": "pound/gallon",
    "mL/L": "milliliter/liter", "%": "percent",
    "mm": "millimeter", "um": "micrometer", "cm": "centimeter", "m": "meter",
    "in": "inch", "ft": "foot",
    "Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal",
    "rpm": "revolutions_per_minute", "m/s": "meter/second", "ft/min": "foot/minute",
    "W": "watt", "kW": "kilowatt", "deg": "degree", "cm2": "centimeter**2", "in2": "inch**2",
}  # fmt: skip

UNKNOWN = {
    "pH": "the library's pH is a logarithm of a concentration; ours is the number on the meter",
    "Be": "two scales that no linear factor joins",
}

# NIST SP 811 (2008), B.8: meters, kilograms, cubic meters and meters a second of one unit.
NIST = [
    ("in", "m", Fraction("2.54E-02")),
    ("ft", "m", Fraction("3.048E-01")),
    ("lb", "kg", Fraction("4.5359237E-01")),
    ("oz", "kg", Fraction("2.834952E-02")),
    ("gal", "L", Fraction("3.785412")),
    ("qt", "L", Fraction("9.463529E-01")),
    ("fl oz", "mL", Fraction("2.957353E+01")),
    ("ft/min", "m/s", Fraction("5.08E-03")),
    ("in2", "cm2", Fraction("6.4516")),
    ("oz/gal", "kg/L", Fraction("7.489152E-03")),
    ("lb/gal", "kg/L", Fraction("1.198264E-01")),
]
PRINTED = Fraction("1e-6")  # the table prints seven digits


def test_every_unit_is_compared_or_excused_with_a_reason() -> None:
    """Every unit is compared or listed with the reason why not."""
    symbols = {symbol for kind in KINDS.values() for symbol in kind.units}
    assert symbols == set(NAMES) | set(UNKNOWN)


@pytest.mark.parametrize("kind", [k for k in KINDS if k not in ("acidity", "strength")])
def test_units_agree_with_the_library(kind: str) -> None:
    """Zero, one and a large value of each unit match the library in the base unit."""
    base = NAMES[KINDS[kind].base.symbol]
    for symbol in KINDS[kind].units:
        for value in (0.0, 1.0, 290.0):
            theirs = UNITS.Quantity(value, NAMES[symbol]).to(base).magnitude
            assert Quantity(value, symbol).base == pytest.approx(theirs, rel=1e-14, abs=1e-10)


@pytest.mark.parametrize(("symbol", "target", "factor"), NIST, ids=lambda v: str(v))
def test_factors_agree_with_the_published_table(symbol: str, target: str, factor: Fraction) -> None:
    """Each factor matches NIST SP 811, B.8, to the last printed digit."""
    ours = Quantity(1, symbol).to(target).value
    assert ours == pytest.approx(float(factor), rel=float(PRINTED))


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (290, 1290 / 9)]
)
def test_fahrenheit_follows_its_definition(fahrenheit: float, celsius: float) -> None:
    """NIST SP 811, B.8: t/C = (t/F - 32)/1.8."""
    assert Quantity(fahrenheit, "F").to("C").value == pytest.approx(celsius, abs=1e-12)
    assert Quantity(celsius, "C").to("F").value == pytest.approx(fahrenheit, abs=1e-12)


def test_kelvin_is_celsius_from_absolute_zero() -> None:
    """NIST SP 811, B.8: T/K = t/C + 273.15, exact."""
    assert Quantity(0, "C").to("K").value == 273.15
