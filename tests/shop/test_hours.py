"""The shop's hours by the wall clock, through daylight saving."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import WEEKLY, rrule
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.shop.hours import ALWAYS, Hours, open_spans, parse_closed, parse_week
from benchtimer.times import TimeError

NEW_YORK = ZoneInfo("America/New_York")
SHOP = parse_week("Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00")


def _unix(zone: ZoneInfo, *when: int) -> int:
    return int(datetime(*when, tzinfo=zone).timestamp())  # type: ignore[misc,arg-type]


def _walls(hours: Hours, zone: ZoneInfo, from_s: int, days: int) -> list[tuple[str, str]]:
    """The spans in wall clock time."""
    return [
        tuple(datetime.fromtimestamp(from_s + s, zone).strftime("%m-%d %H:%M%z") for s in span)  # type: ignore[misc]
        for span in open_spans(hours, zone, from_s, days)
    ]


def test_evenings_and_weekends_stay_by_the_wall_clock_through_the_change() -> None:
    """RFC 5545, p. 124: weekly at 09:00 New York stays 09:00 while EDT becomes EST (1997)."""
    tuesday = parse_week("Tue 09:00-10:00")
    from_s = _unix(NEW_YORK, 1997, 9, 1)
    begins = [begin for begin, _ in _walls(tuesday, NEW_YORK, from_s, 70)]
    summer = ["09-02", "09-09", "09-16", "09-23", "09-30", "10-07", "10-14", "10-21"]
    winter = ["10-28", "11-04"]
    published = [f"{d} 09:00-0400" for d in summer] + [f"{d} 09:00-0500" for d in winter]
    assert begins == published


@given(
    st.sets(st.integers(0, 6), min_size=1),
    st.integers(0, 23), st.integers(1, 300),
    st.datetimes(datetime(2024, 1, 1), datetime(2027, 1, 1)),  # noqa: DTZ001
    st.sampled_from(["America/New_York", "Europe/Paris", "Australia/Lord_Howe", "UTC"]),
)  # fmt: skip
def test_weekly_spans_begin_when_a_calendar_library_says(
    days: set[int], hour: int, minutes: int, start: datetime, zone_name: str
) -> None:
    """Weekly spans match python-dateutil's weekly recurrence, where that time exists."""
    zone = ZoneInfo(zone_name)
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    end = f"{(hour * 60 + minutes) // 60 % 24:02}:{(hour * 60 + minutes) % 60:02}"
    week = parse_week(", ".join(f"{names[d]} {hour:02}:00-{end}" for d in sorted(days)))
    from_s = int(start.replace(tzinfo=zone).timestamp())
    ours = {from_s + begin for begin, _ in open_spans(week, zone, from_s, 20) if begin > 0}
    first = datetime.fromtimestamp(from_s, zone).replace(tzinfo=None)
    rule = rrule(WEEKLY, dtstart=first.replace(hour=hour, minute=0, second=0, microsecond=0),
                 byweekday=sorted(days), until=first + timedelta(days=19))  # fmt: skip
    for wall in rule:
        unix = int(wall.replace(tzinfo=zone).timestamp())
        shown = datetime.fromtimestamp(unix, zone).replace(tzinfo=None) == wall
        if unix > from_s and shown:
            joined = any(begin <= unix < end for begin, end in _absolute(week, zone, from_s))
            assert unix in ours or joined


def _absolute(week: Hours, zone: ZoneInfo, from_s: int) -> list[tuple[int, int]]:
    return [(from_s + a, from_s + b) for a, b in open_spans(week, zone, from_s, 22)]


@pytest.mark.parametrize(
    ("zone", "day", "text", "shown"),
    [
        # New York 2007-03-11 02:30 is skipped; Paris 2023-03-26 02:30 too (RFC 5545, PEP 495).
        ("America/New_York", (2007, 3, 10), "Sat 22:00-02:30",
         ("03-10 22:00-0500", "03-11 03:00-0400")),
        ("Europe/Paris", (2023, 3, 25), "Sun 02:30-04:00",
         ("03-26 03:00+0200", "03-26 04:00+0200")),
        # New York 2007-11-04 01:30 comes twice and means the first (RFC 5545, p. 34).
        ("America/New_York", (2007, 11, 3), "Sat 22:00-01:30",
         ("11-03 22:00-0400", "11-04 01:30-0400")),
        # Paris 2023-10-29 02:30 comes twice.
        ("Europe/Paris", (2023, 10, 28), "Sun 02:30-04:00",
         ("10-29 02:30+0200", "10-29 04:00+0100")),
    ],
)  # fmt: skip
def test_skipped_and_repeated_times_are_read_by_the_rule(
    zone: str, day: tuple[int, int, int], text: str, shown: tuple[str, str]
) -> None:
    """A skipped time means the first moment after the gap, a repeated one the first of two."""
    found = _walls(parse_week(text), ZoneInfo(zone), _unix(ZoneInfo(zone), *day, 12), 3)
    assert found[0] == shown


def test_hours_inside_the_skipped_hour_do_not_exist() -> None:
    """Hours inside the gap give no span."""
    hours = parse_week("Sun 02:10-02:50")
    assert _walls(hours, NEW_YORK, _unix(NEW_YORK, 2007, 3, 10), 3) == []


