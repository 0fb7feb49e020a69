"""The times that a plan is asked for: when it begins, when you work and when you are away."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from benchtimer.cli.common import USAGE, Wrong
from benchtimer.cli.shop_context import shop_settings
from benchtimer.values import dataclass, replace

if TYPE_CHECKING:
    from benchtimer.plan.problem import AwayTime
    from benchtimer.shop.hours import Hours
    from benchtimer.store.log import Stamp


@dataclass(frozen=True, slots=True)
class Times:
    """When the plan begins, and what to call its times.

    Attributes:
        now: the moment the command was given: what is today, and what tomorrow.
        zero: the moment the plan begins.
        start: the moment the new work may begin: later than ``zero`` if the plan begins with what
            is on the bench.
    """

    now: Stamp
    zero: Stamp
    start: Stamp

    @classmethod
    def beginning(cls, start: str | None) -> Times:
        """From now, or from the moment asked for."""
        from benchtimer.bench.wallclock import later, moment_of
        from benchtimer.clock import SystemClock
        from benchtimer.store.log import Stamp
        from benchtimer.times import TimeError

        tick = SystemClock().read()
        second_ms = tick.wall_ms // 1000 * 1000
        now = Stamp(second_ms, None, 0, second_ms, tick.offset_s)
        if start is None:
            zero = later(now, (60 - second_ms // 1000 % 60) * 1000)
            return cls(now, zero, zero)
        try:
            zero = moment_of(start, now)
        except TimeError as error:
            raise Wrong(f"--start {error}", USAGE) from None
        return cls(now, zero, zero)

    def at(self, seconds: int) -> str:
        """A time of the plan, with the day if it isn't today."""
        from benchtimer.view.words import clock_time

        return clock_time(self.zero.noted_ms + seconds * 1000, self.now, seconds=True)

    def minutes(self, from_s: int, to_s: int) -> str:
        """Two times of the plan; the day of the second only if it is another."""
        from benchtimer.view.words import clock_times

        zero_ms = self.zero.noted_ms
        return clock_times(zero_ms + from_s * 1000, zero_ms + to_s * 1000, self.now)


def away_asked(arguments: argparse.Namespace, times: Times) -> list[AwayTime]:
    """When you are away: outside the hours, in the breaks, in the daily hours away."""
    from benchtimer.bench.advice import away_windows, joined

    work = hours_asked(arguments, times)
    windows = away_windows(arguments.away, times.zero, work)
    if arguments.leave_by is None:
        return windows
    from benchtimer.plan.problem import AwayTime
    from benchtimer.times import TimeError
    from benchtimer.view.leaving import times_away

    try:
        ends = times_away(arguments.leave_by, work, times.zero)
    except TimeError as error:
        raise Wrong(f"--leave-by {error}", USAGE) from None
    begin_s, end_s = ((t_ms - times.zero.noted_ms) // 1000 for t_ms in ends)
    return joined([*windows, AwayTime(begin_s, end_s)])


def hours_given(text: str | None, before: Hours) -> Hours:
    """The hours of an option, with the dates closed before; None changes nothing.

    Raises:
        Wrong: the text is not hours.
    """
    from benchtimer.shop.hours import ALWAYS, parse_week
    from benchtimer.times import TimeError

    if text is None:
        return before
    try:
        given = ALWAYS if text == "always" else parse_week(text)
    except TimeError as error:
        raise Wrong(f"--hours {error}", USAGE) from None
    return replace(given, closed=before.closed)


def hours_asked(arguments: argparse.Namespace, times: Times) -> Hours:
    """The hours by weekday: those asked for, or the shop's, less the breaks."""
    from benchtimer.bench.wallclock import date_of
    from benchtimer.times import TimeError, parse_span

    work = hours_given(arguments.hours, shop_settings().work_hours)
    day = date_of(times.start)
    try:
        for text in arguments.breaks:
            begin, end = parse_span(text)
            work = work.without(day, begin, end if end > begin else end + 24 * 60)
    except TimeError as error:
        raise Wrong(f"--break {error}", USAGE) from None
    return work
