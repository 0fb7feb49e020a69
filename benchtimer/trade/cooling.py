"""How long a small steel part takes to cool, in still air and in water.

The part is taken as one temperature throughout (Biot number far below 0.1: about 0.0003 in
still air). In still air heat leaves by free convection and by radiation; both weaken as the
part cools, so the time is a sum over small steps of temperature.

Sources:
    Free convection on a vertical plate in air: h = 1.42 (dT/L)^0.25 W/(m2 K), L in m;
    thermofluidcalc.com and engineersedge.com. A longer L gives a longer time.
    Radiation: Stefan-Boltzmann law, emissivity about 0.8 for oxidized steel and 0.2 for
    polished steel (same pages).
    Ranges of h: Cengel, notes at mhhe.com: free convection of gases 2-25, forced convection
    of liquids 50-20 000 W/(m2 K).
    Lumped body and the value of h in still air: standard text on heat transfer.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from typing import Final

from benchtimer.trade.valid_range import CannotTellError, within

STEEL_KG_M3: Final = 7850.0
STEEL_J_KG_K: Final = 486.0
"""Density and heat capacity of plain carbon steel near room temperature (common handbook
values, those of the check values this module is tested against)."""

STEFAN_BOLTZMANN_W_M2_K4: Final = 5.670374419e-8
"""CODATA 2018, exact to these figures."""

OXIDIZED: Final = 0.8
"""Emissivity of oxidized, blued or blackened steel."""

POLISHED: Final = 0.2
"""Emissivity of polished steel."""

SWIRLED_W_M2_K: Final = 200.0
"""Heat transfer coefficient of a part swirled in cold water: a low value of the published
range of forced convection of liquids (50 to 20 000), so that the time is on the safe side."""

TEMPERATURE_RANGE_C: Final = (-20.0, 400.0)
SIZE_RANGE_MM: Final = (0.5, 1000.0)
COEFFICIENT_RANGE_W_M2_K: Final = (2.0, 20_000.0)
_STEPS = 200


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangular block of steel.

    Attributes:
        length_mm: its longest side; ``width_mm`` and ``thickness_mm`` the others.

    Raises:
        OutOfRangeError: a side outside 0.5 to 1000 mm.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float

    def __post_init__(self) -> None:
        sides = (self.length_mm, self.width_mm, self.thickness_mm)
        for name, side in zip(("length", "width", "thickness"), sides, strict=True):
            within(name, side, *SIZE_RANGE_MM, "mm", "a part at the bench")

    @property
    def j_m2_k(self) -> float:
        """Heat it holds per degree and per area of its surface, J/(m2 K)."""
        a, b, c = self.length_mm, self.width_mm, self.thickness_mm
        volume_m3 = a * b * c * 1e-9
        area_m2 = 2 * (a * b + b * c + c * a) * 1e-6
        return STEEL_KG_M3 * STEEL_J_KG_K * volume_m3 / area_m2

    @property
    def longest_mm(self) -> float:
        """Its longest side: hung that way up it cools slowest."""
        return max(self.length_mm, self.width_mm, self.thickness_mm)


def cooling_s(block: Block, from_c: float, to_c: float, around_c: float, h_w_m2_k: float) -> float:
    """Time to cool with a heat transfer coefficient that stays the same.

    Args:
        block: the part.
        from_c: temperature at the start, degrees C.
        to_c: temperature at the end, above that around it.
        around_c: temperature of the air or water.
        h_w_m2_k: heat transfer coefficient, W/(m2 K), 2 to 20 000.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: it never gets that cool.
    """
    within("heat transfer coefficient", h_w_m2_k, *COEFFICIENT_RANGE_W_M2_K, "W/(m2 K)", "Cengel")
    _check(from_c, to_c, around_c)
    return block.j_m2_k / h_w_m2_k * log((from_c - around_c) / (to_c - around_c))


def still_air_s(
    block: Block,
    from_c: float,
    to_c: float,
    air_c: float = 20.0,
    emissivity: float = OXIDIZED,
    height_mm: float | None = None,
) -> float:
    """Time to cool in still air, by convection and radiation.

    Args:
        block: the part, hung clear of everything.
        from_c: temperature at the start, degrees C.
        to_c: temperature at the end, above that of the air.
        air_c: temperature of air and walls.
        emissivity: 0.05 to 1; ``OXIDIZED`` or ``POLISHED``.
        height_mm: the side that hangs vertically; the longest one, which is slowest, if None.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: it never gets that cool.
    """
    within("emissivity", emissivity, 0.05, 1, "", "a surface of steel")
    _check(from_c, to_c, air_c)
    height_m = (block.longest_mm if height_mm is None else height_mm) / 1000
    low, high = log(to_c - air_c), log(from_c - air_c)
    step = (high - low) / _STEPS
    inverse = [
        1 / still_air_w_m2_k(air_c + exp(low + i * step), air_c, height_m, emissivity)
        for i in range(_STEPS + 1)
    ]
    simpson = inverse[0] + inverse[-1] + 4 * sum(inverse[1:-1:2]) + 2 * sum(inverse[2:-1:2])
    return block.j_m2_k * simpson * step / 3


def still_air_w_m2_k(steel_c: float, air_c: float, height_m: float, emissivity: float) -> float:
    """Heat transfer coefficient in still air, convection and radiation together, W/(m2 K).

    Args:
        steel_c: temperature of the surface, degrees C, above that of the air.
        air_c: temperature of air and walls.
        height_m: vertical length of the surface, m.
        emissivity: of the surface, 0 to 1.
    """
    convection = 1.42 * float(((steel_c - air_c) / height_m) ** 0.25)
    hot_k, cold_k = steel_c + 273.15, air_c + 273.15
    radiation = STEFAN_BOLTZMANN_W_M2_K4 * (hot_k + cold_k) * (hot_k**2 + cold_k**2)
    return convection + emissivity * radiation


def _check(from_c: float, to_c: float, around_c: float) -> None:
    for name, value in (("start", from_c), ("end", to_c), ("surroundings", around_c)):
        within(
            f"temperature of the {name}", value, *TEMPERATURE_RANGE_C, "C", "a part at the bench"
        )
    if to_c <= around_c:
        raise CannotTellError(
            "the cooling time",
            f"the part never gets below the {around_c:g} C around it",
            "give an end temperature above that",
        )
    if from_c < to_c:
        raise CannotTellError(
            "the cooling time", "the part is cooler than that already", "nothing to wait for"
        )


PART_INTO_OIL_MAX_C: Final = 40.0
"""No part goes into oil warmer than this: hand-warm. Common practice, no source."""

FLASH_MARGIN_C: Final = 28.0
"""Oil and part stay this far below the oil's flash point. 29 CFR 1910.126(a)(2): alarm within
50 F, which as a difference is 27.8 C (the rule's own "10 C" is a misprint)."""


ROOM_C: Final = 25.0
"""As warm as a shop is on most days: an oil whose limit is lower fits no shop. Common practice,
no source."""


def oil_limit_c(flash_c: float) -> float:
    """Highest temperature at which a part may go into an oil, degrees C.

    Args:
        flash_c: the oil's flash point by its data sheet, degrees C, -60 to 400.

    Raises:
        OutOfRangeError: no oil flashes there.
    """
    within("flash point", flash_c, -60, 400, "C", "oils")
    return min(PART_INTO_OIL_MAX_C, flash_c - FLASH_MARGIN_C)
