"""The shop's wall clock through daylight saving changes, against the tz database."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.advice import away_windows
from benchtimer.bench.wallclock import (
    ShopZone,
    later,
    moment_at,
    of_day_s,
    real_s,
    until_time_of_day_s,
)
from benchtimer.clock import offset_s
from benchtimer.plan.problem import ENDLESS_S
from benchtimer.shop.hours import AHEAD_DAYS, parse_week
from benchtimer.store.log import Stamp

HOUR_S = 3600
EASTERN = ZoneInfo("America/New_York")
SPRING, AUTUMN = datetime(2026, 3, 8, tzinfo=EASTERN), datetime(2026, 11, 1, tzinfo=EASTERN)
"""The days on which the clocks change in 2026, at 2:00 in the morning (tz database)."""


@pytest.fixture(name="_eastern", scope="module", autouse=True)
def _in_the_eastern_time_zone() -> Iterator[None]:
    """The machine's time zone as a POSIX rule: second Sunday in March to first in November."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "EST5EDT,M3.2.0,M11.1.0")
        time.tzset()
        yield
    time.tzset()


def _stamp(then: datetime) -> Stamp:
    wall_ms = round(then.timestamp() * 1000)
    return Stamp(wall_ms, None, 0, wall_ms, offset_s(wall_ms))


def _at(day: datetime, days: int, hour: int, minute: int = 0) -> datetime:
    return (day + timedelta(days=days)).replace(hour=hour, minute=minute)


@given(st.sampled_from([SPRING, AUTUMN]), st.integers(-72, 72), st.integers(-72, 72))
def test_local_time_agrees_with_the_tz_database(day: datetime, from_h: int, to_h: int) -> None:
    """From any hour around a change, any other hour matches the tz database."""
    start = day.astimezone(UTC) + timedelta(hours=from_h)
    then = day.astimezone(UTC) + timedelta(hours=to_h)
    shown = moment_at(round(then.timestamp() * 1000), _stamp(start))
    assert shown is not None
    assert shown.replace(tzinfo=None) == then.astimezone(EASTERN).replace(tzinfo=None)


@given(st.sampled_from([SPRING, AUTUMN]), st.integers(0, 23), st.integers(0, 24 * 60 - 1))
def test_the_next_time_of_day_is_correct(day: datetime, hour: int, minutes: int) -> None:
    """On the eve, it is the first such moment of the tz database; a skipped one is late."""
    now = _stamp(_at(day, -1, hour))
    ahead_s = until_time_of_day_s(minutes, now)
    eve = _at(day, -1, minutes // 60, minutes % 60)
    wanted = eve if eve >= _at(day, -1, hour) else _at(day, 0, minutes // 60, minutes % 60)
    # Arithmetic across a change uses UTC; a skipped time has the earlier offset.
    assert ahead_s == (wanted.timestamp() - now.wall_ms / 1000)


def test_a_stamp_from_another_zone_keeps_its_own_offset() -> None:
    """A log from another zone keeps its own offset on this machine."""
    stamp = Stamp(0, None, 0, _stamp(SPRING).wall_ms, 3600)
    then = moment_at(stamp.wall_ms + 48 * HOUR_S * 1000, stamp)
    assert then is not None
    assert then.utcoffset() == timedelta(hours=1)
    assert real_s(48 * HOUR_S, stamp) == 48 * HOUR_S


@pytest.mark.parametrize(("day", "change_h"), [(SPRING, -1), (AUTUMN, 1)])
def test_a_later_stamp_has_the_offset_in_force_then(day: datetime, change_h: int) -> None:
    """Between two noons there are 23 or 25 hours, and the second stamp has its time of day."""
    noon = _stamp(_at(day, -1, 12))
    hours = 24 + change_h
    next_noon = later(noon, hours * HOUR_S * 1000)
    assert next_noon.offset_s == noon.offset_s - change_h * HOUR_S
    assert (of_day_s(noon), of_day_s(next_noon)) == (12 * HOUR_S, 12 * HOUR_S)
    assert real_s(24 * HOUR_S, noon) == hours * HOUR_S


@pytest.mark.parametrize("day", [SPRING, AUTUMN])
def test_away_hours_follow_the_wall_clock(day: datetime) -> None:
    """22:00 to 07:00 begins and ends at these times in the nights around a change."""
    noon = _stamp(_at(day, -1, 12))
    for n, window in enumerate(away_windows(["22:00-07:00"], noon)[:5]):
        begin, end = (
            moment_at(noon.wall_ms + s * 1000, noon) for s in (window.from_s, window.to_s)
        )
        assert begin is not None
        assert end is not None
        assert begin.replace(tzinfo=None) == _at(day, n - 1, 22).replace(tzinfo=None)
        assert end.replace(tzinfo=None) == _at(day, n, 7).replace(tzinfo=None)


def test_away_hours_that_are_skipped_are_left_out() -> None:
    """2:00 to 3:00 does not exist in the night when the clock goes forward."""
    noon = _stamp(_at(SPRING, -1, 12))
    first, second, *_ = away_windows(["02:00-03:00"], noon)
    shown = [moment_at(noon.wall_ms + w.from_s * 1000, noon) for w in (first, second)]
    assert [m.day for m in shown if m is not None] == [9, 10]


@given(st.integers(0, 2 * 365 * 24 * 4), st.booleans())
def test_the_shops_zone_agrees_with_the_tz_database(quarters: int, later_one: bool) -> None:
    """Every quarter hour of two years, from UTC and back, also in gaps and folds."""
    stamp = _stamp(SPRING)
    zone = ShopZone(stamp)
    then = datetime(2025, 6, 1, tzinfo=UTC) + timedelta(minutes=15 * quarters)
    here, there = then.astimezone(zone), then.astimezone(EASTERN)
    assert here.replace(tzinfo=None) == there.replace(tzinfo=None)
    assert here.fold == there.fold
    wall = there.replace(tzinfo=None, fold=int(later_one))
    assert wall.replace(tzinfo=zone).utcoffset() == wall.replace(tzinfo=EASTERN).utcoffset()
    assert "UTC" in zone.tzname(here)


@pytest.mark.parametrize("day", [SPRING, AUTUMN])
def test_evenings_stay_at_their_time_when_the_clocks_change(day: datetime) -> None:
    """For sixty days each evening begins at 18:30 on the wall, and nothing follows them."""
    zero = _at(day, -3, 12)
    windows = away_windows([], _stamp(zero), parse_week("18:30-22:30"))
    for window in windows[:-1]:
        opens = (zero.astimezone(UTC) + timedelta(seconds=window.to_s)).astimezone(EASTERN)
        assert (opens.hour, opens.minute) == (18, 30)
    assert len(windows) >= AHEAD_DAYS
    assert windows[-1].to_s == ENDLESS_S
    assert windows[0].from_s == 0


def test_hours_and_hours_away_add_up() -> None:
    """A daily pause inside the hours counts as away; closed all week, you never come back."""
    zero = _at(SPRING, 10, 8)
    work = parse_week("09:00-18:00")
    windows = away_windows(["12:00-13:00"], _stamp(zero), work)
    assert [(w.from_s, w.to_s) for w in windows[:3]] == [
        (0, HOUR_S), (4 * HOUR_S, 5 * HOUR_S), (10 * HOUR_S, 25 * HOUR_S),
    ]  # fmt: skip
