"""Writing and reading durations, countdowns and times of day."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import groupby, pairwise

import pytest
from dateutil import parser
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.times import (
    TimeError,
    countdown,
    day,
    joined_spans,
    moment,
    parse_date,
    parse_moment,
    parse_span,
    parse_time_of_day,
    rough_duration,
    show_clock,
    time_of_day,
)

FRIDAY = datetime(2026, 11, 27, 14, 0)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0 s"), (45, "45 s"), (720, "12 min"), (390, "6 min 30 s"), (5400, "1 h 30 min"),
     (5430, "1 h 30 min"), (187_200, "2 d 4 h"), (86_400, "1 d"), (59.9, "59 s"), (-3, "0 s")],
)  # fmt: skip
def test_a_duration_is_two_units_at_most(seconds: float, text: str) -> None:
    """A duration has two units at most, so hours come without seconds."""
    assert rough_duration(seconds) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0:00"), (0.2, "0:01"), (59.1, "1:00"), (245, "4:05"), (3845, "1:04:05"), (-9, "0:00")],
)
def test_a_countdown_reads_zero_only_at_zero(seconds: float, text: str) -> None:
    """A countdown rounds up, in minutes and seconds, with hours only when needed."""
    assert countdown(seconds) == text


@pytest.mark.parametrize(
    ("days", "text"),
    [(0, "18:30"), (1, "Sat 18:30"), (6, "Thu 18:30"), (7, "Fri Dec 4 18:30"),
     (-1, "Thu Nov 26 18:30"), (400, "Sat Jan 1 2028 18:30")],
)  # fmt: skip
def test_a_time_names_its_day_unless_today(days: int, text: str) -> None:
    """A moment shows the day's name for the next six days, else its date."""
    then = FRIDAY.replace(hour=18, minute=30) + timedelta(days=days)
    assert moment(then, FRIDAY) == text


def test_times_can_use_the_12_hour_clock() -> None:
    """A 12-hour clock marks morning and evening in every time of day."""
    show_clock(12)
    try:
        assert time_of_day(FRIDAY) == "2:00 pm"
        assert time_of_day(FRIDAY.replace(hour=0), seconds=True) == "12:00:00 am"
        assert moment(FRIDAY + timedelta(days=1), FRIDAY) == "Sat 2:00 pm"
    finally:
        show_clock(24)
    assert time_of_day(FRIDAY, seconds=True) == "14:00:00"
    assert day(FRIDAY.date(), FRIDAY.date()) == "today"


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("18:30", 1110), ("6:30 pm", 1110), ("6.30PM", 1110), ("9", 540), ("9 am", 540),
     ("9a", 540), ("12 am", 0), ("12 pm", 720), ("noon", 720), ("midnight", 1440),
     ("24:00", 1440), ("07:05", 425)],
)  # fmt: skip
def test_a_time_of_day_is_read_as_people_write_it(text: str, minutes: int) -> None:
    """A time of day works with or without minutes, in 12 or 24 hours."""
    assert parse_time_of_day(text) == minutes


@pytest.mark.parametrize("text", ["", "25:00", "13 pm", "0 am", "9:60", "soon", "24:01", "-3"])
def test_a_bad_time_is_refused_with_an_example(text: str) -> None:
    """The message shows a correct form."""
    with pytest.raises(TimeError, match="18:30"):
        parse_time_of_day(text)


@pytest.mark.parametrize(
    ("text", "ends"),
    [("22:00-07:00", (1320, 420)), ("10 pm to 7 am", (1320, 420)), ("22-7", (1320, 420)),
     ("19:00 - 19:30", (1140, 1170)), ("9 until noon", (540, 720)), ("18:30–24:00", (1110, 1440))],
)  # fmt: skip
def test_a_span_has_a_start_and_an_end(text: str, ends: tuple[int, int]) -> None:
    """An end before the beginning is on the next day."""
    assert parse_span(text) == ends


@pytest.mark.parametrize("text", ["9", "9-9", "24:00-3", "from nine", "9-10-11"])
def test_a_bad_span_is_refused(text: str) -> None:
    """A span needs two different ends."""
    with pytest.raises(TimeError):
        parse_span(text)


