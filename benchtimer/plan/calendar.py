"""A plan's moves as calendar entries with alarms (RFC 5545, iCalendar).

The ``icalendar`` library makes the text. Only calendars need it, so it is the extra ``calendar``
and is imported when it is used.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from benchtimer.plan.outcome import Plan, PlannedMove

if TYPE_CHECKING:
    from icalendar import Event

PRODUCT = "-//benchtimer//plan//EN"


class CalendarMissingError(ImportError):
    """The calendar library is not installed."""

    def __str__(self) -> str:
        return (
            "writing a calendar needs the icalendar library, which is not installed; "
            "install benchtimer with its extra: pip install 'benchtimer[calendar]'"
        )


def to_ics(
    plan: Plan,
    zero: datetime,
    *,
    run: str = "bench",
    stamp: datetime | None = None,
    alarm_before_s: int = 60,
) -> str:
    """The moves as VEVENTs, each with a VALARM that shows its text.

    Args:
        plan: the plan whose moves are written.
        zero: the wall time of second 0 of the plan, with a time zone.
        run: the run's name; with part and move it makes permanent names for the entries, so that a
            later plan of the same run replaces them in the calendar.
        stamp: when the calendar is made (DTSTAMP); ``zero`` by default.
        alarm_before_s: how long before its start a move rings.

    Raises:
        CalendarMissingError: the library is not installed.
        ValueError: ``zero`` has no time zone.
    """
    if zero.tzinfo is None:
        raise ValueError(f"zero {zero.isoformat()} has no time zone; give it one")
    try:
        from icalendar import Calendar
    except ImportError as missing:
        raise CalendarMissingError from missing
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    for move in plan.moves:
        calendar.add_component(_event(move, zero, run, stamp or zero, alarm_before_s))
    return bytes(calendar.to_ical()).decode("utf-8")


def _words(move: PlannedMove) -> str:
    if move.step == "done":
        return f"{move.part}: out of {move.from_station}, done"
    where = "" if move.step == move.to_station else f" ({move.to_station})"
    return f"{move.part}: {move.step}{where}"


def _safe(name: str) -> str:
    """A name of letters, digits and periods only, different for different names."""
    return "".join(c if c.isascii() and c.isalnum() else f".{ord(c):x}." for c in name)


def _event(
    move: PlannedMove, zero: datetime, run: str, stamp: datetime, alarm_before_s: int
) -> Event:
    from icalendar import Alarm, Event

    utc = zero.astimezone(UTC)
    event = Event()
    event.add("uid", f"{_safe(run)}-{_safe(move.part)}-{move.move}@benchtimer")
    event.add("dtstamp", stamp.astimezone(UTC))
    event.add("dtstart", utc + timedelta(seconds=move.start_s))
    if move.end_s > move.start_s:
        event.add("dtend", utc + timedelta(seconds=move.end_s))
    event.add("summary", _words(move))
    event.add("location", move.from_station)
    if move.steps:
        event.add("description", ", ".join(move.steps))
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", _words(move))
    alarm.add("trigger", timedelta(seconds=-alarm_before_s))
    event.add_component(alarm)
    return event
