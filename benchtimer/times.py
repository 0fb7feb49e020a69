"""Durations, countdowns, times of day and dates: one way to write each, and several to read them.

Written: ``45 s``, ``12 min``, ``1 h 30 min``, ``2 d 4 h``; countdowns ``4:05`` and ``1:04:05``;
``18:30`` today, ``Sat 18:30`` within the next six days, ``Sat Dec 5 18:30`` after that. No other
module formats a time; the rest of the package calls this one.

Read: ``18:30``, ``6:30 pm``, ``10 pm to 7 am``, ``22-7``, ``tomorrow 6:30``, ``Sat 09:00``,
``in 45 min``, ``2026-12-05 18:30``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final, Literal, TypeVar

from benchtimer.quantity import QuantityError, parse_duration

Seconds = TypeVar("Seconds", int, float)

DAY_MIN: Final = 24 * 60
DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS: Final = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
NEAR_DAYS: Final = 6
"""Within this many days, the name of the day is enough."""

_UNITS = (("d", 86_400), ("h", 3600), ("min", 60), ("s", 1))
_TIME = re.compile(
    r"(?P<hour>\d{1,2})(?:[:.](?P<minute>\d{2}))?(?:[:.]\d{2})?\s*(?P<half>[ap])?\.?(?:m\.?)?",
    re.IGNORECASE,
)
_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
_WORDS = {"noon": 12 * 60, "midnight": DAY_MIN}


class TimeError(ValueError):
    """Text that is not a time: what is wrong with it, and how to write it."""

    def __init__(self, text: str, reason: str, allowed: str) -> None:
        super().__init__(text, reason, allowed)
        self.text = text
        self.reason = reason
        self.allowed = allowed

    def __str__(self) -> str:
        return f'"{self.text}" {self.reason}; {self.allowed}'


# ---------------------------------------------------------------- written


def duration(seconds: float) -> str:
    """A duration in all its units, for files and figures; it reads back as the same seconds. A
    negative one has a minus sign and can't be read back.
    """
    pieces: list[str] = []
    whole = round(seconds)
    rest = abs(whole)
    for unit, size in _UNITS:
        count, rest = divmod(rest, size)
        pieces += [f"{count} {unit}"] if count else []
    return ("-" if whole < 0 else "") + (" ".join(pieces) or "0 s")


def rough_duration(seconds: float) -> str:
    """A duration in its two largest units, the second one rounded down: ``1 h 30 min``."""
    whole = max(0, int(seconds))
    large = next((n for n, (_, size) in enumerate(_UNITS) if whole >= size), len(_UNITS) - 1)
    finest = _UNITS[min(large + 1, len(_UNITS) - 1)][1]
    return duration(whole // finest * finest)


def countdown(seconds: float) -> str:
    """Time left, rounded up so that it shows 0:00 only when it is: ``4:05``, ``1:04:05``."""
    whole = max(0, -int(-seconds // 1))
    hours, rest = divmod(whole, 3600)
    if hours:
        return f"{hours}:{rest // 60:02}:{rest % 60:02}"
    return f"{rest // 60}:{rest % 60:02}"


def elapsed(seconds: float) -> str:
    """Time since, rounded down: ``1:20``. The board, the rinse timer and records use it."""
    return countdown(int(max(0.0, seconds)))


def ordinal(number: int) -> str:
    """A place in an order: ``1st``, ``2nd``, ``11th``."""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{'th' if number // 10 % 10 == 1 else ending}"


def rounded_s(seconds: float) -> int:
    """A time as you would note it, in seconds: to about one part in a hundred, and at least 1 s."""
    size = next(s for s, top in ((5, 600), (30, 3600), (60, 7200), (300, 10**9)) if seconds < top)
    return max(1, round(seconds / size) * size) if seconds >= 20 else max(1, round(seconds))


def joined_spans(
    spans: Iterable[tuple[Seconds, Seconds]], gap_s: float = 0
) -> list[tuple[Seconds, Seconds]]:
    """Spans of time in order; ones that overlap, touch or have a gap up to ``gap_s`` are merged."""
    found: list[tuple[Seconds, Seconds]] = []
    for begin, end in sorted(spans):
        if found and begin - found[-1][1] <= gap_s:
            found[-1] = found[-1][0], max(found[-1][1], end)
        else:
            found.append((begin, end))
    return found


def minute_of_day(minutes: int) -> str:
    """Minutes after midnight as a time of day: ``18:30``; ``24:00`` ends the day."""
    return f"{minutes // 60:02}:{minutes % 60:02}"


_clock_hours = 24


def show_clock(hours: Literal[12, 24]) -> None:
    """Set 12 or 24 hours for all times of day, from the shop's settings."""
    global _clock_hours
    _clock_hours = hours