@pytest.mark.parametrize(
    ("text", "then"),
    [("now", "2026-11-27 14:00"), ("18:30", "2026-11-27 18:30"), ("13:00", "2026-11-28 13:00"),
     ("tomorrow 6:30", "2026-11-28 06:30"), ("Sat 09:00", "2026-11-28 09:00"),
     ("saturday at 9 am", "2026-11-28 09:00"), ("fri 9:00", "2026-12-04 09:00"),
     ("Fri 15:00", "2026-11-27 15:00"), ("in 45 min", "2026-11-27 14:45"),
     ("in 1 h 30 min", "2026-11-27 15:30"), ("2026-12-05 18:30", "2026-12-05 18:30"),
     ("2026-12-05T18:30", "2026-12-05 18:30"), ("tonight 20:00", "2026-11-27 20:00")],
)  # fmt: skip
def test_a_time_means_the_next_such_time(text: str, then: str) -> None:
    """A time that is past today means tomorrow, and a day's name means the next such day."""
    assert parse_moment(text, FRIDAY) == datetime.fromisoformat(then)


@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 12, 31)))  # noqa: DTZ001
def test_iso_times_agree_with_another_parser(then: datetime) -> None:
    """ISO times agree with python-dateutil."""
    text = then.replace(second=0, microsecond=0).isoformat(sep=" ")
    assert parse_moment(text, FRIDAY) == parser.isoparse(text.replace(" ", "T"))


@given(st.integers(0, 13), st.integers(0, 23), st.integers(0, 59))
def test_a_written_time_reads_back_within_a_week(days: int, hour: int, minute: int) -> None:
    """The program reads its own way of writing a time."""
    then = FRIDAY.replace(hour=hour, minute=minute) + timedelta(days=days)
    if then > FRIDAY and days < 7:
        assert parse_moment(moment(then, FRIDAY), FRIDAY) == then


@pytest.mark.parametrize(
    ("text", "then"),
    [("2026-12-11", date(2026, 12, 11)), ("today", FRIDAY.date()), ("tomorrow", date(2026, 11, 28)),
     ("Wed", date(2026, 12, 2)), ("Dec 18", date(2026, 12, 18)),
     ("Fri Dec 18", date(2026, 12, 18)), ("january 5", date(2027, 1, 5)),
     ("Nov. 27, 2028", date(2028, 11, 27))],
)  # fmt: skip
def test_a_date_is_read(text: str, then: date) -> None:
    """ISO dates, names of coming days, and days as the screen writes them are accepted."""
    assert parse_date(text, FRIDAY.date()) == then


@pytest.mark.parametrize(
    "text", ["in a while", "someday", "2026-13-01 10:00", "Sat 25:00", "tomorrow noonish"]
)
def test_a_bad_date_and_time_is_refused(text: str) -> None:
    """Anything else gets one clear message."""
    with pytest.raises(TimeError):
        parse_moment(text, FRIDAY)
    with pytest.raises(TimeError):
        parse_date("32 Dec", FRIDAY.date())
    for wrong in ("Dec 32", "Foo 18", "Thu Dec 18", "Feb 29"):
        with pytest.raises(TimeError, match="is not a date"):
            parse_date(wrong, FRIDAY.date())


spans = st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda span: (span[0], sum(span)))


@given(st.lists(spans), st.integers(0, 5))
def test_joined_spans_cover_the_same_time(given_spans: list[tuple[int, int]], gap_s: int) -> None:
    """Joined spans lie further apart than the gap, and cover the given ones and short gaps only."""
    joined = joined_spans(given_spans, gap_s)
    assert all(b[0] - a[1] > gap_s for a, b in pairwise(joined))
    covered = {s for begin, end in given_spans for s in range(begin, end)}
    for begin, end in joined:
        assert any(begin == a for a, _ in given_spans)
        assert any(end == b for _, b in given_spans)
        inside = [s in covered for s in range(begin, end)]
        gaps = [len(list(run)) for is_covered, run in groupby(inside) if not is_covered]
        assert max(gaps, default=0) <= gap_s
    assert covered <= {s for begin, end in joined for s in range(begin, end)}
