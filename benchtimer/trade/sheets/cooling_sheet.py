"""How long a small part cools before the oil, and how warm a part may go into an oil."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import cooling, dangers, result, sources
from benchtimer.trade.cooling import Block
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, Values

_SURFACES: Final = {"black": cooling.OXIDIZED, "polished": cooling.POLISHED}
_SLOWEST_H: Final = 5.0


def cooling_time(values: Values) -> Figure:
    """Time for a small steel part to cool in still air and swirled in water."""
    block = Block(values.base("length"), values.base("width"), values.base("thickness"))
    start_c, end_c = values.base("from"), values.base("to")
    air_c, water_c = values.base("air"), values.base("water")
    emissivity = _SURFACES[values.text("surface")]
    air_s = cooling.still_air_s(block, start_c, end_c, air_c, emissivity)
    dead_s = cooling.cooling_s(block, start_c, end_c, air_c, _SLOWEST_H)
    dip_s = cooling.cooling_s(block, start_c, end_c, water_c, cooling.SWIRLED_W_M2_K)
    height_m = block.longest_mm / 1000
    hot, cool = (
        cooling.still_air_w_m2_k(at_c, air_c, height_m, emissivity) for at_c in (start_c, end_c)
    )
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
            f"water: h = {cooling.SWIRLED_W_M2_K:g} W/(m2 K), low in the published range",
        ),
        sources=(sources.STILL_AIR, sources.CONVECTION_RANGES, sources.LUMPED),
        limits=(
            "A block hung clear of everything, by its longest side. A part that lies on a bench, "
            "or hangs close to others, cools slower.",
            "The part counts as one temperature throughout, which holds for small steel parts.",
            "Measure before you trust the clock: a contact probe on the thickest place.",
        ),
        hazards=(dangers.HOT_PART, dangers.DEFER),
    )


def oil_temperature(values: Values) -> Figure:
    """How warm a part may be when it goes into an oil, from the oil's flash point."""
    flash_c = values.base("flash")
    limit_c = cooling.oil_limit_c(flash_c)
    return Figure(
        title="How warm a part may go into the oil",
        results=(
            result.temperature("part and oil at most", limit_c),
            result.words("so", _oil_verdict(limit_c)),
        ),
        working=(
            f"flash point {flash_c:.1f} C less {cooling.FLASH_MARGIN_C:g} C "
            f"= {flash_c - cooling.FLASH_MARGIN_C:.1f} C",
            f"never above {cooling.PART_INTO_OIL_MAX_C:g} C (hand-warm), whatever the flash point",
        ),
        sources=(sources.DIP_TANK, sources.HAND_WARM),
        limits=(
            "The flash point is the one on the data sheet of your oil. The words on the can say "
            "nothing about it.",
            "The rule is written for dip tanks of oil used in hardening and tempering; its older "
            "form held for any dip tank.",
        ),
        hazards=(dangers.OIL_VAPOR, dangers.DEFER),
    )


def _oil_verdict(limit_c: float) -> str:
    if limit_c >= cooling.PART_INTO_OIL_MAX_C:
        return "hand-warm is cool enough"
    if limit_c >= cooling.ROOM_C:
        return "cool the part to room temperature, and keep the oil there"
    return "no oil for a warm shop: use one with a higher flash point"


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
        "how warm a part may go into an oil, from the oil's flash point",
        (Parameter("flash", _C, "flash point on the data sheet", "62 C", needed=True),),
        oil_temperature,
        {"flash": "62 C"},
    ),
)