def time_of_day(then: datetime, *, seconds: bool = False) -> str:
    """A time of day, in the hours that ``show_clock`` set: ``18:30`` or ``6:30 pm``."""
    if _clock_hours == 24:
        return then.strftime("%H:%M:%S" if seconds else "%H:%M")
    text = then.strftime("%I:%M:%S %p" if seconds else "%I:%M %p").lstrip("0")
    return text.replace("AM", "am").replace("PM", "pm")


def moment(then: datetime, now: datetime, *, seconds: bool = False) -> str:
    """A time of day, with its day if that is not today.

    Args:
        then: the time.
        now: the time now.
        seconds: show seconds.
    """
    days = (then.date() - now.date()).days
    text = time_of_day(then, seconds=seconds)
    if days == 0:
        return text
    return f"{day(then.date(), now.date())} {text}"


def day(then: date, today: date) -> str:
    """A day: ``today``, ``Sat`` within the next six days, ``Sat Dec 5``, or with its year."""
    days = (then - today).days
    if days == 0:
        return "today"
    name = DAYS[then.weekday()]
    if 0 < days <= NEAR_DAYS:
        return name
    text = date_words(then)
    return text if abs(days) < 300 else f"{text} {then.year}"


def date_words(then: date) -> str:
    """A date with the name of its day: ``Sat Dec 5``."""
    return f"{DAYS[then.weekday()]} {then.strftime('%b')} {then.day}"


# ---------------------------------------------------------------- read


def parse_time_of_day(text: str) -> int:
    """Minutes after midnight of ``18:30``, ``6:30 pm``, ``9``, ``noon``; 24:00 ends the day.

    Raises:
        TimeError: it is not a time of day.
    """
    said = text.strip().lower()
    if said in _WORDS:
        return _WORDS[said]
    allowed = "write it like 18:30 or 6:30 pm"
    match = _TIME.fullmatch(said)
    if match is None:
        raise TimeError(text, "is not a time of day", allowed)
    hour, minute = int(match["hour"]), int(match["minute"] or 0)
    half = match["half"]
    if half and not 1 <= hour <= 12:
        raise TimeError(text, "has no such hour", allowed)
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    if minute > 59 or hour * 60 + minute > DAY_MIN:
        raise TimeError(text, "has no such hour or minute", allowed)
    return hour * 60 + minute


def parse_span(text: str) -> tuple[int, int]:
    """Minutes after midnight of both ends of ``22:00-07:00``, ``10 pm to 7 am`` or ``22-7``.

    If the end is smaller than the beginning, it is on the next day.

    Raises:
        TimeError: it is not a pair of times of day, or both are the same.
    """
    ends = re.split(r"\s*(?:-|–|\bto\b|\buntil\b)\s*", text.strip(), maxsplit=1)
    allowed = "write it like 18:30-22:30 or 10 pm to 7 am"
    if len(ends) != 2:
        raise TimeError(text, "is not a pair of times", allowed)
    begin, end = (parse_time_of_day(end) for end in ends)
    if begin in (end, DAY_MIN):
        raise TimeError(text, "begins and ends at the same time", allowed)
    return begin, end


