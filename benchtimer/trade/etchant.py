"""Ferric chloride: hydrometer, density, strength and dilution.

Sources:
    Baume scale for liquids heavier than water, 60/60 F, modulus 145: Marks' Standard
    Handbook for Mechanical Engineers; CRC Handbook of Chemistry and Physics.
    Density of ferric chloride solutions: a producer's table (Solvay), 0 to 100 C, on a
    public page that finds it in good agreement with Perry's, 7th edition.

A hydrometer judges clean ferric chloride only. Dissolved iron and acid also raise the
density, so in a used bath the reading does not show the strength left.
"""

from __future__ import annotations

from typing import Final

from benchtimer.quantity import Quantity
from benchtimer.trade.figure import between
from benchtimer.trade.valid_range import CannotTellError, within
from benchtimer.values import dataclass

BAUME_MODULUS: Final = 145.0
HYDROMETER_C: Final = Quantity(60, "F").base
"""Temperature of a 60/60 F hydrometer, degrees C (15.56)."""

WATER_60F_KG_L: Final = 0.99902
"""Density of water at 60 F, kg/L (IAPWS-95); specific gravity 60/60 is relative to it."""

STRENGTH_RANGE_PCT: Final = (0.0, 44.0)
TEMPERATURE_RANGE_C: Final = (0.0, 50.0)
BAUME_RANGE: Final = (0.0, 60.0)
STRENGTH_KINDS: Final = "share or strength"

_TEMPERATURES: Final = (0.0, 10.0, 20.0, 30.0, 40.0, 50.0)
# percent FeCl3 -> kg/L at the temperatures above. The row for 0 % is pure water at 1 atm
# (IAPWS-95); the others are from the producer's table.
_DENSITY_KG_L: Final = {
    0.0: (0.9998, 0.9997, 0.9982, 0.9957, 0.9922, 0.9880),
    1.0: (1.009, 1.008, 1.007, 1.005, 1.001, 0.997),
    4.0: (1.036, 1.034, 1.033, 1.031, 1.028, 1.024),
    8.0: (1.072, 1.069, 1.068, 1.066, 1.064, 1.060),
    10.0: (1.090, 1.088, 1.086, 1.084, 1.082, 1.078),
    12.0: (1.109, 1.106, 1.105, 1.103, 1.101, 1.097),
    16.0: (1.147, 1.145, 1.143, 1.141, 1.138, 1.135),
    20.0: (1.187, 1.185, 1.183, 1.181, 1.178, 1.174),
    24.0: (1.229, 1.227, 1.225, 1.222, 1.219, 1.215),
    28.0: (1.274, 1.272, 1.269, 1.265, 1.262, 1.258),
    30.0: (1.298, 1.295, 1.292, 1.288, 1.284, 1.280),
    32.0: (1.322, 1.319, 1.315, 1.311, 1.307, 1.303),
    36.0: (1.373, 1.368, 1.364, 1.360, 1.356, 1.351),
    40.0: (1.430, 1.420, 1.415, 1.412, 1.408, 1.402),
    44.0: (1.492, 1.475, 1.469, 1.468, 1.464, 1.457),
}
_STRENGTHS: Final = tuple(_DENSITY_KG_L)


def specific_gravity(baume: float) -> float:
    """Specific gravity 60/60 F of a liquid heavier than water.

    Args:
        baume: hydrometer reading, degrees Baume, 0 to 60.

    Raises:
        OutOfRangeError: reading outside 0 to 60.
    """
    within("hydrometer reading", baume, *BAUME_RANGE, "Be", "scale for liquids heavier than water")
    return BAUME_MODULUS / (BAUME_MODULUS - baume)


def baume(specific_gravity: float) -> float:
    """Degrees Baume of a specific gravity 60/60 F; inverse of ``specific_gravity``.

    Args:
        specific_gravity: 1 to 1.7059 (60 degrees Baume).

    Raises:
        OutOfRangeError: lighter than water, or heavier than the scale.
    """
    high = BAUME_MODULUS / (BAUME_MODULUS - BAUME_RANGE[1]) * (1 + 1e-12)
    within(
        "specific gravity", specific_gravity, 1, high, "", "scale for liquids heavier than water"
    )
    return BAUME_MODULUS - BAUME_MODULUS / specific_gravity


def density_kg_l(fecl3_pct: float, solution_c: float = 20.0) -> float:
    """Density of clean ferric chloride solution, good to about 0.003 kg/L.

    Args:
        fecl3_pct: strength, percent by mass of FeCl3 (without crystal water), 0 to 44.
        solution_c: temperature, degrees C, 0 to 50.

    Returns:
        Density, kg/L.

    Raises:
        OutOfRangeError: strength or temperature outside the table.
    """
    _check_strength("strength", fecl3_pct)
    return between(_STRENGTHS, _densities_at(solution_c), fecl3_pct)


def strength_pct(density_kg_l: float, solution_c: float = 20.0) -> float:
    """Strength of clean ferric chloride solution from its density.

    Args:
        density_kg_l: density, kg/L, from water to that of 44 percent.
        solution_c: temperature, degrees C, 0 to 50.

    Returns:
        Strength, percent by mass of FeCl3.

    Raises:
        OutOfRangeError: density or temperature outside the table.
    """
    densities = _densities_at(solution_c)
    within("density", density_kg_l, densities[0], densities[-1], "kg/L", "clean FeCl3, 0 to 44 %")
    return between(densities, _STRENGTHS, density_kg_l)


