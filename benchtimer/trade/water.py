"""Boiling water: pressure from altitude, boiling point from pressure, and back.

Sources:
    US Standard Atmosphere 1976 / ISO 2533:1975, lowest layer (the two agree there).
    IAPWS R7-97(2012), industrial formulation IF97, region 4: equation 30 (saturation
    pressure) and equation 31 (saturation temperature).
"""

from __future__ import annotations

from math import sqrt
from typing import Final

from benchtimer.trade.valid_range import within

SEA_LEVEL_PA: Final = 101_325.0
"""Standard pressure at sea level, Pa (ISO 2533)."""

ALTITUDE_RANGE_M: Final = (-500.0, 11_000.0)
"""Altitudes accepted, m above mean sea level: the lowest layer of the atmosphere model."""

LAYER_PRESSURE_PA: Final = (22_660.0, 107_500.0)
"""Pressures for ``ALTITUDE_RANGE_M``, Pa, rounded outward."""

PRESSURE_RANGE_PA: Final = (611.213, 22.064e6)
"""Pressures accepted, Pa: from IF97's value at 0 degrees C to the critical point."""

TEMPERATURE_RANGE_C: Final = (0.0, 373.946)
"""Temperatures accepted, degrees C: the saturation line of IF97 up to the critical point."""

AT_THE_BOIL_C: Final = 0.5
"""How far short of a target still counts as reached, degrees C:

"100 C" and "212 F" are common words for boiling, and no open pot at sea level gets past 99.97.
"""

_SEA_LEVEL_K = 288.15
_LAPSE_K_M = 0.0065
_EARTH_RADIUS_M = 6_356_766.0
_EXPONENT = 9.80665 / (287.05287 * _LAPSE_K_M)  # gravity / (gas constant of air x lapse)

# IF97 table 34, coefficients of the dimensionless saturation equation.
_N: Final = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def pressure_pa(altitude_m: float) -> float:
    """Standard air pressure at an altitude.

    Args:
        altitude_m: height above mean sea level, m, -500 to 11 000.

    Returns:
        Pressure, Pa. Weather moves the true pressure by some 3 percent either way.

    Raises:
        OutOfRangeError: altitude outside the lowest layer of the standard atmosphere.
    """
    within(
        "altitude", altitude_m, *ALTITUDE_RANGE_M, "m", "lowest layer of the standard atmosphere"
    )
    geopotential_m = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    ratio = 1 - _LAPSE_K_M * geopotential_m / _SEA_LEVEL_K
    return SEA_LEVEL_PA * float(ratio**_EXPONENT)


def altitude_m(pressure_pa: float) -> float:
    """Altitude at which the standard atmosphere has this pressure; inverse of ``pressure_pa``.

    Args:
        pressure_pa: true (station) pressure, Pa, about 22 700 to 107 500.

    Returns:
        Height above mean sea level, m.

    Raises:
        OutOfRangeError: pressure outside the lowest layer of the standard atmosphere.
    """
    within(
        "pressure", pressure_pa, *LAYER_PRESSURE_PA, "Pa", "lowest layer of the standard atmosphere"
    )
    ratio = float((pressure_pa / SEA_LEVEL_PA) ** (1 / _EXPONENT))
    geopotential_m = (1 - ratio) * _SEA_LEVEL_K / _LAPSE_K_M
    return _EARTH_RADIUS_M * geopotential_m / (_EARTH_RADIUS_M - geopotential_m)


def boiling_c(pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Temperature at which pure water boils under a pressure (IF97 equation 31).

    Args:
        pressure_pa: pressure on the water, Pa, 611.213 to 22 064 000.

    Returns:
        Boiling point, degrees C (ITS-90); 99.97 at standard sea level, not 100.

    Raises:
        OutOfRangeError: pressure off the saturation line.
    """
    within("pressure", pressure_pa, *PRESSURE_RANGE_PA, "Pa", "IF97 saturation line")
    beta = float((pressure_pa / 1e6) ** 0.25)
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - sqrt(f * f - 4 * e * g))
    kelvin = (_N[9] + d - sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2
    return kelvin - 273.15


def boil_reaches(target_c: float, pressure_pa: float = SEA_LEVEL_PA) -> bool:
    """Whether an open boiling rinse can be as hot as a recipe wants, to ``AT_THE_BOIL_C``.

    Args:
        target_c: temperature wanted, degrees C, 0 to 373.946.
        pressure_pa: pressure in the shop, Pa.

    Raises:
        OutOfRangeError: temperature or pressure off the saturation line.
    """
    within("target temperature", target_c, *TEMPERATURE_RANGE_C, "C", "IF97 saturation line")
    return target_c <= boiling_c(pressure_pa) + AT_THE_BOIL_C
