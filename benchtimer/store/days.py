"""Times of day from the clocks of an entry."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone


def local_time(wall_ms: int, offset_s: int) -> str:
    """ISO 8601 time with its offset, to the second."""
    zone = timezone(timedelta(seconds=max(-86_399, min(86_399, offset_s))))
    try:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=wall_ms)
        return moment.astimezone(zone).isoformat(timespec="seconds")
    except OverflowError:
        return "out of the calendar"
