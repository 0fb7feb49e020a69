"""Wall-clock hours as times away on the plan's time axis."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.plan.problem import ENDLESS_S, AwayTime

DAY_S = 86_400


def between(spans: Sequence[tuple[int, int]]) -> tuple[AwayTime, ...]:
    """The times away for spans of work, in seconds from the plan's zero.

    No working time is known after the last span, so nothing is planned after it.
    """
    windows, since = [], 0
    for begin_s, end_s in spans:
        if begin_s > since:
            windows.append(AwayTime(since, begin_s))
        since = end_s
    return (*windows, AwayTime(since, ENDLESS_S)) if spans else ()


def daily(from_s: int, to_s: int, zero_s: int, days: int = 14) -> tuple[AwayTime, ...]:
    """The same hours away every day, for the days that a plan can cover.

    Args:
        from_s: start of the hours away, in seconds after midnight.
        to_s: their end; if it is not after the start, it is the next morning.
        zero_s: the time of day at the plan's zero, in seconds after midnight.
        days: how many days ahead; after them a plan counts all time as working time.

    Seconds are those of the wall clock, whose days have 24 h.
    """
    length_s = to_s - from_s if to_s > from_s else to_s - from_s + DAY_S
    begins = (from_s - zero_s + day * DAY_S for day in range(-1, days))
    return tuple(AwayTime(begin, begin + length_s) for begin in begins if begin + length_s > 0)
