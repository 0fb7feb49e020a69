"""What the log holds: entries with their clocks."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from benchtimer.run.events import Event
from benchtimer.store.errors import DAMAGE, damaged

T = TypeVar("T")


FAR = 2**53
"""Largest figure in an entry: a time in milliseconds far beyond any calendar."""


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
    """Refuse the figures of an entry that can't be real, before they are used.

    Raises:
        ValueError: a press below zero, or a time that no clock shows.
    """
    if not 0 <= press <= FAR or not all(-FAR <= time_ms <= FAR for time_ms in times_ms):
        raise ValueError("a figure that no clock and no count shows")


def read_through(
    path: Path, entries: Sequence[LogEntry], read: Callable[[Sequence[LogEntry]], T]
) -> T:
    """What ``read`` makes of entries, naming the entry if one of them is damaged.

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
