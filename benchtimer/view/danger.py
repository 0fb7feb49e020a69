"""What must be seen whatever else is said: late parts on hold, baths out of range, limits ahead."""

from __future__ import annotations

from collections.abc import Iterator

from benchtimer.bench.moment import Moment
from benchtimer.view.bathtrouble import limits_ahead
from benchtimer.view.words import baths_out, late_on_hold


def dangers(moment: Moment) -> list[str]:
    """Late parts on hold and baths out of range in every run, a shared bath once."""
    return list(dict.fromkeys(_dangers(moment)))


def _dangers(moment: Moment) -> Iterator[str]:
    for run in moment.shop.runs:
        yield from late_on_hold(moment.shop.bench(run), moment.now_ms)
    for run in moment.shop.runs:
        yield from baths_out(moment.shop.bench(run), moment.shop.firsts(run))


def limits_soon(moment: Moment) -> list[str]:
    """Every bath that reaches a limit soon."""
    told = (
        line
        for run in moment.shop.runs
        for line in limits_ahead(moment.shop.bench(run), moment.now_ms)
    )
    return list(dict.fromkeys(told))
