"""Bench time: a count of milliseconds that never goes back and that no clock change affects.

Bench time starts as the Unix time of the first entry of a log and then follows the
machine's counting clock. Between two sessions it follows the same count if the machine
was not restarted, and the wall clock if it was. If the wall clock is useless (after a dead battery
it starts years back), bench time stays where it was. Once the clock is set, the time in between is
known, and bench time catches up.
"""

from __future__ import annotations

from benchtimer.clock import Clock, PracticeClock, Tick
from benchtimer.store.log import EventLog, LogEntry, Stamp
from benchtimer.values import dataclass

JUMP_MS = 2000
"""If the wall clock moves this much against the count, someone or something set it."""

EARLIEST_MS = 1_735_689_600_000
"""2025-01-01: this program is younger than that, so a wall clock with an earlier date is not set.
"""


@dataclass(frozen=True, slots=True)
class Gap:
    """The time between the last entry of a log and now.

    Attributes:
        elapsed_from: ``counting clock``, ``wall clock``, or ``nothing`` if the wall clock went back
            or is not set.
        away_ms: its length.
        jump_ms: how far the wall clock was set in the meantime, according to the count.
    """

    elapsed_from: str
    away_ms: int
    jump_ms: int = 0


def gap_since(last: LogEntry, tick: Tick, dated: LogEntry | None = None) -> Gap:
    """How long ago the last entry was written, and by which clock.

    Args:
        last: the newest entry.
        tick: the clocks now.
        dated: the newest entry made while the time was known, if it is older.
    """
    stamp = last.stamp
    wall_away_ms = tick.wall_ms - stamp.wall_ms
    if tick.boot is not None and tick.boot == stamp.boot and tick.count_ms >= stamp.count_ms:
        away_ms = tick.count_ms - stamp.count_ms
        return Gap("counting clock", away_ms, wall_away_ms - away_ms)
    known = (dated if dated is not None else last).stamp
    away_ms = known.noted_ms + tick.wall_ms - known.wall_ms - stamp.noted_ms
    if away_ms >= 0 and tick.wall_ms >= EARLIEST_MS:
        return Gap("wall clock", away_ms)
    return Gap("nothing", 0, min(0, wall_away_ms))


class Timeline:
    """Bench time for one session.

    Args:
        clock: where time comes from.
        last: the newest entry of the log, if any.
        speed: how much faster that clock runs than the machine's. A jump is measured on the
            machine's clock, because in fast practice its milliseconds become seconds.
        dated: the newest entry made while the time was known, if it is older.
        from_ms: bench time starts no earlier than this: imported runs may be ahead of the clock.
    """

    def __init__(
        self,
        clock: Clock,
        last: LogEntry | None,
        speed: float = 1,
        dated: LogEntry | None = None,
        from_ms: int = 0,
    ) -> None:
        self._clock = clock
        self._least_jump_ms = JUMP_MS * speed
        tick = clock.read()
        self.gap = gap_since(last, tick, dated) if last is not None else None
        elapsed_from = self.gap.elapsed_from if self.gap is not None else ""
        self._dated = {"nothing": dated or last, "counting clock": dated}.get(elapsed_from)
        start_ms = tick.wall_ms
        if last is not None and self.gap is not None:
            start_ms = last.stamp.noted_ms + self.gap.away_ms
        self._zero_ms = max(start_ms, from_ms) - tick.count_ms
        self._seen: Tick | Stamp = tick
        self._looked: Tick | Stamp = tick

    @property
    def gap_jump_ms(self) -> int:
        """How far the wall clock was set between the last session and this one; 0 if it wasn't."""
        return self._reportable_ms(self.gap.jump_ms) if self.gap is not None else 0

    def stamp(self) -> Stamp:
        """Both clocks now, with the bench time."""
        tick = self._clock.read()
        return Stamp(
            noted_ms=tick.count_ms + self._zero_ms,
            boot=tick.boot,
            count_ms=tick.count_ms,
            wall_ms=tick.wall_ms,
            offset_s=tick.offset_s,
        )

    def wall_jump_ms(self, at: Stamp | None = None) -> int:
        """How far the wall clock was set since ``acknowledge_jump``; 0 if it was not.

        Small corrections by a time service are ignored: they affect nothing.

        Args:
            at: the time just read from these clocks; they are read now if it is None.
        """
        tick = at if at is not None else self._clock.read()
        counted_ms = tick.count_ms - self._seen.count_ms
        jump_ms = self._reportable_ms(tick.wall_ms - self._seen.wall_ms - counted_ms)
        self._looked = tick
        if not jump_ms:
            self._seen = tick
        return jump_ms

    def acknowledge_jump(self) -> None:
        """The last jump is now in the log; from here on only a further one counts."""
        self._seen = self._looked

    @property
    def is_behind(self) -> bool:
        """Whether bench time is behind by time away that no clock has measured yet."""
        return self._dated is not None

    def catch_up_ms(self) -> int:
        """Move forward by the time away if the wall clock now knows it. Returns how far, or 0."""
        if self._dated is None:
            return 0
        now, known = self.stamp(), self._dated.stamp
        missed_ms = known.noted_ms + now.wall_ms - known.wall_ms - now.noted_ms
        if missed_ms < 0 or now.wall_ms < EARLIEST_MS:
            return 0
        self._zero_ms += missed_ms
        self._dated = None
        return missed_ms

    def _reportable_ms(self, jump_ms: int) -> int:
        return jump_ms if abs(jump_ms) >= self._least_jump_ms else 0


def bench_clock(base: Clock, log: EventLog, speed: float) -> Clock:
    """The clock for a bench: the real one, or one stretched from the start of the log.

    Args:
        base: the machine's clock.
        log: the log, which keeps the start of practice.
        speed: bench seconds per real second.
    """
    if speed == 1:
        return base
    wall_ms = base.read().wall_ms
    origin = log.fact("practice-origin-wall-ms", None if log.read_only else str(wall_ms))
    return PracticeClock(base, speed, int(origin) if origin is not None else wall_ms)
