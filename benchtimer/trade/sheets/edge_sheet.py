"""Bevel of a sharpened edge, and the spine lift that keeps its angle.

A blade is ground to a taper and left with a small flat at the edge until it is sharpened.
Bevels of a chosen angle then meet where the flat was. All of it is plane trigonometry.
"""

from __future__ import annotations

from math import atan, cos, degrees, radians, sin, tan
from typing import Final

from benchtimer.trade import dangers, result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, TopicError, Values
from benchtimer.trade.valid_range import CannotTellError, within
from benchtimer.values import dataclass

ANGLE_RANGE_DEG: Final = (1.0, 60.0)
"""Bevel angles accepted, degrees per side."""

FLAT_RANGE_M: Final = (0.0, 0.02)
"""Flats accepted at the edge before sharpening, m."""


@dataclass(frozen=True, slots=True)
class Bevel:
    """One sharpened edge.

    Attributes:
        width_m: width of the bevel's face, as it shows on the blade, m.
        height_m: height of the bevel above the edge, in the blade's plane, m.
        shoulder_m: thickness of the blade where the bevel begins, m.
        included_deg: angle between the two faces at the edge, degrees.
    """

    width_m: float
    height_m: float
    shoulder_m: float
    included_deg: float


def bevel(flat_m: float, angle_deg: float, taper_deg: float = 0.0) -> Bevel:
    """Two equal bevels that bring a flat to an edge without taking any blade width.

    Args:
        flat_m: thickness of the flat at the edge before sharpening, m, 0 to 0.02.
        angle_deg: bevel angle per side from the blade's center plane, degrees, 1 to 60.
        taper_deg: angle per side of the ground blade behind it, degrees, 0 to 30, less
            than ``angle_deg``; 0 for a parallel blade.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: the blade tapers as much as the bevel: they never meet.
    """
    half_m = within("flat", flat_m, *FLAT_RANGE_M, "m", "an edge before sharpening") / 2
    opening = _slope(angle_deg, taper_deg)
    height_m = half_m / opening
    angle = radians(angle_deg)
    return Bevel(height_m / cos(angle), height_m, 2 * height_m * tan(angle), 2 * angle_deg)


def single_bevel(flat_m: float, angle_deg: float) -> Bevel:
    """One bevel on one side, the other side flat.

    Args:
        flat_m: thickness of the flat at the edge before sharpening, m, 0 to 0.02.
        angle_deg: angle between bevel and flat side, degrees, 1 to 60.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    within("flat", flat_m, *FLAT_RANGE_M, "m", "an edge before sharpening")
    angle = radians(_angle_within(angle_deg))
    return Bevel(flat_m / sin(angle), flat_m / tan(angle), flat_m, angle_deg)


def angle_from_width_deg(flat_m: float, width_m: float, taper_deg: float = 0.0) -> float:
    """Angle per side of two equal bevels from the width that shows; inverse of ``bevel``.

    Args:
        flat_m: flat at the edge before sharpening, m, above 0 to 0.02.
        width_m: width of the bevel's face, m, above 0 to 0.1.
        taper_deg: angle per side of the ground blade, degrees, 0 to 30.

    Returns:
        Angle per side, degrees.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: no angle from 1 to 60 degrees gives that width.
    """
    within("flat", flat_m, 1e-6, FLAT_RANGE_M[1], "m", "an edge before sharpening")
    within("bevel width", width_m, 1e-6, 0.1, "m", "a bevel on a blade")
    low, high = max(ANGLE_RANGE_DEG[0], taper_deg + 1e-6), ANGLE_RANGE_DEG[1]
    widest, narrowest = (bevel(flat_m, a, taper_deg).width_m for a in (low, high))
    if not narrowest <= width_m <= widest:
        raise CannotTellError(
            "the bevel angle",
            f"no bevel of 1 to 60 degrees on this flat is {1000 * width_m:g} mm wide",
            f"widths of {1000 * narrowest:.3g} mm and more are possible",
        )
    return _bisect_width(flat_m, width_m, taper_deg, low, high)


def spine_lift_m(blade_width_m: float, angle_deg: float, spine_m: float = 0.0) -> float:
    """Height to raise the spine's lower corner above a flat stone to hold an angle.

    Args:
        blade_width_m: from edge to spine, m, above 0 to 0.5.
        angle_deg: bevel angle per side, degrees, 1 to 60.
        spine_m: thickness of the spine, m, 0 to 0.05.

    Returns:
        Gap under the spine, m.

    Raises:
        OutOfRangeError: a value outside its range.
        CannotTellError: the spine would touch first: the blade's own faces are steeper.
    """
    within("blade width", blade_width_m, 1e-4, 0.5, "m", "a blade")
    within("spine", spine_m, 0, 0.05, "m", "a blade")
    angle = radians(_angle_within(angle_deg))
    lift_m = blade_width_m * sin(angle) - spine_m / 2 * cos(angle)
    if lift_m < 0:
        lying = degrees(atan(spine_m / 2 / blade_width_m))
        raise CannotTellError(
            "the lift of the spine",
            f"flat on the stone, this blade already meets it at {lying:.1f} degrees",
            "choose a larger angle",
        )
    return lift_m


def _angle_within(angle_deg: float) -> float:
    return within("bevel angle", angle_deg, *ANGLE_RANGE_DEG, "deg", "per side")


def _slope(angle_deg: float, taper_deg: float) -> float:
    """How fast the bevel gains on the blade's taper, per unit of height."""
    within("blade taper", taper_deg, 0, 30, "deg", "per side")
    if taper_deg >= _angle_within(angle_deg):
        raise CannotTellError(
            "the bevel",
            f"the blade tapers {taper_deg:g} degrees per side, the bevel {angle_deg:g}",
            "choose a bevel steeper than the blade's own taper",
        )
    return tan(radians(angle_deg)) - tan(radians(taper_deg))


