"""Bevel of a sharpened edge, and the lift of the spine that holds its angle."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import dangers, edge, result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, TopicError, Values


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
        lift_m = edge.spine_lift_m(values.base("blade") / 1000, angle, spine_m)
        results.append(result.length("gap under the spine on a flat stone", lift_m, 1))
    elif values.has("spine"):
        raise TopicError(values.topic, ["spine goes with blade, for the lift"])
    return Figure(
        title="Bevel of a sharpened edge",
        results=tuple(results),
        working=_working(values),
        sources=(sources.GEOMETRY,),
        limits=(
            "The edge stays where the flat was: no blade width is lost. Grinding past the flat "
            "makes the bevel wider.",
            "Faces are taken as flat; a convex or hollow grind differs.",
        ),
        hazards=(dangers.SHARP,),
    )


def _angle(values: Values, flat_m: float, taper: float) -> float:
    if values.exactly(1, "angle", "width") == ("angle",):
        return values.base("angle")
    if values.text("sides") == "one":
        raise TopicError(values.topic, ["width with sides=one is not worked out: give the angle"])
    return edge.angle_from_width_deg(flat_m, values.base("width") / 1000, taper)


def _bevel(values: Values, flat_m: float, angle: float, taper: float) -> edge.Bevel:
    if values.text("sides") == "two":
        return edge.bevel(flat_m, angle, taper)
    if taper:
        raise TopicError(values.topic, ["taper goes with sides=two only"])
    return edge.single_bevel(flat_m, angle)


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
