"""Verdict of a water-break test."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, Values
from benchtimer.trade.waterbreak import water_break_verdict


def verdict(values: Values) -> Figure:
    """Pass, fail, or watch on."""
    judged = water_break_verdict(values.maybe("broke_after"), values.base("watched"))
    return Figure(
        title="Water-break test",
        results=(result.words("verdict", str(judged)),),
        working=(
            "draw the surface upright out of an overflowing vessel and watch the film drain",
            "a film that breaks up within one minute fails",
        ),
        sources=(sources.WATER_BREAK,),
        limits=(
            "It finds oily films, pass or fail only, and is less sensitive on rough or porous "
            "surfaces. Wetting agent left in the rinse hides a fail.",
        ),
    )


TOPICS: Final = (
    Topic(
        "water-break",
        "verdict of a water-break test on a cleaned part",
        (
            Parameter("broke_after", "time", "when the film broke; leave out if it held", "20 s"),
            Parameter("watched", "time", "how long it was watched", "60 s", default="60 s"),
        ),
        verdict,
        {"broke_after": "20 s"},
    ),
)
