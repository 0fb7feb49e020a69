"""Oxide colors of plain carbon steel, and the ceiling a part's temper sets.

A color is not a thermometer: the film grows with time as well as heat, so a long hold shows the
color of a hotter short one. A color shows only that the steel was warm enough for long enough.

Sources: "Tempering Colors on Carbon Steels", an average over five tables on a steelmaking
site; a gauge-plate supplier's modern chart; for time, the steel-mill table quoted in "The
Working of Steel" (table 23).
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from benchtimer.quantity import Quantity
from benchtimer.trade import dangers, result, sources
from benchtimer.trade.figure import Figure, ResultLine
from benchtimer.trade.topic import DIFFERENCE, Parameter, Topic, Values
from benchtimer.trade.valid_range import within
from benchtimer.values import dataclass

TEMPERATURE_RANGE_C: Final = (-60.0, 700.0)
"""Readings and tempers accepted, degrees C."""

USUAL_MARGIN_C: Final = 50.0
"""Margin kept below a temper if the maker names none: common practice, no source.

It has to cover three errors at once. The temper itself is an oven reading, good to about 10 C.
A probe reads the steel where it touches, and under a heat gun the point and the edge run tens
of degrees hotter. And time adds to heat: a long hold softens at less than a short one."""

SAME_C: Final = 1e-9
"""Readings closer than this count as the same one in other units."""


@dataclass(frozen=True, slots=True)
class Color:
    """A color and the temperature a chart gives for it, degrees C."""

    name: str
    at_c: float


@dataclass(frozen=True, slots=True)
class Chart:
    """One published chart, coolest color first."""

    cite: str
    colors: tuple[Color, ...]


def _chart(cite: str, rows_f: dict[str, float]) -> Chart:
    return Chart(cite, tuple(Color(n, Quantity(f, "F").base) for n, f in rows_f.items()))


AVERAGED: Final = _chart(
    '"Tempering Colors on Carbon Steels", average of five sources, a steelmaking site',
    {
        "faint yellow": 430,
        "light straw": 458,
        "dark straw": 478,
        "purple, reddish": 523,
        "purple, bluish": 551,
        "blue": 572,
        "gray-blue": 603,
        "greenish blue": 627,
    },
)

GAUGE_PLATE: Final = _chart(
    "a gauge-plate supplier's chart of temper colors",
    {
        "light yellow": 410,
        "straw": 430,
        "yellow": 450,
        "dark yellow": 460,
        "yellow-brown": 480,
        "red-brown": 500,
        "purple": 520,
        "violet": 530,
        "dark blue": 550,
        "medium blue": 570,
        "light blue": 590,
        "gray-blue": 610,
        "gray-green": 630,
    },
)


@dataclass(frozen=True, slots=True)
class HeldColor:
    """The same color after a long and a short hold, degrees C."""

    name: str
    one_hour_c: float
    eight_minutes_c: float


_HELD_F: Final = {
    "faint yellow": (370, 460),
    "light straw": (390, 510),
    "dark straw": (410, 560),
    "brown": (430, 610),
    "purple": (450, 640),
    "dark blue": (490, 660),
    "light blue": (510, 710),
}
HELD_COLORS: Final = tuple(
    HeldColor(name, *(Quantity(f, "F").base for f in pair)) for name, pair in _HELD_F.items()
)
"""Same color, 1 h against 8 min: "The Working of Steel", table 23."""

FIRST_COLOR_C: Final = HELD_COLORS[0].one_hour_c
"""Lowest temperature in any of the tables that shows a color, degrees C (an hour's hold)."""


def color_at(steel_c: float, chart: Chart = AVERAGED) -> Color | None:
    """The last color a chart reaches at a temperature; None below its first.

    Args:
        steel_c: steel temperature, degrees C, -60 to 700.
        chart: the chart to read.

    Raises:
        OutOfRangeError: no tempering temperature.
    """
    within("steel temperature", steel_c, *TEMPERATURE_RANGE_C, "C", "tempering of steel")
    reached = [color for color in chart.colors if color.at_c <= steel_c + SAME_C]
    return reached[-1] if reached else None


class MarginVerdict(StrEnum):
    """How a reading compares with a part's temper."""

    CLEAR = "below the ceiling"
    INSIDE = "inside the margin: stop warming"
    AT_TEMPER = "at or above the temper: the steel may have softened"


@dataclass(frozen=True, slots=True)
class Margin:
    """A reading against a part's temper.

    Attributes:
        left_c: degrees from the reading up to the temper, negative above it.
        ceiling_c: highest reading that keeps the margin, degrees C.
        verdict: which side of the ceiling the reading is on.
    """

    left_c: float
    ceiling_c: float
    verdict: MarginVerdict


def ceiling_c(temper_c: float, margin_c: float = USUAL_MARGIN_C) -> float:
    """Highest reading that keeps a margin below a part's temper, degrees C.

    Args:
        temper_c: temperature the part was last tempered at, degrees C, 100 to 700.
        margin_c: degrees to stay below it, 0 to 200.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    within("temper", temper_c, 100, TEMPERATURE_RANGE_C[1], "C", "tempering of steel")
    within("margin", margin_c, 0, 200, "C", "a margin below a temper")
    return temper_c - margin_c


def margin(reading_c: float, temper_c: float, margin_c: float = USUAL_MARGIN_C) -> Margin:
    """Judge a reading on a warm part.

    Args:
        reading_c: temperature of the steel, degrees C, -60 to 700.
        temper_c: temperature it was last tempered at, degrees C, 100 to 700.
        margin_c: degrees to stay below it, 0 to 200.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    ceiling = ceiling_c(temper_c, margin_c)
    within("reading", reading_c, *TEMPERATURE_RANGE_C, "C", "tempering of steel")
    left = temper_c - reading_c
    if left <= 0:
        verdict = MarginVerdict.AT_TEMPER
    elif reading_c > ceiling:
        verdict = MarginVerdict.INSIDE
    else:
        verdict = MarginVerdict.CLEAR
    return Margin(left, ceiling, verdict)


_TIME: Final = (
    "Time matters: the same color comes at 188 C in an hour and at 238 C in eight minutes. A color "
    "is not a thermometer."
)
_STEEL: Final = "Plain carbon steel, ground bright. Alloy, oil and finish shift the colors."


def colors(values: Values) -> Figure:
    """Colors that the charts give at a temperature, and how far the charts disagree."""
    steel_c = values.base("temperature")
    return Figure(
        title="Temper color of bright carbon steel",
        results=(
            _color("average of five sources", steel_c, AVERAGED),
            _color("a gauge-plate supplier", steel_c, GAUGE_PLATE),
            result.words("held for 1 h", _held(steel_c, hour=True)),
            result.words("held for 8 min", _held(steel_c, hour=False)),
            result.temperature("first color in any table", FIRST_COLOR_C, 0),
        ),
        working=("the last color each table has reached at this temperature",),
        sources=(
            sources.COLORS_AVERAGED,
            sources.COLORS_SUPPLIER,
            sources.COLORS_HELD,
        ),
        limits=(_TIME, _STEEL),
        hazards=(dangers.HOT_STEEL,),
    )


def ceiling(values: Values) -> Figure:
    """Highest reading that keeps a margin below a part's temper."""
    temper_c, margin_c = values.base("temper"), values.base("margin")
    highest_c = ceiling_c(temper_c, margin_c)
    results = [result.temperature("ceiling for the heat", highest_c, 0)]
    if values.has("reading"):
        judged = margin(values.base("reading"), temper_c, margin_c)
        results += [
            result.words("verdict", str(judged.verdict)),
            result.temperature_gap("left to the temper", judged.left_c),
        ]
    return Figure(
        title="How warm a tempered part can get",
        results=tuple(results),
        working=(
            f"ceiling = temper - margin: {temper_c:.1f} C - {margin_c:.1f} C = {highest_c:.1f} C",
        ),
        sources=(sources.TEMPER_MARGIN, sources.COLORS_HELD),
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


def _color(label: str, steel_c: float, chart: Chart) -> ResultLine:
    reached = color_at(steel_c, chart)
    if reached is None:
        first = chart.colors[0]
        return result.words(label, "bright", f"{first.name} begins at {first.at_c:.0f} C")
    return result.words(label, reached.name, f"from {reached.at_c:.0f} C")


def _held(steel_c: float, *, hour: bool) -> str:
    reached = [
        row.name
        for row in HELD_COLORS
        if (row.one_hour_c if hour else row.eight_minutes_c) <= steel_c + SAME_C
    ]
    return reached[-1] if reached else "bright"


TOPICS: Final = (
    Topic(
        "temper-color",
        "oxide color of carbon steel at a temperature",
        (Parameter("temperature", "temperature", "steel temperature", "430 F", needed=True),),
        colors,
        {"temperature": "430 F"},
    ),
    Topic(
        "temper-ceiling",
        "highest reading that stays safely below a part's temper",
        (
            Parameter("temper", "temperature", "last tempering temperature", "400 F", needed=True),
            Parameter("reading", "temperature", "reading on the warm part", "190 F"),
            Parameter(
                "margin",
                DIFFERENCE,
                "degrees to stay below the temper",
                "45 F",
                default=f"{USUAL_MARGIN_C:g} C",
            ),
        ),
        ceiling,
        {"temper": "400 F", "reading": "190 F"},
    ),
)