def parse_moment(text: str, now: datetime) -> datetime:
    """The moment that a text means as of now; times without a day mean the next such time.

    Args:
        text: ``now``, ``18:30``, ``tomorrow 6:30``, ``Sat 09:00``, ``in 45 min``, or an ISO
            date with a time.
        now: the present, with or without a zone; the answer has the same.

    Raises:
        TimeError: it is none of these.
    """
    said = text.strip()
    if said.lower() == "now":
        return now
    if said.lower().startswith("in "):
        return now + timedelta(seconds=_seconds(text, said[3:]))
    if _DATE.match(said):
        return _iso(text, said, now)
    first, _, rest = said.partition(" ")
    ahead = _days_ahead(first, now)
    if ahead is not None:
        minutes = parse_time_of_day(rest.removeprefix("at ")) if rest else 0
        then = _at(now, ahead, minutes)
        return then if then > now or first.lower() == "today" else _at(now, ahead + 7, minutes)
    minutes = parse_time_of_day(said)
    then = _at(now, 0, minutes)
    return then if then > now else _at(now, 1, minutes)


def parse_date(text: str, today: date) -> date:
    """The date that a text means: ISO, ``today``, ``tomorrow``, the next ``Fri`` or ``Dec 18``.

    Raises:
        TimeError: it is none of these.
    """
    said = text.strip()
    ahead = _days_ahead(said, datetime(today.year, today.month, today.day))  # noqa: DTZ001
    if ahead is not None:
        return today + timedelta(days=ahead)
    try:
        return _month_day(said.lower(), today) or date.fromisoformat(said)
    except ValueError:
        raise TimeError(text, "is not a date", "write it like 2026-12-11 or Fri") from None


def _month_day(said: str, today: date) -> date | None:
    """The next ``dec 18``, also with its weekday or its year; None if it is written otherwise.

    Raises:
        ValueError: there is no such day.
    """
    found = re.fullmatch(r"(?:([a-z]{3,}),? +)?([a-z]{3,})\.? +(\d{1,2})(?:,? +(\d{4}))?", said)
    if found is None:
        return None
    weekday, word, number, year = found.groups()
    month = next((n for n, name in enumerate(MONTHS, start=1) if name.startswith(word)), 0)
    day = date(int(year or today.year), month, int(number))
    if not year and day < today:
        day = day.replace(year=day.year + 1)
    if weekday and not _is_day(weekday, DAYS[day.weekday()]):
        raise ValueError(f"{day} is a {DAYS[day.weekday()]}")
    return day


def _days_ahead(word: str, now: datetime) -> int | None:
    said = word.strip().lower().rstrip(",")
    if said in ("today", "tonight"):
        return 0
    if said == "tomorrow":
        return 1
    names = [n for n, name in enumerate(DAYS) if len(said) >= 3 and _is_day(said, name)]
    return (names[0] - now.weekday()) % 7 if names else None


def _is_day(said: str, name: str) -> bool:
    full = {"Mon": "monday", "Tue": "tuesday", "Wed": "wednesday", "Thu": "thursday",
            "Fri": "friday", "Sat": "saturday", "Sun": "sunday"}[name]  # fmt: skip
    return full.startswith(said)


def _at(now: datetime, days: int, minutes: int) -> datetime:
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight + timedelta(days=days, minutes=minutes)


def _seconds(text: str, rest: str) -> int:
    try:
        return parse_duration(rest)
    except QuantityError:
        raise TimeError(text, "is not a time from now", "write it like in 45 min") from None


def _iso(text: str, said: str, now: datetime) -> datetime:
    try:
        then = datetime.fromisoformat(said)
    except ValueError:
        allowed = "write it like 2026-12-05 18:30"
        raise TimeError(text, "is not a date and time", allowed) from None
    if then.tzinfo is None:
        return then.replace(tzinfo=now.tzinfo)
    return then.astimezone(now.tzinfo) if now.tzinfo is not None else then.replace(tzinfo=None)
