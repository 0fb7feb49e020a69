"""The entries of the log, with their clocks and the times of day from them.

The one place that names and reads every kind of event: of runs, baths and jobs.
"""

from __future__ import annotations

import json
from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TypeVar

from benchtimer.bath.bath_events import BATH_KINDS
from benchtimer.job.job_events import JOB_KINDS
from benchtimer.run import codec
from benchtimer.run.codec import UnknownEvent, body_of
from benchtimer.run.events import KINDS, Created, Event
from benchtimer.store.errors import DAMAGE, damaged
from benchtimer.values import dataclass

T = TypeVar("T")


FAR = 2**53
"""Largest number in an entry: a time in milliseconds beyond any calendar."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """Both clocks at the moment of writing; see ``schema`` for the fields."""

    noted_ms: int
    boot: str | None
    count_ms: int
    wall_ms: int
    offset_s: int


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One row of the log."""

    seq: int
    run: str
    event: Event
    stamp: Stamp


def check_figures(press: int, *times_ms: int) -> None:
    """Refuse impossible numbers in an entry before they are used.

    Raises:
        ValueError: a press below zero, or a time that no clock shows.
    """
    if not 0 <= press <= FAR or not all(-FAR <= time_ms <= FAR for time_ms in times_ms):
        raise ValueError("a press number or time out of range")


def created_of(entries: Sequence[LogEntry]) -> Created:
    """The setup of a run, from its first entry.

    Raises:
        ValueError: the entries are not those of a run.
    """
    first = entries[0].event
    if not isinstance(first, Created):
        raise ValueError("a run's log begins with its setup")
    return first


def read_through(
    path: Path, entries: Sequence[LogEntry], read: Callable[[Sequence[LogEntry]], T]
) -> T:
    """The result of ``read`` on entries; an error names the damaged entry.

    Args:
        path: the log, for the error.
        entries: the entries.
        read: what to make of them.

    Raises:
        StoreError: with the number of the first entry that can't be read.
    """
    try:
        return read(entries)
    except DAMAGE as error:
        found: Exception = error

    def fails(count: int) -> bool:
        try:
            read(entries[:count])
        except DAMAGE:
            return True
        return False

    first = bisect_left(range(1, len(entries)), True, key=fails)
    raise damaged(path, entries[first].seq if entries else 0, found)


_OWN_STREAMS: dict[str, type[Event]] = {**BATH_KINDS, **JOB_KINDS}
_NAMES: dict[type[Event], str] = {cls: name for name, cls in _OWN_STREAMS.items()}
_ALL: Mapping[str, type[Event]] = {**KINDS, **_OWN_STREAMS}

__all__ = ["UnknownEvent", "as_json", "body_of", "event_from", "is_of_run", "kind_of"]


def as_json(value: object) -> str:
    """JSON in the form of the log and its register: compact, letters unescaped."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def kind_of(event: Event) -> str:
    """The name of an event's kind in the log."""
    return _NAMES.get(type(event)) or codec.kind_of(event)


def is_of_run(event: Event) -> bool:
    """Whether an event belongs to a run, not to a bath's or a job's stream."""
    return type(event) not in _NAMES


def event_from(kind: str, body: object, *, press: int, t_ms: int, by: str) -> Event:
    """The event of an entry of any stream.

    Args:
        kind: the event's name.
        body: its fields, as parsed from JSON.
        press: the number of the press.
        t_ms: bench time.
        by: who pressed.

    Raises:
        UnknownEvent: an unknown kind, a missing or extra field, or a wrong type.
    """
    return codec.event_from(kind, body, press=press, t_ms=t_ms, by=by, kinds=_ALL)


OUT_OF_CALENDAR = "out of the calendar"
"""What is shown for a time whose year has more than four digits."""


def local_time(wall_ms: int, offset_s: int) -> str:
    """ISO 8601 time with its offset, to the second."""
    zone = timezone(timedelta(seconds=max(-86_399, min(86_399, offset_s))))
    try:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=wall_ms)
        return moment.astimezone(zone).isoformat(timespec="seconds")
    except OverflowError:
        return OUT_OF_CALENDAR
