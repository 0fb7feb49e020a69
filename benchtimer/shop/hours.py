"""When you work: spans by weekday, dates closed, breaks today, by the wall clock.

``Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00``: several spans a day are fine, and a span can run past
midnight. No hours at all means always.

Daylight saving: hours follow the wall clock. A time that the clock skips is read as the first
moment after the gap, so that hours inside the gap are empty. A time that comes twice means the
first one (RFC 5545, 3.3.5).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta, tzinfo

from benchtimer.times import DAY_MIN, DAYS, TimeError, joined_spans, minute_of_day, parse_span
from benchtimer.values import dataclass, field, replace

AHEAD_DAYS = 60
"""How far ahead hours are calculated."""

FAR_DAYS = 800
"""How far ahead to look for the next open day."""

Span = tuple[int, int]
"""Seconds from some zero: the start, and the end (not included)."""


@dataclass(frozen=True, slots=True)
class WeekSpan:
    """One span of every week.

    Attributes:
        weekday: the day it begins on, Monday is 0.
        begin_min: minutes after that midnight.
        end_min: minutes after that same midnight; more than a day if it passes the next.
    """

    weekday: int
    begin_min: int
    end_min: int


@dataclass(frozen=True, slots=True)
class Hours:
    """When you work.

    Attributes:
        week: the spans of a week; none means always.
        closed: dates on which no span begins, first and last of each range.
        changes: dates with other spans, such as a day with a break or an early end.
    """

    week: tuple[WeekSpan, ...] = ()
    closed: tuple[tuple[date, date], ...] = ()
    changes: dict[date, tuple[Span, ...]] = field(default_factory=dict)

    @property
    def is_always(self) -> bool:
        """Whether there are no set hours."""
        return not (self.week or self.closed or self.changes)

    def spans_on(self, day: date) -> tuple[Span, ...]:
        """The spans that begin on a date, in minutes after its midnight."""
        if day in self.changes:
            return self.changes[day]
        if any(first <= day <= last for first, last in self.closed):
            return ()
        if not self.week:
            return ((0, DAY_MIN),)
        return tuple((s.begin_min, s.end_min) for s in self.week if s.weekday == day.weekday())

    def without(self, day: date, begin_min: int, end_min: int) -> Hours:
        """The same, with a break on one date, from one minute of the day to another.

        Args:
            day: the date.
            begin_min: minutes after midnight.
            end_min: minutes after midnight.
        """
        kept: list[Span] = []
        for begin, end in self.spans_on(day):
            kept += [(begin, min(end, begin_min))] if begin < begin_min else []
            kept += [(max(begin, end_min), end)] if end > end_min else []
        return replace(self, changes={**self.changes, day: tuple(kept)})


ALWAYS = Hours()


def parse_week(text: str) -> Hours:
    """Hours such as ``Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00``; an empty text means always.

    Raises:
        TimeError: a part of it is not days with a span, or spans overlap.
    """
    spans: list[WeekSpan] = []
    for piece in (piece.strip() for piece in text.split(",")):
        if piece:
            spans += _week_spans(piece)
    spans.sort(key=lambda s: (s.weekday, s.begin_min))
    _check_overlap(text, spans)
    return Hours(tuple(spans))


def hours_words(hours: Hours) -> str:
    """The spans of a week in the form that ``parse_week`` reads, with equal days in a row
    combined.
    """
    by_day = [
        tuple((s.begin_min, s.end_min) for s in hours.week if s.weekday == day) for day in range(7)
    ]
    pieces: list[str] = []
    day = 0
    while day < len(DAYS):
        last = day
        while last + 1 < len(DAYS) and by_day[last + 1] == by_day[day]:
            last += 1
        days = DAYS[day] if last == day else f"{DAYS[day]}-{DAYS[last]}"
        pieces += [f"{days} {_span_words(span)}" for span in by_day[day]]
        day = last + 1
    return ", ".join(pieces)


def _span_words(span: Span) -> str:
    end = span[1] if span[1] <= DAY_MIN else span[1] - DAY_MIN
    return f"{minute_of_day(span[0])}-{minute_of_day(end)}"


def _week_spans(piece: str) -> Iterator[WeekSpan]:
    allowed = "write it like Mon-Fri 18:30-22:30"
    match = re.fullmatch(r"(?:([A-Za-z]{3,9})(?:\s*(?:-|to)\s*([A-Za-z]{3,9}))?\s+)?(.+)", piece)
    if match is None:
        raise TimeError(piece, "names no hours", allowed)
    days = _weekdays(piece, match[1], match[2]) if match[1] else range(7)
    begin, end = parse_span(match[3])
    for weekday in days:
        yield WeekSpan(weekday, begin, end if end > begin else end + DAY_MIN)


def _weekdays(piece: str, first: str, last: str | None) -> list[int]:
    ends = [_weekday(piece, name) for name in (first, last or first)]
    return [(ends[0] + n) % 7 for n in range((ends[1] - ends[0]) % 7 + 1)]


def _weekday(piece: str, name: str) -> int:
    for number, known in enumerate(DAYS):
        if name[:3].lower() == known.lower():
            return number
    raise TimeError(piece, f'has no day "{name}"', f"the days are {', '.join(DAYS)}")


def _check_overlap(text: str, spans: list[WeekSpan]) -> None:
    week_min = 7 * DAY_MIN
    at = sorted((s.weekday * DAY_MIN + s.begin_min, s.weekday * DAY_MIN + s.end_min) for s in spans)
    following = [*at[1:], *((a + week_min, b + week_min) for a, b in at[:1])]
    for (_, end), (begin, _) in zip(at, following, strict=True):
        if begin < end and len(at) > 1:
            raise TimeError(text, "has hours that overlap", "give each hour once")


def parse_closed(texts: Iterable[str]) -> tuple[tuple[date, date], ...]:
    """Dates closed, such as ``2026-12-24`` or ``2026-12-24..2026-12-26``.

    Raises:
        TimeError: text that is neither.
    """
    return tuple(_closed(text) for text in texts)


def _closed(text: str) -> tuple[date, date]:
    first, dots, last = text.partition("..")
    try:
        ends = date.fromisoformat(first.strip()), date.fromisoformat((last or first).strip())
    except ValueError:
        ends = date.max, date.min
    if ends[0] > ends[1] or (dots and not last):
        raise TimeError(text, "is not a date or range of dates", "like 2026-12-24..2026-12-26")
    return ends


def open_spans(hours: Hours, zone: tzinfo, from_s: int, days: int = AHEAD_DAYS) -> tuple[Span, ...]:
    """When you work from a moment on, in seconds from that moment.

    Args:
        hours: the hours.
        zone: the shop's time zone, with its daylight saving.
        from_s: the moment, in Unix seconds.
        days: how far to look ahead.

    Returns:
        Spans in order, none of which touch; nothing if the hours are always open.
    """
    if hours.is_always:
        return ()
    today = datetime.fromtimestamp(from_s, zone).date()
    found: list[Span] = []
    for ahead in range(-2, days + 1):  # a span may have begun the day before
        day = today + timedelta(days=ahead)
        for begin, end in hours.spans_on(day):
            span = _unix_s(day, begin, zone) - from_s, _unix_s(day, end, zone) - from_s
            found.append((max(0, span[0]), span[1]))
    return tuple(joined_spans(span for span in found if span[1] > max(0, span[0])))


def next_opening(hours: Hours, zone: tzinfo, from_s: int) -> int | None:
    """Unix seconds when hours open next, within ``FAR_DAYS``; None if they don't.

    Args:
        hours: when you work.
        zone: the shop's time zone.
        from_s: the moment, in Unix seconds.
    """
    spans = open_spans(hours, zone, from_s, FAR_DAYS)
    return from_s + spans[0][0] if spans else None


def _unix_s(day: date, minutes: int, zone: tzinfo) -> int:
    """Unix seconds of a wall-clock time; see the top of the module for skipped times."""
    wall = datetime(day.year, day.month, day.day) + timedelta(minutes=minutes)  # noqa: DTZ001
    first = int(wall.replace(tzinfo=zone).timestamp())
    back = datetime.fromtimestamp(first, zone).replace(tzinfo=None)
    if back == wall:
        return first
    # The wall clock never shows it: the gap ends where the offset changes.
    before = _offset_s(first - 86_400, zone)
    low, high = first - 86_400, first + 86_400
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _offset_s(middle, zone) == before else (low, middle)
    return high


def _offset_s(unix_s: int, zone: tzinfo) -> int:
    offset = datetime.fromtimestamp(unix_s, UTC).astimezone(zone).utcoffset() or timedelta()
    return round(offset.total_seconds())
