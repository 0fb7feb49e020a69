"""Boiling water at the shop's altitude, and what that does to a boiling rinse."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import result, sources, water
from benchtimer.trade.figure import Figure, ResultLine
from benchtimer.trade.sheets import shop_air
from benchtimer.trade.topic import Parameter, Topic, Values


def boiling_water(values: Values) -> Figure:
    """Boiling point of water in the shop, and whether a rinse can reach a temperature."""
    pressure_pa = shop_air.pressure_pa(values)
    boils_c = water.boiling_c(pressure_pa)
    results = [
        result.temperature("water boils at", boils_c, 2),
        result.temperature_gap("below sea level", water.boiling_c() - boils_c),
        result.plain("pressure", pressure_pa / 1000, "kPa"),
    ]
    if values.has("target"):
        results.append(_reach(values.base("target"), pressure_pa))
    return Figure(
        title="Boiling point of water in this shop",
        results=tuple(results),
        working=(
            shop_air.working(values),
            f"saturation temperature at that pressure (IF97): {boils_c:.2f} C",
            "an open rinse never gets hotter than that, no matter how hard it boils",
        ),
        sources=(*shop_air.cites(values), sources.IF97),
        limits=(
            *shop_air.limits(values),
            "Pure water in an open vessel. Dissolved salt raises the boiling point; a lid does "
            "not, unless it holds pressure.",
            "At altitude, a boiling rinse is cooler and dries parts more slowly. No published "
            "figure was found for how much; judge by the part.",
        ),
        hazards=("Boiling water and steam scald: gloves, apron, face cover.",),
    )


def _reach(target_c: float, pressure_pa: float) -> ResultLine:
    if water.boil_reaches(target_c, pressure_pa):
        return result.words("rinse at the target", "can be reached")
    short_c = target_c - water.boiling_c(pressure_pa)
    return result.words(
        "rinse at the target", "can't be reached in an open vessel", f"{short_c:.1f} C short"
    )


TOPICS: Final = (
    Topic(
        "water",
        "boiling point of water at an altitude or pressure, for boiling rinses",
        (
            *shop_air.AIR,
            Parameter("target", "temperature", "rinse temperature a recipe asks for", "98 C"),
        ),
        boiling_water,
        {"altitude": "1200 m", "target": "98 C"},
    ),
)