def strength_from_baume_pct(baume: float) -> float:
    """Strength of clean ferric chloride at 60 F from a 60/60 F hydrometer.

    Args:
        baume: reading, degrees Baume.

    Returns:
        Strength, percent by mass of FeCl3.

    Raises:
        OutOfRangeError: reading outside the table.
    """
    return strength_pct(specific_gravity(baume) * WATER_60F_KG_L, HYDROMETER_C)


def baume_from_strength(fecl3_pct: float) -> float:
    """What a 60/60 F hydrometer reads in clean ferric chloride at 60 F; inverse of the above.

    Raises:
        OutOfRangeError: strength outside the table.
    """
    gravity = density_kg_l(fecl3_pct, HYDROMETER_C) / WATER_60F_KG_L
    return baume(max(gravity, 1.0))


@dataclass(frozen=True, slots=True)
class Dilution:
    """What goes into the vessel: stock solution and water.

    Attributes:
        stock_kg: mass of the stock solution.
        stock_l: its volume.
        water_kg: mass of the water, equal to its volume in liters within 0.2 percent.
        made_kg: mass of the mixture.
        made_l: volume of the mixture, a little less than stock plus water.
    """

    stock_kg: float
    stock_l: float
    water_kg: float
    made_kg: float
    made_l: float


def water_to_add_kg(stock_kg: float, from_pct: float, to_pct: float) -> float:
    """Water that brings a mass of solution down from one strength to another.

    Args:
        stock_kg: mass of the solution, kg, 0 to 10 000.
        from_pct: its strength, percent by mass, above 0 to 100.
        to_pct: strength wanted, above 0, not above ``from_pct``.

    Returns:
        Water, kg.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: the strength wanted is above the one at hand.
    """
    within("mass", stock_kg, 0, 10_000, "kg", "a vessel in a shop")
    for name, pct in (("stock strength", from_pct), ("strength wanted", to_pct)):
        within(name, pct, 0.01, 100, "%", "percent by mass")
    if to_pct > from_pct:
        raise CannotTellError(
            "the water to add",
            f"{to_pct:g} % is stronger than the {from_pct:g} % at hand",
            "water only weakens: start from a stronger stock",
        )
    return stock_kg * (from_pct / to_pct - 1)


def dilute_to_volume(
    made_l: float, from_pct: float, to_pct: float, solution_c: float = 20.0
) -> Dilution:
    """Stock and water for a given volume of weaker ferric chloride.

    Args:
        made_l: volume wanted, L, above 0 to 10 000.
        from_pct: strength of the stock, percent by mass of FeCl3, above 0 to 44.
        to_pct: strength wanted, above 0, not above ``from_pct``.
        solution_c: temperature of stock and mixture, degrees C, 0 to 50.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: the strength wanted is above the one at hand.
    """
    within("volume", made_l, 1e-3, 10_000, "L", "a vessel in a shop")
    _check_strength("stock strength", from_pct, 0.01)
    _check_strength("strength wanted", to_pct, 0.01)
    made_kg = made_l * density_kg_l(to_pct, solution_c)
    stock_kg = made_kg * to_pct / from_pct
    water_kg = water_to_add_kg(stock_kg, from_pct, to_pct)
    return Dilution(
        stock_kg, stock_kg / density_kg_l(from_pct, solution_c), water_kg, made_kg, made_l
    )


def dilute_by_parts(
    stock_parts: float, water_parts: float, from_pct: float, solution_c: float = 20.0
) -> float:
    """Strength that parts by volume of stock and water make.

    Args:
        stock_parts: volumes of stock, above 0 to 1000.
        water_parts: volumes of water, 0 to 1000.
        from_pct: strength of the stock, percent by mass of FeCl3, above 0 to 44.
        solution_c: temperature of both, degrees C, 0 to 50.

    Returns:
        Strength of the mixture, percent by mass of FeCl3.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    within("parts of stock", stock_parts, 1e-3, 1000, "", "a mixing rule")
    within("parts of water", water_parts, 0, 1000, "", "a mixing rule")
    _check_strength("stock strength", from_pct, 0.01)
    stock_kg = stock_parts * density_kg_l(from_pct, solution_c)
    water_kg = water_parts * density_kg_l(0, solution_c)
    return from_pct * stock_kg / (stock_kg + water_kg)


def fecl3_g(volume_l: float, fecl3_pct: float, solution_c: float = 20.0) -> float:
    """Grams of FeCl3 in a volume of clean solution.

    Args:
        volume_l: liters of solution.
        fecl3_pct: FeCl3 in it, percent by mass.
        solution_c: its temperature.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    within("volume", volume_l, 0, 10_000, "L", "a vessel in a shop")
    return 1000 * volume_l * density_kg_l(fecl3_pct, solution_c) * fecl3_pct / 100


def _check_strength(name: str, pct: float, low: float = STRENGTH_RANGE_PCT[0]) -> None:
    within(name, pct, low, STRENGTH_RANGE_PCT[1], "%", "table of clean FeCl3 solutions")


def _densities_at(solution_c: float) -> list[float]:
    within("solution temperature", solution_c, *TEMPERATURE_RANGE_C, "C", "density table")
    return [between(_TEMPERATURES, row, solution_c) for row in _DENSITY_KG_L.values()]


def strength_given_pct(quantity: Quantity) -> float:
    """Strength of clean ferric chloride given in percent or in degrees Baume at 60 F."""
    if quantity.kind.name == "strength":
        return strength_from_baume_pct(quantity.base)
    return quantity.base
