"""Temper colors at a temperature, and the ceiling a part's temper sets."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import dangers, result, sources, temper
from benchtimer.trade.figure import Figure, ResultLine
from benchtimer.trade.topic import DIFFERENCE, Parameter, Topic, Values

_TIME: Final = (
    "Time matters: the same color comes at 188 C in an hour and at 238 C in eight minutes. A "
    "color is no thermometer."
)
_STEEL: Final = "Plain carbon steel, ground bright. Alloy, oil and finish shift the colors."


def colours(values: Values) -> Figure:
    """Colors that the charts give at a temperature, and how far the charts disagree."""
    steel_c = values.base("temperature")
    return Figure(
        title="Temper color of bright carbon steel",
        results=(
            _colour("average of five sources", steel_c, temper.AVERAGED),
            _colour("a gauge-plate supplier", steel_c, temper.GAUGE_PLATE),
            result.words("held for 1 h", _held(steel_c, hour=True)),
            result.words("held for 8 min", _held(steel_c, hour=False)),
            result.temperature("first color in any table", temper.FIRST_COLOUR_C, 0),
        ),
        working=("the last color each table has reached at this temperature",),
        sources=(
            sources.COLOURS_AVERAGED,
            sources.COLOURS_SUPPLIER,
            sources.COLOURS_HELD,
        ),
        limits=(_TIME, _STEEL),
        hazards=(dangers.HOT_STEEL,),
    )


def ceiling(values: Values) -> Figure:
    """Highest reading that keeps a margin below a part's temper."""
    temper_c, margin_c = values.base("temper"), values.base("margin")
    ceiling_c = temper.ceiling_c(temper_c, margin_c)
    results = [result.temperature("ceiling for the heat", ceiling_c, 0)]
    if values.has("reading"):
        judged = temper.margin(values.base("reading"), temper_c, margin_c)
        results += [
            result.words("verdict", str(judged.verdict)),
            result.temperature_gap("left to the temper", judged.left_c),
        ]
    return Figure(
        title="How warm a tempered part may get",
        results=tuple(results),
        working=(
            f"ceiling = temper - margin: {temper_c:.1f} C - {margin_c:.1f} C = {ceiling_c:.1f} C",
        ),
        sources=(sources.TEMPER_MARGIN, sources.COLOURS_HELD),
        limits=(
            "Why 50 C (90 F): the temper is an oven reading, good to about 10 C; point and edge "
            "run tens of degrees hotter than where a probe touches; and a long soak softens at "
            "less than a short one. Common practice, no source.",
            "Take the lowest temper of the part, and the temperature of its thinnest place: an "
            "edge heats first.",
            _TIME,
        ),
        hazards=(dangers.HOT_STEEL,),
    )


def _colour(label: str, steel_c: float, chart: temper.Chart) -> ResultLine:
    reached = temper.colour_at(steel_c, chart)
    if reached is None:
        first = chart.colours[0]
        return result.words(label, "bright", f"{first.name} begins at {first.at_c:.0f} C")
    return result.words(label, reached.name, f"from {reached.at_c:.0f} C")


def _held(steel_c: float, *, hour: bool) -> str:
    reached = [
        row.name
        for row in temper.HELD_COLOURS
        if (row.one_hour_c if hour else row.eight_minutes_c) <= steel_c + temper.SAME_C
    ]
    return reached[-1] if reached else "bright"


TOPICS: Final = (
    Topic(
        "temper-colour",
        "oxide color of carbon steel at a temperature",
        (Parameter("temperature", "temperature", "steel temperature", "430 F", needed=True),),
        colours,
        {"temperature": "430 F"},
    ),
    Topic(
        "temper-ceiling",
        "highest reading that stays clear of a part's temper",
        (
            Parameter("temper", "temperature", "last tempering temperature", "400 F", needed=True),
            Parameter("reading", "temperature", "reading on the warm part", "190 F"),
            Parameter(
                "margin",
                DIFFERENCE,
                "degrees to stay below the temper",
                "45 F",
                default=f"{temper.USUAL_MARGIN_C:g} C",
            ),
        ),
        ceiling,
        {"temper": "400 F", "reading": "190 F"},
    ),
)
