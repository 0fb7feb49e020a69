"""The shop's wall-clock time at other moments, across daylight saving changes.

A stamp knows the offset from UTC of its own moment only. If the machine's time zone had that offset
then, its rules give the offset at any other moment; a stamp from another zone keeps its own.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

from benchtimer.clock import offset_s
from benchtimer.shop.hours import Hours, next_opening, open_spans
from benchtimer.store.log import Stamp
from benchtimer.times import TimeError, moment, parse_moment
from benchtimer.values import replace

DAY_S = 86_400
EPOCH = datetime.fromtimestamp(0, UTC)


def offset_at(wall_ms: int, stamp: Stamp) -> int:
    """The shop's offset from UTC at a Unix time in milliseconds, in seconds."""
    return offset_s(wall_ms) if offset_s(stamp.wall_ms) == stamp.offset_s else stamp.offset_s


def moment_at(wall_ms: int, stamp: Stamp) -> datetime | None:
    """A Unix time in milliseconds as shop wall-clock time; None if no calendar has it."""
    zone = timezone(timedelta(seconds=offset_at(wall_ms, stamp)))
    try:
        return (EPOCH + timedelta(milliseconds=wall_ms)).astimezone(zone)
    except OverflowError:
        return None


class ShopZone(tzinfo):
    """The shop's time zone, from a stamp and the machine's rules."""

    def __init__(self, stamp: Stamp) -> None:
        self._stamp = stamp

    def _offset(self, unix_s: float) -> int:
        return offset_at(int(unix_s) * 1000, self._stamp)

    def utcoffset(self, when: datetime | None) -> timedelta:
        """The offset of a wall-clock time; for one that comes twice or never, see PEP 495."""
        if when is None:
            return timedelta(seconds=self._stamp.offset_s)
        wall_s = (when.replace(tzinfo=None) - datetime(1970, 1, 1)).total_seconds()  # noqa: DTZ001
        before, after = self._offset(wall_s - DAY_S), self._offset(wall_s + DAY_S)
        kept = [s for s in dict.fromkeys((before, after)) if self._offset(wall_s - s) == s]
        if len(kept) == 1:
            return timedelta(seconds=kept[0])
        return timedelta(seconds=after if when.fold else before)

    def fromutc(self, when: datetime) -> datetime:
        """The wall-clock time at a moment given in UTC."""
        unix_s = (when.replace(tzinfo=None) - datetime(1970, 1, 1)).total_seconds()  # noqa: DTZ001
        wall = when + timedelta(seconds=self._offset(unix_s))
        return wall.replace(fold=int(self.utcoffset(wall) != wall - when))

    def dst(self, when: datetime | None) -> None:  # noqa: ARG002
        """Not known: only offsets matter here."""
        return

    def tzname(self, when: datetime | None) -> str:
        """The offset as text."""
        return str(timezone(self.utcoffset(when)))


def date_of(stamp: Stamp) -> date:
    """The date on the shop's calendar."""
    return datetime.fromtimestamp(stamp.wall_ms / 1000, ShopZone(stamp)).date()


def real_s(wall_s: int, stamp: Stamp) -> int:
    """The seconds until the wall clock has moved forward by ``wall_s``. They differ by an hour if
    daylight saving begins or ends in between. A skipped time is read as if the clock had not moved
    forward.
    """
    seconds = wall_s
    for _ in range(2):
        shift_s = offset_at(stamp.wall_ms + seconds * 1000, stamp) - stamp.offset_s
        seconds = wall_s - shift_s
    return seconds


def of_day_s(stamp: Stamp) -> int:
    """Seconds since midnight by the shop's wall clock."""
    return (stamp.wall_ms // 1000 + stamp.offset_s) % DAY_S


def until_time_of_day_s(minutes: int, stamp: Stamp) -> int:
    """The seconds until it is next this many minutes after midnight; 0 if it is that time now."""
    return real_s((minutes * 60 - of_day_s(stamp)) % DAY_S, stamp)


def moment_of(text: str, now: Stamp) -> Stamp:
    """The stamp of a future moment, as people write it: ``Sat 09:00``, ``in 45 min``, ISO.

    Raises:
        TimeError: it is not a time, or it is in the past.
    """
    second_ms = now.wall_ms // 1000 * 1000
    then = parse_moment(text, datetime.fromtimestamp(second_ms / 1000, ShopZone(now)))
    ahead_ms = round(then.timestamp()) * 1000 - second_ms
    if ahead_ms < 0:
        raise TimeError(text, "is over", "give a later time")
    return later(now, ahead_ms + second_ms - now.wall_ms if ahead_ms else 0)


def day_and_time(t_ms: int, stamp: Stamp) -> str:
    """A bench time as shop wall-clock time, with its day if that is not the stamp's."""
    now, then = (
        moment_at(stamp.wall_ms, stamp),
        moment_at(stamp.wall_ms + t_ms - stamp.noted_ms, stamp),
    )
    return moment(then, now) if now is not None and then is not None else ""


def no_hours_words(hours: Hours, start: Stamp) -> str:
    """What to do if there are no hours in the days a plan looks ahead; empty if there are some."""
    from_s = start.wall_ms // 1000
    zone = ShopZone(start)
    if hours.is_always or open_spans(hours, zone, from_s):
        return ""
    opens_s = next_opening(hours, zone, from_s)
    if opens_s is None:
        return "your settings leave no open hours in the coming years; change hours or closed"
    then = moment_at(opens_s * 1000, start)
    said = then.strftime("%Y-%m-%d %H:%M") if then is not None else ""
    return f"you are closed until {said}; start then, or change closed in the settings"


def later(stamp: Stamp, ms: int) -> Stamp:
    """The stamp of a moment this many milliseconds later, with the shop's offset then."""
    wall_ms = stamp.wall_ms + ms
    return replace(
        stamp,
        noted_ms=stamp.noted_ms + ms,
        wall_ms=wall_ms,
        offset_s=offset_at(wall_ms, stamp),
    )
