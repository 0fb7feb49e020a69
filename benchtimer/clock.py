"""Clocks: a count of seconds that continues through sleep, and the wall clock.

Timers use only the count. The wall clock gives people the time of day, and covers the gap when the
machine was off; it may be set, jump, or be wrong.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Protocol

from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class Tick:
    """One reading of both clocks.

    Attributes:
        boot: which count it is: readings of the same ``boot`` can be subtracted. None if the
            machine doesn't say, so that a restart always falls back to the wall clock.
        count_ms: milliseconds of the count.
        wall_ms: Unix time in milliseconds.
        offset_s: the local time zone's offset from UTC at that moment, in seconds.
    """

    boot: str | None
    count_ms: int
    wall_ms: int
    offset_s: int


class Clock(Protocol):
    """A source of time."""

    def read(self) -> Tick:
        """Read the clock."""
        ...


class SystemClock:
    """The machine's clocks.

    Linux: CLOCK_BOOTTIME counts through suspend, and the kernel names each boot, so the count
        continues across a restart of the program. macOS: CLOCK_MONOTONIC of the C library
    counts through sleep, but boots have no name there. Windows: the performance counter
    counts through sleep. Elsewhere Python's monotonic clock is the nearest there is.
    """

    def __init__(self) -> None:
        self._boot = _boot_name()
        self._id = _counting_clock_id()

    def read(self) -> Tick:
        """Read the machine's clocks."""
        wall_ns = time.time_ns()
        count_ns = time.perf_counter_ns() if sys.platform == "win32" else self._count_ns()
        return Tick(self._boot, count_ns // 10**6, wall_ns // 10**6, offset_s(wall_ns // 10**6))

    def _count_ns(self) -> int:
        if sys.platform != "win32" and self._id is not None:
            return time.clock_gettime_ns(self._id)
        return time.monotonic_ns()


class PracticeClock:
    """A clock that runs ``speed`` times as fast, for practice on the real screen.

    The wall clock is stretched from ``origin_wall_ms`` on, so that the times of day in a practice
    record look as they would in real work.
    """

    def __init__(self, base: Clock, speed: float, origin_wall_ms: int) -> None:
        self._base = base
        self._speed = speed
        self._origin_wall_ms = origin_wall_ms

    def read(self) -> Tick:
        """Read the stretched clocks."""
        tick = self._base.read()
        wall_ms = self._origin_wall_ms + (tick.wall_ms - self._origin_wall_ms) * self._speed
        boot = f"{tick.boot} x{self._speed:g}" if tick.boot is not None else None
        return Tick(boot, int(tick.count_ms * self._speed), int(wall_ms), tick.offset_s)


class ManualClock:
    """A clock that moves only on request, for rehearsals and tests."""

    def __init__(self, wall_ms: int = 0, boot: str | None = "manual", offset_s: int = 0) -> None:
        self.boot = boot
        self.count_ms = 0
        self.wall_ms = wall_ms
        self.offset_s = offset_s

    def read(self) -> Tick:
        """Read the clock."""
        return Tick(self.boot, self.count_ms, self.wall_ms, self.offset_s)

    def advance(self, ms: int) -> None:
        """Let time pass on both clocks."""
        self.count_ms += ms
        self.wall_ms += ms

    def set_wall(self, wall_ms: int) -> None:
        """Set the wall clock, as a time service or a person might."""
        self.wall_ms = wall_ms

    def restart(self, boot: str | None, off_ms: int) -> None:
        """Turn the machine off and on: a new count, and only the wall clock has moved."""
        self.boot = boot
        self.count_ms = 0
        self.wall_ms += off_ms


def offset_s(wall_ms: int) -> int:
    """The local offset from UTC at a moment, in seconds; 0 if the zone is unknown."""
    try:
        return time.localtime(wall_ms / 1000).tm_gmtoff
    except (OverflowError, OSError, ValueError):
        return 0


def _boot_name() -> str | None:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return None


def _counting_clock_id() -> int | None:
    name = "CLOCK_MONOTONIC" if sys.platform == "darwin" else "CLOCK_BOOTTIME"
    found = getattr(time, name, None)
    return int(found) if found is not None else None
