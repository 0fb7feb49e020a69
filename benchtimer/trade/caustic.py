"""The hot caustic bath: boiling point against strength, and what a reading means.

The salts bath boils hotter the stronger it is, so its boiling point is its strength gauge.
The table is sodium hydroxide in water only. A blackening bath also holds nitrate and
nitrite, which raise the boiling point too: the strengths here are "as if all of it were
sodium hydroxide" and the true bath holds less of it.

Source of the table: Olsson, Jernqvist and Aly, Int. J. Thermophysics 18(3), 1997, vapour
pressure and density correlations, solved for the boiling point at 101 325 Pa and at
70 121 Pa. A producer's data page gives about 145 C at 50 %, 1.4 C below the table; treat every
boiling point here as good to 2 C at best.

Between the two pressures the boiling point of a solution moves in a straight line with
that of water under the same pressure (Duehring's rule); a test holds this to the
correlation itself.
"""

from __future__ import annotations

from enum import StrEnum
from math import log
from typing import Final

from benchtimer.quantity import Quantity
from benchtimer.trade.figure import between
from benchtimer.trade.species import GAS_CONSTANT_J_MOL_K, molar_mass_g
from benchtimer.trade.valid_range import CannotTellError, within
from benchtimer.trade.water import SEA_LEVEL_PA
from benchtimer.trade.water import boiling_c as water_boiling_c
from benchtimer.values import dataclass

TOLERANCE_C: Final = 2.0
"""How far off a boiling point from the table can be, degrees C either way."""

STRENGTH_RANGE_PCT: Final = (0.0, 60.0)
"""Strengths covered, percent by mass as sodium hydroxide."""

PRESSURE_RANGE_PA: Final = (60_000.0, 108_000.0)
"""Pressures covered, Pa: from below sea level to about 4 200 m."""

_HIGH_PLACE_PA = 70_121.16  # 3 000 m in the standard atmosphere

# percent NaOH, boils at 101 325 Pa (C), boils at 70 121.16 Pa (C), density while boiling (kg/L)
_ROWS: Final = (
    (0.0, 99.93, 89.90, 0.959),
    (2.5, 100.67, 90.62, 0.984),
    (5.0, 101.34, 91.26, 1.010),
    (7.5, 102.02, 91.90, 1.036),
    (10.0, 102.81, 92.64, 1.062),
    (12.5, 103.75, 93.54, 1.088),
    (15.0, 104.90, 94.65, 1.114),
    (17.5, 106.28, 96.00, 1.140),
    (20.0, 107.92, 97.61, 1.166),
    (22.5, 109.81, 99.47, 1.191),
    (25.0, 111.96, 101.59, 1.216),
    (27.5, 114.36, 103.97, 1.240),
    (30.0, 117.01, 106.60, 1.264),
    (32.5, 119.92, 109.47, 1.287),
    (35.0, 123.08, 112.60, 1.310),
    (37.5, 126.50, 115.97, 1.332),
    (40.0, 130.14, 119.57, 1.353),
    (42.5, 134.00, 123.36, 1.374),
    (45.0, 138.02, 127.31, 1.395),
    (47.5, 142.16, 131.36, 1.415),
    (50.0, 146.38, 135.47, 1.435),
    (52.5, 150.64, 139.61, 1.454),
    (55.0, 154.98, 143.80, 1.473),
    (57.5, 159.43, 148.09, 1.493),
    (60.0, 164.08, 152.56, 1.512),
)
_STRENGTHS: Final = [row[0] for row in _ROWS]
_AT_SEA: Final = [row[1] for row in _ROWS]
_AT_HIGH_PLACE: Final = [row[2] for row in _ROWS]
_DENSITIES: Final = [row[3] for row in _ROWS]

WINDOW_C: Final = (Quantity(285, "F").base, Quantity(295, "F").base)
"""Boiling window of the single-bath process: 285 to 295 F (140.6 to 146.1 C).
2011-2012 Surface Finishing Guidebook, "Blackening of Ferrous Metals"."""


class SaltsReading(StrEnum):
    """The meaning of a thermometer reading in the salts."""

    NOT_BOILING = "not boiling yet: the reading says nothing about the strength"
    TOO_DILUTE = "boils below the window: too dilute"
    IN_WINDOW = "in the window"
    TOO_STRONG = "above the window: too concentrated"


