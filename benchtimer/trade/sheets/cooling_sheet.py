"""How long a small steel part takes to cool in still air and in water, and how warm it can go into
an oil. The part is assumed to have one temperature throughout (Biot number far below 0.1: about
0.0003 in still air). In still air heat leaves by free convection and by radiation; both weaken as
the part cools, so the time is a sum over small steps of temperature.

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

from math import exp, log
from typing import Final

from benchtimer.trade import dangers, result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, Values
from benchtimer.trade.valid_range import CannotTellError, within
from benchtimer.values import dataclass

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
            f"the part can't cool below the {around_c:g} C around it",
            "give a higher end temperature",
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
"""As warm as a shop is on most days: an oil with a lower limit fits no shop.

Common practice, no source.
"""


def oil_limit_c(flash_c: float) -> float:
    """Highest temperature at which a part can go into an oil, degrees C.

    Args:
        flash_c: the oil's flash point by its data sheet, degrees C, -60 to 400.

    Raises:
        OutOfRangeError: no oil flashes there.
    """
    within("flash point", flash_c, -60, 400, "C", "oils")
    return min(PART_INTO_OIL_MAX_C, flash_c - FLASH_MARGIN_C)


_SURFACES: Final = {"black": OXIDIZED, "polished": POLISHED}
_SLOWEST_H: Final = 5.0


def cooling_time(values: Values) -> Figure:
    """Time for a small steel part to cool in still air and swirled in water."""
    block = Block(values.base("length"), values.base("width"), values.base("thickness"))
    start_c, end_c = values.base("from"), values.base("to")
    air_c, water_c = values.base("air"), values.base("water")
    emissivity = _SURFACES[values.text("surface")]
    air_s = still_air_s(block, start_c, end_c, air_c, emissivity)
    dead_s = cooling_s(block, start_c, end_c, air_c, _SLOWEST_H)
    dip_s = cooling_s(block, start_c, end_c, water_c, SWIRLED_W_M2_K)
    height_m = block.longest_mm / 1000
    hot, cool = (still_air_w_m2_k(at_c, air_c, height_m, emissivity) for at_c in (start_c, end_c))
    return Figure(
        title="Cooling time of a small steel part",
        results=(
            result.plain("in still air", air_s / 60, "min", 1),
            result.plain("in a dead corner, no draft at all", dead_s / 60, "min", 1),
            result.plain("swirled in cold water", dip_s, "s", 0),
        ),
        working=(
            f"heat held per surface: {block.j_m2_k / 1000:.2f} kJ/(m2 K) "
            "(7850 kg/m3 x 486 J/(kg K) x volume / surface)",
            f"still air: h = 1.42 (dT/{height_m:g} m)^0.25 + radiation at emissivity "
            f"{emissivity:g}: {hot:.1f} W/(m2 K) at first, {cool:.1f} at the end, summed up in "
            "small steps",
            f"dead corner: h = {_SLOWEST_H:g} W/(m2 K) all the way",
            f"water: h = {SWIRLED_W_M2_K:g} W/(m2 K), low in the published range",
        ),
        sources=(sources.STILL_AIR, sources.CONVECTION_RANGES, sources.LUMPED),
        limits=(
            "A block hung clear of everything, by its longest side. A part on a bench, or close to "
            "others, cools slower.",
            "The part is taken to be at one temperature throughout, which is true of small steel "
            "parts.",
            "Measure before you trust the clock: a contact probe on the thickest place.",
        ),
        hazards=(dangers.HOT_PART, dangers.DEFER),
    )


def oil_temperature(values: Values) -> Figure:
    """How warm a part can be when it goes into an oil, from the oil's flash point."""
    flash_c = values.base("flash")
    limit_c = oil_limit_c(flash_c)
    return Figure(
        title="How warm a part can go into the oil",
        results=(
            result.temperature("part and oil at most", limit_c),
            result.words("so", _oil_verdict(limit_c)),
        ),
        working=(
            f"flash point {flash_c:.1f} C less {FLASH_MARGIN_C:g} C "
            f"= {flash_c - FLASH_MARGIN_C:.1f} C",
            f"never above {PART_INTO_OIL_MAX_C:g} C (hand-warm), whatever the flash point",
        ),
        sources=(sources.DIP_TANK, sources.HAND_WARM),
        limits=(
            "Use the flash point on your oil's data sheet. The words on the can don't give it.",
            "The rule is written for dip tanks of oil used in hardening and tempering; its older "
            "form applied to any dip tank.",
        ),
        hazards=(dangers.OIL_VAPOR, dangers.DEFER),
    )


def _oil_verdict(limit_c: float) -> str:
    if limit_c >= PART_INTO_OIL_MAX_C:
        return "hand-warm is cool enough"
    if limit_c >= ROOM_C:
        return "cool the part to room temperature, and keep the oil there"
    return "not an oil for a warm shop: use one with a higher flash point"


_C = "temperature"

TOPICS: Final = (
    Topic(
        "cooling",
        "how long a small steel part takes to cool, in still air and in water",
        (
            Parameter("length", "length", "longest side", "30 mm", default="30 mm"),
            Parameter("width", "length", "next side", "30 mm", default="30 mm"),
            Parameter("thickness", "length", "thickness", "8 mm", default="8 mm"),
            Parameter("from", _C, "temperature at the start", "100 C", default="100 C"),
            Parameter("to", _C, "temperature at the end", "40 C", default="40 C"),
            Parameter("air", _C, "temperature of the air", "20 C", default="20 C"),
            Parameter("water", _C, "temperature of the cold water", "15 C", default="15 C"),
            Parameter(
                "surface",
                "choice",
                "what the surface is like",
                "black",
                default="black",
                choices=tuple(_SURFACES),
            ),
        ),
        cooling_time,
        {"length": "30 mm", "width": "30 mm", "thickness": "8 mm", "air": "25 C"},
    ),
    Topic(
        "oil-temperature",
        "how warm a part can go into an oil, from the oil's flash point",
        (Parameter("flash", _C, "flash point on the data sheet", "62 C", needed=True),),
        oil_temperature,
        {"flash": "62 C"},
    ),
)
