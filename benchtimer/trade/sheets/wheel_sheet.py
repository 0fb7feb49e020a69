"""Surface speed of a wheel or belt: any one of speed, diameter and rotation from the other two."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import dangers, result, sources, wheel
from benchtimer.trade.figure import Figure, FigureSource, ResultLine, SourceStatus
from benchtimer.trade.topic import Parameter, Topic, Values
from benchtimer.trade.wheel import WorkingSpeed


def surface_speed(values: Values) -> Figure:
    """Speed, rotation or diameter from the other two, with published working speeds."""
    given = values.exactly(2, "diameter", "rotation", "speed")
    diameter_m, rotation, speed_m_s = _solve(values, given)
    answer = {
        "speed": result.speed("surface speed", speed_m_s),
        "rotation": result.plain("rotation", rotation, "rpm", 0),
        "diameter": result.length("wheel diameter", diameter_m, 0),
    }
    asked = next(name for name in answer if name not in given)
    published = [_compare(row) for row in wheel.WORKING_SPEEDS]
    return Figure(
        title="Surface speed of a wheel",
        results=(answer[asked], result.words("verdict", _verdict(speed_m_s)), *published),
        working=(
            f"speed = pi x {1000 * diameter_m:.1f} mm x {rotation:.0f} rpm / 60 "
            f"= {speed_m_s:.2f} m/s",
        ),
        sources=(sources.CIRCLE, *_cites()),
        limits=(
            "For a belt, use the diameter of its drive wheel. A worn wheel is slower.",
            "Published speeds are starting points for other shops' work; a small part heats fast, "
            "so start lower.",
            "The verdict compares with speeds seen in print, not with the speed marked on your "
            "wheel, which is always the limit.",
        ),
        hazards=(dangers.SPINNING, dangers.DEFER),
    )


def _solve(values: Values, given: tuple[str, ...]) -> tuple[float, float, float]:
    """Diameter in m, rotation in rpm and speed in m/s."""
    if "speed" not in given:
        diameter_m, rotation = values.base("diameter") / 1000, values.base("rotation")
        return diameter_m, rotation, wheel.surface_speed_m_s(diameter_m, rotation)
    speed_m_s = values.base("speed")
    if "diameter" in given:
        diameter_m = values.base("diameter") / 1000
        return diameter_m, wheel.rotation_rpm(speed_m_s, diameter_m), speed_m_s
    rotation = values.base("rotation")
    return wheel.diameter_m(speed_m_s, rotation), rotation, speed_m_s


def _verdict(speed_m_s: float) -> str:
    verdict = wheel.judge_speed(speed_m_s)
    fastest = result.speed("", max(r.high_m_s for r in wheel.WORKING_SPEEDS if r.status.may_judge))
    return f"{verdict} (fastest published: {fastest.text})"


def _compare(row: WorkingSpeed) -> ResultLine:
    note = "from memory" if row.status is SourceStatus.MEMORY else ""
    low = result.speed(f"for comparison: {row.work}", row.low_m_s, note)
    if row.low_m_s == row.high_m_s:
        return low
    high = result.speed("", row.high_m_s)
    return result.words(low.label, f"{low.value} to {high.value}", note)


def _cites() -> tuple[FigureSource, ...]:
    """Each printed source once, in the order of the table."""
    cites = {row.cite: FigureSource(row.cite, row.status) for row in wheel.WORKING_SPEEDS}
    return tuple(cites.values())


TOPICS: Final = (
    Topic(
        "wheel",
        "surface speed of a wheel or belt, or the rotation or diameter that gives it",
        (
            Parameter("diameter", "length", "wheel diameter", "8 in"),
            Parameter("rotation", "rotation", "spindle speed", "1750 rpm"),
            Parameter("speed", "speed", "surface speed", "7500 ft/min"),
        ),
        surface_speed,
        {"diameter": "8 in", "rotation": "1750 rpm"},
    ),
)