def boiling_c(naoh_pct: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Boiling point of sodium hydroxide solution, good to ``TOLERANCE_C``.

    Args:
        naoh_pct: strength, percent by mass, 0 to 60.
        pressure_pa: pressure in the shop, Pa, 60 000 to 108 000.

    Returns:
        Boiling point, degrees C.

    Raises:
        OutOfRangeError: strength or pressure outside the table.
    """
    within("strength", naoh_pct, *STRENGTH_RANGE_PCT, "%", "the boiling-point table")
    return between(_STRENGTHS, _boils_at(pressure_pa), naoh_pct)


def strength_pct(boiling_c: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Strength that boils at a temperature, as if all the salt were sodium hydroxide.

    Args:
        boiling_c: reading of the boiling bath, degrees C.
        pressure_pa: pressure in the shop, Pa, 60 000 to 108 000.

    Returns:
        Strength, percent by mass. Two degrees of doubt in the reading are about
        1.2 percent of doubt here.

    Raises:
        OutOfRangeError: temperature or pressure outside the table.
    """
    boils = _boils_at(pressure_pa)
    within("boiling point", boiling_c, boils[0], boils[-1], "C", "0 to 60 % at this pressure")
    return between(boils, _STRENGTHS, boiling_c)


def density_kg_l(naoh_pct: float) -> float:
    """Density of sodium hydroxide solution while it boils at sea level, kg/L.

    Args:
        naoh_pct: strength, percent by mass, 0 to 60.

    Raises:
        OutOfRangeError: strength outside the table.
    """
    within("strength", naoh_pct, *STRENGTH_RANGE_PCT, "%", "the boiling-point table")
    return between(_STRENGTHS, _DENSITIES, naoh_pct)


def read_bath(bath_c: float, *, boiling: bool) -> SaltsReading:
    """What a reading means for the single-bath process on plain and low-alloy steel.

    Args:
        bath_c: reading, degrees C, 0 to 200.
        boiling: whether the bath is at a steady rolling boil. Below the window only a
            boiling bath says anything about strength; above it any reading is too hot.

    Raises:
        OutOfRangeError: no water bath reads that.
    """
    within("bath temperature", bath_c, 0, 200, "C", "no caustic bath runs there")
    low, high = WINDOW_C
    if bath_c > high:
        return SaltsReading.TOO_STRONG
    if not boiling:
        return SaltsReading.NOT_BOILING
    return SaltsReading.TOO_DILUTE if bath_c < low else SaltsReading.IN_WINDOW


@dataclass(frozen=True, slots=True)
class WaterChange:
    """About how much water is between a reading and a target.

    Attributes:
        now_pct: strength at the reading, percent by mass as sodium hydroxide.
        target_pct: strength that boils at the target.
        bath_kg: mass of the bath now.
        water_kg: water to add; negative, water to boil off. As liters of cold water it is
            the same number.
    """

    now_pct: float
    target_pct: float
    bath_kg: float
    water_kg: float


def water_change(
    volume_l: float, reading_c: float, target_c: float, pressure_pa: float = SEA_LEVEL_PA
) -> WaterChange:
    """Water that is missing (or too much) if the bath boils at one reading instead of another.

    The salt stays, so bath mass times strength is the same before and after.

    Args:
        volume_l: bath volume now, hot, L, above 0 to 10 000.
        reading_c: reading of the boiling bath, degrees C.
        target_c: boiling point wanted, degrees C.
        pressure_pa: pressure in the shop, Pa.

    Raises:
        OutOfRangeError: a value outside the table.
        CannotTellError: the reading or the target is that of plain water, so there is no salt to
            calculate with.
    """
    within("bath volume", volume_l, 1e-3, 10_000, "L", "a bath in a shop")
    now = strength_pct(reading_c, pressure_pa)
    target = strength_pct(target_c, pressure_pa)
    if min(now, target) < 1:
        raise CannotTellError(
            "the water to add or boil off",
            "a bath boiling like plain water holds hardly any salt",
            "make the bath up by its supplier's data sheet",
        )
    bath_kg = volume_l * density_kg_l(now)
    return WaterChange(now, target, bath_kg, bath_kg * (now / target - 1))


EVAPORATION_KJ_KG: Final = (
    (100.0, 2256.5), (110.0, 2229.7), (120.0, 2202.1), (130.0, 2173.7), (140.0, 2144.2),
    (150.0, 2113.7), (160.0, 2081.9),
)  # fmt: skip
"""Heat of evaporation of plain water, kJ/kg, by temperature, C: IAPWS-IF97 via iapws 1.5.5."""

POWER_RANGE_W: Final = (50.0, 50_000.0)


@dataclass(frozen=True, slots=True)
class Climb:
    """How a boiling bath climbs from one reading to a hotter one as its water boils off.

    Attributes:
        from_pct: strength at the first reading, percent by mass as sodium hydroxide.
        to_pct: strength at the second.
        bath_kg: mass of the bath at the first reading.
        water_kg: water that boils off on the way.
        earliest_s: time if it took only the heat of evaporation of plain water.
        likely_s: time with the heat that the solution holds the water back by, too.
    """

    from_pct: float
    to_pct: float
    bath_kg: float
    water_kg: float
    earliest_s: float
    likely_s: float


def climb(
    volume_l: float,
    from_c: float,
    to_c: float,
    power_w: float,
    pressure_pa: float = SEA_LEVEL_PA,
) -> Climb:
    """Time for a boiling bath to climb from one reading to another; the salt stays.

    Warming the bath itself and heat lost to the room are extra and make it slower.

    Args:
        volume_l: bath volume now, hot, L, above 0 to 10 000.
        from_c: reading of the boiling bath now, degrees C.
        to_c: the reading asked about, degrees C, hotter than now.
        power_w: heat that goes into the bath, W, 50 to 50 000.
        pressure_pa: pressure in the shop, Pa.

    Raises:
        OutOfRangeError: a value outside the table.
        CannotTellError: the second reading is not hotter, or the bath is plain water.
    """
    within("heat into the bath", power_w, *POWER_RANGE_W, "W", "a tank in a shop")
    if to_c <= from_c:
        raise CannotTellError(
            "the time to the limit", "the limit is not hotter than the reading", "swap the two"
        )
    change = water_change(volume_l, from_c, to_c, pressure_pa)
    water_kg = -change.water_kg
    middle_c = (from_c + to_c) / 2
    temperatures, heats = zip(*EVAPORATION_KJ_KG, strict=True)
    plain_kj = between(list(temperatures), list(heats), middle_c)
    held_kj = _heat_from_solution_kj_kg((change.now_pct + change.target_pct) / 2)
    return Climb(
        change.now_pct,
        change.target_pct,
        change.bath_kg,
        water_kg,
        1000 * water_kg * plain_kj / power_w,
        1000 * water_kg * max(plain_kj, held_kj) / power_w,
    )


def _heat_from_solution_kj_kg(naoh_pct: float) -> float:
    """Heat to boil a kilogram of water out of the solution (Clapeyron equation), kJ."""
    sea_k, high_k = (
        between(_STRENGTHS, boils, naoh_pct) + 273.15 for boils in (_AT_SEA, _AT_HIGH_PLACE)
    )
    per_mol_j = GAS_CONSTANT_J_MOL_K * log(SEA_LEVEL_PA / _HIGH_PLACE_PA) / (1 / high_k - 1 / sea_k)
    return per_mol_j / molar_mass_g("H2O")


def boiling_range_c(pressure_pa: float = SEA_LEVEL_PA) -> tuple[float, float]:
    """Boiling points covered under a pressure, degrees C: those of 0 and of 60 percent.

    Args:
        pressure_pa: pressure in the shop, Pa, 60 000 to 108 000.

    Raises:
        OutOfRangeError: pressure outside the table.
    """
    boils = _boils_at(pressure_pa)
    return boils[0], boils[-1]


def _boils_at(pressure_pa: float) -> list[float]:
    """The boiling points of the table's strengths under a pressure."""
    within("pressure", pressure_pa, *PRESSURE_RANGE_PA, "Pa", "table, up to about 4200 m")
    sea, high = water_boiling_c(SEA_LEVEL_PA), water_boiling_c(_HIGH_PLACE_PA)
    share = (water_boiling_c(pressure_pa) - high) / (sea - high)
    return [h + share * (s - h) for s, h in zip(_AT_SEA, _AT_HIGH_PLACE, strict=True)]
