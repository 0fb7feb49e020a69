"""Dwell at another bath temperature, from the shop's own two readings and nothing else.

Two dwells that gave the same result at two temperatures define a straight line of ln(dwell) against
1/T (Arrhenius), from which you can read a dwell between them. There is no factor for all etchants:
in ferric chloride the rate on steel is governed by how fast the liquid moves past it (published
rotating-disk work finds it proportional to the square root of the speed), which the "doubles every
10 degrees" of the textbooks does not describe, and no activation energy for carbon steel was found
in print.
"""

from __future__ import annotations

from math import exp, log
from typing import Final

from benchtimer.times import duration
from benchtimer.trade import result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.species import GAS_CONSTANT_J_MOL_K
from benchtimer.trade.topic import Parameter, Topic, Values
from benchtimer.trade.valid_range import CannotTellError, OutOfRangeError, within
from benchtimer.values import dataclass

TEMPERATURE_RANGE_C: Final = (-10.0, 160.0)
DWELL_RANGE_S: Final = (1.0, 366 * 86_400.0)

LEAST_SPAN_C: Final = 4.0
"""Readings closer than this show thermometer error, not rate: common practice, no source."""

MOST_REACH_C: Final = 5.0
"""Farthest beyond a reading that gets an answer, and never over half the span between them: common
practice, no source.
"""


@dataclass(frozen=True, slots=True)
class DwellReading:
    """A dwell that gave the right result, and its bath temperature.

    Raises:
        OutOfRangeError: no bath temperature, or no dwell.
    """

    bath_c: float
    dwell_s: float

    def __post_init__(self) -> None:
        within("bath temperature", self.bath_c, *TEMPERATURE_RANGE_C, "C", "a water bath")
        within("dwell", self.dwell_s, *DWELL_RANGE_S, "s", "one second to a year")

    @property
    def kelvin(self) -> float:
        """Absolute temperature, K."""
        return self.bath_c + 273.15


@dataclass(frozen=True, slots=True)
class RateLine:
    """The line through two readings.

    Attributes:
        cool: the reading at the lower temperature.
        warm: the reading at the higher one.

    Raises:
        CannotTellError: the readings are too close, or the warmer bath was not faster.
    """

    cool: DwellReading
    warm: DwellReading

    def __post_init__(self) -> None:
        span = self.warm.bath_c - self.cool.bath_c
        if span < LEAST_SPAN_C:
            raise CannotTellError(
                "the effect of temperature",
                f"the readings are {span:.3g} C apart, {LEAST_SPAN_C:g} C is the least",
                "take a reading in a bath that is clearly warmer or cooler",
            )
        if self.warm.dwell_s >= self.cool.dwell_s:
            raise CannotTellError(
                "the effect of temperature",
                "the warmer bath took as long or longer, so something else was different",
                "compare strength, cleaning, age of the bath and steel of the two tries",
            )

    @property
    def activation_j_mol(self) -> float:
        """Apparent activation energy, J/mol: a slope for this bath, not a property of steel."""
        run = 1 / self.cool.kelvin - 1 / self.warm.kelvin
        return GAS_CONSTANT_J_MOL_K * log(self.cool.dwell_s / self.warm.dwell_s) / run

    @property
    def range_c(self) -> tuple[float, float]:
        """Temperatures with an answer: the span of the readings and a little beyond."""
        reach = min(MOST_REACH_C, (self.warm.bath_c - self.cool.bath_c) / 2)
        return self.cool.bath_c - reach, self.warm.bath_c + reach

    def factor(self, bath_c: float) -> float:
        """Dwell at a temperature as a multiple of the cooler reading's dwell.

        Args:
            bath_c: bath temperature, degrees C, inside ``range_c``.

        Raises:
            OutOfRangeError: too far from the readings.
        """
        low, high = self.range_c
        if not low <= bath_c <= high:
            raise OutOfRangeError(
                "bath temperature", bath_c, low, high, "C", "your readings go no further"
            )
        run = 1 / (bath_c + 273.15) - 1 / self.cool.kelvin
        return exp(self.activation_j_mol / GAS_CONSTANT_J_MOL_K * run)

    def dwell_s(self, bath_c: float) -> float:
        """Dwell that should give the same result at a temperature, s.

        Raises:
            OutOfRangeError: too far from the readings.
        """
        return self.cool.dwell_s * self.factor(bath_c)


def from_readings(first: DwellReading, second: DwellReading) -> RateLine:
    """The rate through two readings, in either order.

    Raises:
        CannotTellError: the readings are too close, or the warmer bath was not faster.
    """
    cool, warm = sorted((first, second), key=lambda r: r.bath_c)
    return RateLine(cool, warm)


def dwell(values: Values) -> Figure:
    """The dwell that should give the same result at another temperature."""
    line = from_readings(_reading(values, "first"), _reading(values, "second"))
    bath_c = values.base("temperature")
    dwell_s = line.dwell_s(bath_c)
    low, high = line.range_c
    return Figure(
        title="Dwell at another temperature",
        results=(
            result.words("dwell", duration(round(dwell_s)), "then look"),
            result.plain("factor on the cooler dwell", line.factor(bath_c), "", 2),
            result.temperature("answered from", low),
            result.temperature("answered up to", high),
        ),
        working=(
            f"{line.cool.bath_c:.1f} C took {line.cool.dwell_s:.0f} s, "
            f"{line.warm.bath_c:.1f} C took {line.warm.dwell_s:.0f} s",
            f"slope of ln(dwell) against 1/T: {line.activation_j_mol / 1000:.0f} kJ/mol, apparent",
            "textbook slopes, from memory and not a verdict: 15 to 25 kJ/mol if the motion of the "
            "liquid governs, 40 to 60 if the surface does",
            f"{line.cool.dwell_s:.0f} s x {line.factor(bath_c):.3f} = {dwell_s:.0f} s",
        ),
        sources=(sources.ARRHENIUS, sources.TRANSPORT, sources.RATE_REACH, sources.ENERGY_BANDS),
        limits=(
            "Valid only for the same bath, strength, stirring and steel as the two readings, and "
            "only between them and a little beyond.",
            "There is no doubling rule here: published work finds that the motion of the liquid "
            "governs the etching of steel in ferric chloride, and no slope for all baths was "
            "found.",
            "Two readings always make a line, good or bad: a third one checks it.",
        ),
    )


def _reading(values: Values, which: str) -> DwellReading:
    return DwellReading(values.base(f"{which}_temperature"), values.base(f"{which}_dwell"))


def _pair(which: str, temperature: str, time: str) -> tuple[Parameter, Parameter]:
    return (
        Parameter(
            f"{which}_temperature",
            "temperature",
            f"bath temperature of the {which} reading",
            temperature,
            needed=True,
        ),
        Parameter(
            f"{which}_dwell",
            "time",
            f"dwell that gave the result at the {which}",
            time,
            needed=True,
        ),
    )


TOPICS: Final = (
    Topic(
        "dwell",
        "dwell at another temperature, from two of the shop's own readings",
        (
            *_pair("first", "18 C", "6 min 30 s"),
            *_pair("second", "24 C", "5 min"),
            Parameter("temperature", "temperature", "bath temperature now", "21 C", needed=True),
        ),
        dwell,
        {
            "first_temperature": "18 C",
            "first_dwell": "6 min 30 s",
            "second_temperature": "24 C",
            "second_dwell": "5 min",
            "temperature": "21 C",
        },
    ),
)
