"""The water-break test: whether draining water stays on a surface as one film.

Source: ASTM F22 (02(2007) clauses 1.1, 4.1, 5.1; current edition F22-13, reapproved 2021).
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from benchtimer.trade import result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, Values
from benchtimer.trade.valid_range import within

WATCH_S: Final = 60.0
"""How long the film is watched: a film that breaks within one minute fails."""


class WaterBreak(StrEnum):
    """Verdict of a water-break test."""

    UNBROKEN = "pass: the film held for a minute"
    BROKEN = "fail: the film broke, clean again"
    WATCH_ON = "no verdict yet: watch the film for a full minute"


def water_break_verdict(
    seconds_until_break: float | None, watched_s: float = WATCH_S
) -> WaterBreak:
    """Judge a part drawn from overflowing water and held upright.

    Args:
        seconds_until_break: when the film broke up, s after the part left the water; None
            if it did not break while it was watched.
        watched_s: how long an unbroken film was watched, s.

    Returns:
        Fail for a break within a minute (a minute sharp counts as within), pass for none,
        and no verdict where the film was watched for less than a minute.

    Raises:
        OutOfRangeError: a negative time, or one over an hour.
    """
    within("time watched", watched_s, 0, 3600, "s", "the film dries")
    if seconds_until_break is not None:
        within("time until the break", seconds_until_break, 0, 3600, "s", "the film dries")
        return WaterBreak.BROKEN if seconds_until_break <= WATCH_S else WaterBreak.UNBROKEN
    return WaterBreak.UNBROKEN if watched_s >= WATCH_S else WaterBreak.WATCH_ON


def verdict(values: Values) -> Figure:
    """Pass, fail, or keep watching."""
    judged = water_break_verdict(values.maybe("broke_after"), values.base("watched"))
    return Figure(
        title="Water-break test",
        results=(result.words("verdict", str(judged)),),
        working=(
            "draw the surface upright out of an overflowing vessel and watch the film drain",
            "a film that breaks within one minute fails",
        ),
        sources=(sources.WATER_BREAK,),
        limits=(
            "It finds oily films, as pass or fail only, and is less sensitive on rough or porous "
            "surfaces. Wetting agent left in the rinse hides a fail.",
        ),
    )


TOPICS: Final = (
    Topic(
        "water-break",
        "verdict of a water-break test on a cleaned part",
        (
            Parameter(
                "broke_after", "time", "when the film broke; leave it out if the film held", "20 s"
            ),
            Parameter("watched", "time", "how long you watched it", "60 s", default="60 s"),
        ),
        verdict,
        {"broke_after": "20 s"},
    ),
)