def _bisect_width(
    flat_m: float, width_m: float, taper_deg: float, low: float, high: float
) -> float:
    for _ in range(100):  # halves 60 degrees to below the spacing of floats
        middle = (low + high) / 2
        if bevel(flat_m, middle, taper_deg).width_m > width_m:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def sharpened(values: Values) -> Figure:
    """Width and thickness of the bevels an angle makes, or the angle from the width."""
    flat_m, taper = values.base("flat") / 1000, values.base("taper")
    angle = _angle(values, flat_m, taper)
    made = _bevel(values, flat_m, angle, taper)
    results = [
        result.length("bevel width", made.width_m),
        result.length("blade thickness behind the bevel", made.shoulder_m),
        result.length("bevel height above the edge", made.height_m),
        result.plain("angle per side", angle, "deg", 1),
        result.plain("angle at the edge", made.included_deg, "deg", 1),
    ]
    if values.has("blade"):
        spine_m = (values.maybe("spine") or 0.0) / 1000
        lift_m = spine_lift_m(values.base("blade") / 1000, angle, spine_m)
        results.append(result.length("gap under the spine on a flat stone", lift_m, 1))
    elif values.has("spine"):
        raise TopicError(values.topic, ["spine goes with blade, for the lift"])
    return Figure(
        title="Bevel of a sharpened edge",
        results=tuple(results),
        working=_working(values),
        sources=(sources.GEOMETRY,),
        limits=(
            "The edge stays where the flat was, so no blade width is lost. Grinding past the flat "
            "makes the bevel wider.",
            "The faces are assumed flat; a convex or hollow grind differs.",
        ),
        hazards=(dangers.SHARP,),
    )


def _angle(values: Values, flat_m: float, taper: float) -> float:
    if values.exactly(1, "angle", "width") == ("angle",):
        return values.base("angle")
    if values.text("sides") == "one":
        raise TopicError(values.topic, ["width does not work with sides=one: give the angle"])
    return angle_from_width_deg(flat_m, values.base("width") / 1000, taper)


def _bevel(values: Values, flat_m: float, angle: float, taper: float) -> Bevel:
    if values.text("sides") == "two":
        return bevel(flat_m, angle, taper)
    if taper:
        raise TopicError(values.topic, ["taper works with sides=two only"])
    return single_bevel(flat_m, angle)


def _working(values: Values) -> tuple[str, ...]:
    if values.text("sides") == "one":
        return ("width = flat / sin(angle); height = flat / tan(angle)",)
    return (
        "height = half the flat / (tan(angle) - tan(taper))",
        "width = height / cos(angle); thickness behind = 2 x height x tan(angle)",
    )


TOPICS: Final = (
    Topic(
        "edge",
        "bevel width and thickness from flat and angle, or the angle from the width",
        (
            Parameter(
                "flat", "length", "flat at the edge before sharpening", "0.5 mm", needed=True
            ),
            Parameter("angle", "angle", "bevel angle per side", "15 deg"),
            Parameter("width", "length", "bevel width that shows, instead of the angle", "1 mm"),
            Parameter(
                "taper", "angle", "taper of the ground blade per side", "2 deg", default="0 deg"
            ),
            Parameter(
                "sides",
                "choice",
                "bevels on two sides or one",
                "two",
                default="two",
                choices=("one", "two"),
            ),
            Parameter("blade", "length", "blade width, edge to spine, for the lift", "32 mm"),
            Parameter("spine", "length", "spine thickness, for the lift", "2.5 mm"),
        ),
        sharpened,
        {
            "flat": "0.5 mm",
            "angle": "15 deg",
            "taper": "2 deg",
            "blade": "32 mm",
            "spine": "2.5 mm",
        },
    ),
)
