"""Dwell at another bath temperature, from the shop's own two readings."""

from __future__ import annotations

from typing import Final

from benchtimer.times import duration
from benchtimer.trade import rate, result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, Values


def dwell(values: Values) -> Figure:
    """The dwell that should give the same result at another temperature."""
    line = rate.from_readings(_reading(values, "first"), _reading(values, "second"))
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
            "textbook slopes, from memory and no verdict: 15 to 25 kJ/mol where the motion of the "
            "liquid governs, 40 to 60 where the surface does",
            f"{line.cool.dwell_s:.0f} s x {line.factor(bath_c):.3f} = {dwell_s:.0f} s",
        ),
        sources=(sources.ARRHENIUS, sources.TRANSPORT, sources.RATE_REACH, sources.ENERGY_BANDS),
        limits=(
            "Good only for the same bath, strength, stirring and steel as the two readings, and "
            "only between them and a little beyond.",
            "There is no doubling rule here: published work finds the etching of steel in ferric "
            "chloride governed by the motion of the liquid, and no slope for all baths was found.",
            "Two readings fix a line whether or not they are good: a third one tells.",
        ),
    )


def _reading(values: Values, which: str) -> rate.DwellReading:
    return rate.DwellReading(values.base(f"{which}_temperature"), values.base(f"{which}_dwell"))


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
