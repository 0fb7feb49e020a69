"""Result lines in both US and metric units."""

from __future__ import annotations

from benchtimer.quantity import Quantity
from benchtimer.trade.figure import Amount, ResultLine


def temperature(label: str, value_c: float, places: int = 1, note: str = "") -> ResultLine:
    """A temperature in C and F.

    Args:
        label: what it is.
        value_c: in degrees C.
        places: decimals.
        note: shown after it.
    """
    return ResultLine(
        label, Amount(value_c, "C", places), (_other(value_c, "C", "F", places),), note
    )


def temperature_gap(label: str, gap_c: float) -> ResultLine:
    """A difference of temperatures in C and F (times 9/5, no offset)."""
    return ResultLine(label, Amount(gap_c, "C"), (Amount(gap_c * 1.8, "F"),))


def mass(label: str, value_g: float, note: str = "", bound: str = "") -> ResultLine:
    """A mass in g and oz, read in kg and lb from a kilogram up.

    Args:
        label: what it is.
        value_g: in grams.
        note: shown after it.
        bound: such as ``at least``.
    """
    heavy = (_other(value_g, "g", "kg", 2), _other(value_g, "g", "lb", 2))
    return ResultLine(
        label,
        Amount(value_g, "g"),
        (_other(value_g, "g", "oz", 2),),
        note,
        heavy if abs(value_g) >= 1000 else (),
        bound,
    )


def volume(label: str, value_l: float, note: str = "", bound: str = "") -> ResultLine:
    """A volume in L and gal, read in mL and fl oz below a liter.

    Args:
        label: what it is.
        value_l: in liters.
        note: shown after it.
        bound: such as ``at least``.
    """
    small = (_other(value_l, "L", "mL", 0), _other(value_l, "L", "fl oz", 1))
    return ResultLine(
        label,
        Amount(value_l, "L", 2),
        (_other(value_l, "L", "gal", 2),),
        note,
        small if abs(value_l) < 1 else (),
        bound,
    )


def length(label: str, value_m: float, places: int = 2) -> ResultLine:
    """A small length in mm and inches.

    Args:
        label: what it is.
        value_m: in meters.
        places: decimals of the millimeters.
    """
    inches = _other(value_m * 1000, "mm", "in", places + 1)
    return ResultLine(label, Amount(value_m * 1000, "mm", places), (inches,))


def speed(label: str, value_m_s: float, note: str = "") -> ResultLine:
    """A surface speed in m/s and ft/min.

    Args:
        label: what it is.
        value_m_s: in meters per second.
        note: shown after it.
    """
    return ResultLine(
        label, Amount(value_m_s, "m/s", 2), (_other(value_m_s, "m/s", "ft/min", 0),), note
    )


def share(
    label: str, value_pct: float, places: int = 1, note: str = "", bound: str = ""
) -> ResultLine:
    """A percentage.

    Args:
        label: what it is.
        value_pct: in percent.
        places: decimals.
        note: shown after it.
        bound: such as ``at least``.
    """
    return ResultLine(label, Amount(value_pct, "%", places), note=note, bound=bound)


def plain(
    label: str, value: float, unit: str = "", places: int = 2, note: str = "", bound: str = ""
) -> ResultLine:
    """A value in one unit only.

    Args:
        label: what it is.
        value: the number.
        unit: its unit.
        places: decimals.
        note: shown after it.
        bound: such as ``at least``.
    """
    return ResultLine(label, Amount(value, unit, places), note=note, bound=bound)


def words(label: str, text: str, note: str = "") -> ResultLine:
    """A verdict or a name.

    Args:
        label: what it is.
        text: the verdict or name.
        note: shown after it.
    """
    return ResultLine(label, text, note=note)


def _other(value: float, unit: str, other: str, places: int) -> Amount:
    return Amount(Quantity(value, unit).to(other).value, other, places)
