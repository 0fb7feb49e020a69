"""The air pressure for a figure: measured if given, otherwise from the altitude."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import sources, water
from benchtimer.trade.figure import Amount, FigureSource
from benchtimer.trade.topic import Parameter, TopicError, Values

ALTITUDE: Final = Parameter(
    "altitude", "length", "height of the shop above sea level", "1200 m", default="0 m"
)
PRESSURE: Final = Parameter(
    "pressure", "pressure", "true pressure in the shop, instead of the altitude", "87.5 kPa"
)
AIR: Final = (ALTITUDE, PRESSURE)

WEATHER: Final = (
    "From the altitude the pressure is that of standard weather; real weather moves it by about 3 "
    "% (from memory), about 0.8 C of boiling point."
)
STATION: Final = (
    "A weather report gives the pressure at sea level: enter the true pressure in the shop."
)


def pressure_pa(values: Values) -> float:
    """Pressure in the shop, Pa.

    Raises:
        TopicError: both an altitude and a pressure were given.
        OutOfRangeError: an altitude outside the standard atmosphere.
    """
    measured = values.maybe("pressure")
    if measured is None:
        return water.pressure_pa(values.base("altitude") / 1000)
    if values.written("altitude"):
        raise TopicError(values.topic, ["give altitude or pressure, not both"])
    return measured


def working(values: Values) -> str:
    """One line on where the pressure comes from."""
    shown = Amount(pressure_pa(values) / 1000, "kPa", 2)
    if values.has("pressure"):
        return f"pressure as measured: {shown}"
    return f"standard atmosphere at {values.quantity('altitude')}: {shown}"


def cites(values: Values) -> tuple[FigureSource, ...]:
    """Sources of the pressure."""
    return () if values.has("pressure") else (sources.ATMOSPHERE,)


def limits(values: Values) -> tuple[str, ...]:
    """The uncertainty from the pressure."""
    return (STATION,) if values.has("pressure") else (WEATHER,)
