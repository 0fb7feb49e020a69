"""Figures that the tests derive from the program's own and the program itself does not need."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from benchtimer.trade import species, water
from benchtimer.trade.figure import Figure
from benchtimer.trade.sheets import temper_sheet
from benchtimer.trade.topics import find_topic

CHARTS = (temper_sheet.AVERAGED, temper_sheet.GAUGE_PLATE)

NEUTRALIZING_FERROUS: species.Reaction = {
    "FeCl2": -1, "NaHCO3": -2, "FeCO3": 1, "NaCl": 2, "CO2": 1, "H2O": 1,
}  # fmt: skip
"""Bicarbonate precipitates ferrous chloride as carbonate."""


def boiling_at_altitude_c(altitude_m: float) -> float:
    """Boiling point of pure water at an altitude in standard weather."""
    return water.boiling_c(water.pressure_pa(altitude_m))


def temperature_of(name: str, chart: temper_sheet.Chart = temper_sheet.AVERAGED) -> float:
    """The temperature a chart gives for a color, degrees C."""
    return next(color.at_c for color in chart.colors if color.name == name)


def imbalance(reaction: species.Reaction) -> dict[str, int]:
    """Atoms gained or lost by element; empty for a balanced equation."""
    atoms: Counter[str] = Counter()
    for substance, moles in reaction.items():
        for element, count in species.COMPOSITION[substance].items():
            atoms[element] += moles * count
    return {element: count for element, count in atoms.items() if count}


def figure_for(
    name: str, arguments: Mapping[str, str], shop: Mapping[str, str] | None = None
) -> Figure:
    """Answer a topic from texts with units, as ``calc`` does."""
    return find_topic(name).figure(arguments, shop)
