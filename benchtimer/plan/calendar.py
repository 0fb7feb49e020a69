"""A plan's moves as calendar entries with alarms (RFC 5545, iCalendar).

The ``icalendar`` library makes the text. Only calendars need it, so it is the extra ``calendar``
and is imported when it is used.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from benchtimer.plan.outcome import DONE, Plan, PlannedMove
from benchtimer.values import dataclass

PRODUCT = "-//benchtimer//plan//EN"

BEFORE_MOVE = timedelta(minutes=1)
"""How long before its start a move rings."""


class CalendarMissingError(ImportError):
    """The calendar library is not installed."""

    def __str__(self) -> str:
        return (
            "writing a calendar needs the icalendar library, which is not installed; "
            "install benchtimer with its extra: pip install 'benchtimer[calendar]'"
        )


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """One entry of a calendar, with an alarm that shows its title.

    Attributes:
        name: its permanent name: a later calendar replaces an entry with the same name.
        title: what you read.
        begins: when it begins.
        ends: when it ends; None for a moment.
        before: how long before its beginning the alarm rings.
        details: the text below the title, if any.
        place: where, if known.
    """

    name: str
    title: str
    begins: datetime
    ends: datetime | None
    before: timedelta
    details: str = ""
    place: str = ""


def calendar_text(entries: Iterable[CalendarEntry], stamp: datetime, method: str = "") -> str:
    """The entries as VEVENTs, each with a VALARM.

    Args:
        entries: the entries.
        stamp: when the calendar is made (DTSTAMP).
        method: the METHOD of the calendar, if any.

    Raises:
        CalendarMissingError: the library is not installed.
    """
    try:
        from icalendar import Alarm, Calendar, Event
    except ImportError as missing:
        raise CalendarMissingError from missing
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    if method:
        calendar.add("method", method)
    for entry in entries:
        event, alarm = Event(), Alarm()
        event.add("uid", f"{entry.name}@benchtimer")
        event.add("dtstamp", stamp.astimezone(UTC))
        event.add("dtstart", entry.begins.astimezone(UTC))
        if entry.ends is not None:
            event.add("dtend", entry.ends.astimezone(UTC))
        event.add("summary", entry.title)
        if entry.place:
            event.add("location", entry.place)
        if entry.details:
            event.add("description", entry.details)
        alarm.add("action", "DISPLAY")
        alarm.add("description", entry.title)
        alarm.add("trigger", -entry.before)
        event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical()).decode("utf-8")


def to_ics(plan: Plan, zero: datetime, *, run: str = "bench") -> str:
    """The moves as calendar entries.

    Args:
        plan: the plan whose moves are written.
        zero: the wall time of second 0 of the plan, with a time zone.
        run: the run's name; with part and move it makes permanent names for the entries, so that a
            later plan of the same run replaces them in the calendar.

    Raises:
        CalendarMissingError: the library is not installed.
        ValueError: ``zero`` has no time zone.
    """
    if zero.tzinfo is None:
        raise ValueError(f"zero {zero.isoformat()} has no time zone; give it one")
    return calendar_text((_entry(move, zero.astimezone(UTC), run) for move in plan.moves), zero)


def _entry(move: PlannedMove, zero: datetime, run: str) -> CalendarEntry:
    begins, length = zero + timedelta(seconds=move.start_s), move.end_s - move.start_s
    return CalendarEntry(
        f"{_safe(run)}-{_safe(move.part)}-{move.move}",
        _words(move),
        begins,
        begins + timedelta(seconds=length) if length > 0 else None,
        BEFORE_MOVE,
        ", ".join(move.steps),
        move.from_station,
    )


def _words(move: PlannedMove) -> str:
    if move.step == DONE:
        return f"{move.part}: out of {move.from_station}, done"
    where = "" if move.step == move.to_station else f" ({move.to_station})"
    return f"{move.part}: {move.step}{where}"


def _safe(name: str) -> str:
    """A name of letters, digits and periods only, different for different names."""
    return "".join(c if c.isascii() and c.isalnum() else f".{ord(c):x}." for c in name)
