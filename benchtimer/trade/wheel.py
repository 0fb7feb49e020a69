"""Surface speed of wheels and belts.

Source: speed = pi x diameter x rotation (a wheel maker's engineering page; for a belt, the
diameter is that of the drive wheel). Published working speeds have their own sources.
"""

from __future__ import annotations

from enum import StrEnum
from math import pi
from typing import Final

from benchtimer.quantity import Quantity
from benchtimer.trade.figure import SourceStatus
from benchtimer.trade.valid_range import within
from benchtimer.values import dataclass

DIAMETER_RANGE_M: Final = (0.001, 2.0)
ROTATION_RANGE_RPM: Final = (1.0, 100_000.0)
SPEED_RANGE_M_S: Final = (0.001, 200.0)


def surface_speed_m_s(diameter_m: float, rotation_rpm: float) -> float:
    """Speed of the wheel's face.

    Args:
        diameter_m: wheel diameter, m, 0.001 to 2.
        rotation_rpm: revolutions per minute, 1 to 100 000.

    Returns:
        Surface speed, m/s.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    return pi * _diameter(diameter_m) * _rotation(rotation_rpm) / 60


def rotation_rpm(speed_m_s: float, diameter_m: float) -> float:
    """Revolutions per minute that give a wheel a surface speed.

    Args:
        speed_m_s: surface speed, m/s, 0.001 to 200.
        diameter_m: wheel diameter, m, 0.001 to 2.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    return 60 * _speed(speed_m_s) / (pi * _diameter(diameter_m))


def diameter_m(speed_m_s: float, rotation_rpm: float) -> float:
    """Wheel diameter that gives a surface speed at a rotation, m.

    Args:
        speed_m_s: surface speed, m/s, 0.001 to 200.
        rotation_rpm: revolutions per minute, 1 to 100 000.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    return 60 * _speed(speed_m_s) / (pi * _rotation(rotation_rpm))


@dataclass(frozen=True, slots=True)
class WorkingSpeed:
    """A published working speed.

    Attributes:
        work: the work it is for.
        low_m_s: least speed, m/s.
        high_m_s: greatest speed, m/s; equal to the least where one figure is printed.
        cite: where it is printed.
        status: how reliable that is.
    """

    work: str
    low_m_s: float
    high_m_s: float
    cite: str
    status: SourceStatus


def _published(work: str, low: float, high: float, cite: str, status: SourceStatus) -> WorkingSpeed:
    low_m_s, high_m_s = (Quantity(sfm, "ft/min").base for sfm in (low, high))
    return WorkingSpeed(work, low_m_s, high_m_s, cite, status)


_GUIDEBOOK = "2011-2012 Surface Finishing Guidebook, digital p. 30"
_SEEN, _MEMORY = SourceStatus.PUBLISHED, SourceStatus.MEMORY

WORKING_SPEEDS: Final = (
    _published("buffing, average", 7500, 7500, "a wheel maker's engineering page", _SEEN),
    _published("bright buffing stainless, tripoli", 7000, 7000, _GUIDEBOOK, _SEEN),
    _published("paste wheel, 80-150 then 320, on stainless", 6000, 6000, _GUIDEBOOK, _SEEN),
    _published("satin, greaseless compound 80-150", 6000, 6000, _GUIDEBOOK, _SEEN),
    _published("cut-down buffing of steel", 8000, 9000, "handbook-style range", _MEMORY),
    _published("color buffing of steel", 7000, 9000, "handbook-style range", _MEMORY),
    _published("belt grinding of steel", 5000, 7000, "handbook-style range", _MEMORY),
)


class SpeedVerdict(StrEnum):
    """How a surface speed compares with the published ones found."""

    SLOW = "slower than the published speeds: cuts less, and is easier on a small part"
    AMONG = "among the published speeds"
    FAST = "faster than any published speed found: slow it down or use a smaller wheel"
    FAR_TOO_FAST = "far above every published speed: do not run it"


FAR_ABOVE: Final = 1.2
"""This many times the fastest published speed is far above it. The program's own judgment:
the fastest figure from memory, 9000 ft/min, is 1.2 times the fastest one seen in print."""


def judge_speed(speed_m_s: float) -> SpeedVerdict:
    """A surface speed compared with the published working speeds; those from memory don't count.

    Args:
        speed_m_s: surface speed, m/s, 0.001 to 200.

    Raises:
        OutOfRangeError: no wheel in a shop runs at that.
    """
    _speed(speed_m_s)
    seen = [row for row in WORKING_SPEEDS if row.status.may_judge]
    slowest = min(row.low_m_s for row in seen)
    fastest = max(row.high_m_s for row in seen)
    if speed_m_s < slowest:
        return SpeedVerdict.SLOW
    if speed_m_s <= fastest:
        return SpeedVerdict.AMONG
    return SpeedVerdict.FAST if speed_m_s <= FAR_ABOVE * fastest else SpeedVerdict.FAR_TOO_FAST


def _diameter(value_m: float) -> float:
    return within("wheel diameter", value_m, *DIAMETER_RANGE_M, "m", "a wheel in a shop")


def _rotation(value_rpm: float) -> float:
    return within("rotation", value_rpm, *ROTATION_RANGE_RPM, "rpm", "a spindle in a shop")


def _speed(value_m_s: float) -> float:
    return within("surface speed", value_m_s, *SPEED_RANGE_M_S, "m/s", "a wheel in a shop")