@pytest.mark.parametrize("zone", ["Pacific/Apia", "America/Sao_Paulo"])
def test_odd_zones_lose_no_real_day(zone: str) -> None:
    """Apia had no 2011-12-30 and Sao Paulo no midnight on 2018-11-04; every other day is there."""
    start = (2011, 12, 27) if zone == "Pacific/Apia" else (2018, 11, 2)
    found = _walls(parse_week("10:00-11:00"), ZoneInfo(zone), _unix(ZoneInfo(zone), *start), 5)
    days = [begin[:5] for begin, _ in found]
    assert len(days) == len(set(days))
    assert ("12-30" in days) is False
    assert len(days) == (5 if zone == "Pacific/Apia" else 6)


def test_several_spans_a_day_and_one_past_midnight() -> None:
    """Before work, after work, and a long Friday night that is one span."""
    hours = parse_week("Mon-Fri 06:30-07:00, Mon-Thu 18:30-22:30, Fri 20:00-02:00, Sat 02:00-03:00")
    found = _walls(hours, NEW_YORK, _unix(NEW_YORK, 2026, 11, 26, 12), 3)
    assert [(a[:11], b[:11]) for a, b in found] == [
        ("11-26 18:30", "11-26 22:30"),
        ("11-27 06:30", "11-27 07:00"),
        ("11-27 20:00", "11-28 03:00"),
    ]


def test_starting_inside_a_span_leaves_the_rest_of_it() -> None:
    """In the middle of a span, even one from yesterday, the rest of it is open."""
    hours = parse_week("Fri 20:00-02:00")
    from_s = _unix(NEW_YORK, 2026, 11, 28, 1)
    assert open_spans(hours, NEW_YORK, from_s, 1) == ((0, 3600),)


def test_closed_dates_and_breaks_are_excluded() -> None:
    """A closed Christmas has no span, and a break splits the evening."""
    shop = Hours(SHOP.week, parse_closed(["2026-12-24..2026-12-26"]))
    found = _walls(shop, NEW_YORK, _unix(NEW_YORK, 2026, 12, 23, 12), 4)
    assert [a[:5] for a, _ in found] == ["12-23", "12-27"]
    split = shop.without(date(2026, 12, 23), 19 * 60, 19 * 60 + 30)
    found = _walls(split, NEW_YORK, _unix(NEW_YORK, 2026, 12, 23, 12), 0)
    assert [(a[6:11], b[6:11]) for a, b in found] == [("18:30", "19:00"), ("19:30", "22:30")]


def test_no_hours_means_always_open() -> None:
    """Without hours the shop is always open."""
    assert parse_week("") == ALWAYS
    assert open_spans(ALWAYS, NEW_YORK, 0) == ()
    assert parse_week("09:00-17:00").spans_on(date(2026, 11, 29)) == ((540, 1020),)


@pytest.mark.parametrize(
    "text",
    ["Mon", "Mon-Fri", "Moo 9-10", "Mon 9-9", "Mon 9-12, Mon 11-13", "Sun 22-7, Mon 6-8",
     "Mon-Fri 18:30-25:00", "9-17, Mon 12-13"],
)  # fmt: skip
def test_bad_hours_are_refused(text: str) -> None:
    """No days, no span, an invalid time and an hour given twice are refused."""
    with pytest.raises(TimeError):
        parse_week(text)


@pytest.mark.parametrize("text", ["Christmas", "2026-12-26..2026-12-24", "2026-12-24..", "12-24"])
def test_bad_dates_are_refused(text: str) -> None:
    """A range must run forward, and dates are ISO."""
    with pytest.raises(TimeError, match="2026-12-24"):
        parse_closed([text])


@given(
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 1439), st.integers(1, 600)), max_size=4),
    st.integers(1_600_000_000, 1_900_000_000),
)
def test_spans_come_in_order_and_never_touch(rows: list[tuple[int, int, int]], from_s: int) -> None:
    """For any hours, each moment of the wall clock is open or closed as they say."""
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    text = ", ".join(
        f"{names[d]} {b // 60:02}:{b % 60:02}-{(b + n) % 1440 // 60:02}:{(b + n) % 1440 % 60:02}"
        for d, b, n in rows
    )
    try:
        hours = parse_week(text)
    except TimeError:
        return
    spans = open_spans(hours, NEW_YORK, from_s, 10)
    assert all(a < b for a, b in spans)
    assert all(first[1] < second[0] for first, second in pairwise(spans))
    if hours.is_always:
        return
    for probe in range(0, 7 * 86_400, 5_000):
        wall = datetime.fromtimestamp(from_s + probe, UTC).astimezone(NEW_YORK)
        minute = wall.hour * 60 + wall.minute + wall.second / 60
        opened = any(
            begin <= minute + back * 1440 < end
            for back in (0, 1)
            for begin, end in hours.spans_on(wall.date() - timedelta(days=back))
        )
        ours = any(begin <= probe < end for begin, end in spans)
        change = wall.utcoffset() != (wall - timedelta(hours=26)).utcoffset()
        assert change or opened == ours
