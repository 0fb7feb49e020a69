"""The time axis: which column a time falls in.

Now is at one fifth of the axis and never moves, so a distance always means the same time.
Columns begin at multiples of the step on the wall clock, so all marks move together, once per step.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from math import ceil, floor

from benchtimer.times import DAYS, time_of_day
from benchtimer.values import dataclass, field
from benchtimer.view.picture.cells import Cells, Ink, PictureRow

STEPS_S = (10, 15, 20, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600)
"""The possible steps: seconds for each column."""

HOUR_MS = 3_600_000
FAR_MS = 14 * HOUR_MS
"""On an axis of hours, anything further ahead than this is only named."""

AHEAD_MS = 600_000
"""An axis of minutes shows at least this much of the time ahead ..."""

TIGHT_AHEAD_MS = 300_000
"""... or this much if a window closes within this time."""

TICKS = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 360, 720, 1440)
"""Minutes between two labels."""

SHIFT_H = 2
"""Hours past both ends of the axis, which a clock change can bring onto it."""

LABEL_COLUMNS = 8
"""Columns of a label with its space."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Turns times into columns. Axes stay equal until the next column begins.

    Attributes:
        left: the first column of the axis.
        columns: the number of columns.
        step_s: seconds in a column.
        now_ms: bench time now.
        wall: local time now, with its zone; None outside the calendar.
        before: the column of now, counted from ``left``.
        grid_ms: added to bench time, it gives Unix time; columns begin at its multiples.
        first: the column of now, counted from the beginning of Unix time.
    """

    left: int
    columns: int
    step_s: int
    now_ms: int = field(compare=False)
    wall: datetime | None = field(compare=False)
    before: int
    grid_ms: int = field(init=False)
    first: int = field(init=False)

    def __post_init__(self) -> None:
        """Look up the wall clock's zone once, not for each column."""
        grid_ms = 0 if self.wall is None else round(self.wall.timestamp() * 1000) - self.now_ms
        object.__setattr__(self, "grid_ms", grid_ms)
        object.__setattr__(self, "first", (self.now_ms + grid_ms) // (self.step_s * 1000))

    @property
    def is_hours(self) -> bool:
        """Whether the labels are times of day, not minutes from now."""
        return self.step_s > 120

    @property
    def now(self) -> int:
        """The column of now on the row."""
        return self.left + self.before

    @property
    def right(self) -> int:
        """The column after the last one."""
        return self.left + self.columns

    def column(self, t_ms: int, *, up: bool = False) -> int:
        """The column of a time on the row, perhaps outside the axis.

        Args:
            t_ms: bench time.
            up: whether to round up to the next column, so that a line never starts early.
        """
        cell, rest = divmod(t_ms + self.grid_ms, self.step_s * 1000)
        return self.left + self.before + cell - self.first + (1 if up and rest else 0)

    def is_inside(self, column: int) -> bool:
        """Whether a column of the row is on the axis."""
        return self.left <= column < self.right


@dataclass(frozen=True, slots=True)
class Demand:
    """What an axis should show.

    Attributes:
        pulls_ms: bench times of the next moves.
        walls_ms: bench times at which windows close.
        starts_ms: starts of all planned moves, to keep two of them apart.
    """

    pulls_ms: Sequence[int] = ()
    walls_ms: Sequence[int] = ()
    starts_ms: Sequence[int] = ()


def make_axis(
    left: int, columns: int, now_ms: int, wall: datetime | None, demand: Demand, held_s: int = 0
) -> Axis:
    """The finest axis that shows everything required.

    Args:
        left: the first column.
        columns: the number of columns.
        now_ms: bench time.
        wall: local time now.
        demand: what to show.
        held_s: the step in use, kept if it is coarse enough, so that the picture does not change at
            each press; 0 for none.
    """
    before = max(1, columns // 5)
    step_s = _step_s(columns - before - 1, now_ms, demand)
    if held_s in STEPS_S and step_s < held_s <= 3 * step_s and (held_s > 120) == (step_s > 120):
        step_s = held_s
    return Axis(left, columns, step_s, now_ms, wall, before)


def _step_s(ahead: int, now_ms: int, demand: Demand) -> int:
    walls = [t - now_ms for t in demand.walls_ms]
    pulls = [t - now_ms for t in demand.pulls_ms]
    if any(0 <= t < HOUR_MS for t in (*walls, *pulls)) or any(t < 0 for t in walls):
        least = TIGHT_AHEAD_MS if any(t < TIGHT_AHEAD_MS for t in walls) else AHEAD_MS
        reach = max([least, *(t for t in (*walls, *pulls) if t < HOUR_MS)])
        steps = [step for step in STEPS_S if step <= 120]
    else:
        reach = max([HOUR_MS, *(t for t in pulls if t < FAR_MS)])
        steps = [step for step in STEPS_S if step > 120]
    enough = [step for step in steps if step * 1000 * max(1, ahead) >= reach]
    step_s = enough[0] if enough else steps[-1]
    return _kept_apart(step_s, steps, now_ms, demand.starts_ms)


def _kept_apart(step_s: int, steps: Sequence[int], now_ms: int, starts_ms: Sequence[int]) -> int:
    """A finer step if two moves of the next ten minutes would share a column."""
    soon = sorted(t for t in starts_ms if now_ms <= t <= now_ms + AHEAD_MS)
    gaps = [b - a for a, b in itertools.pairwise(soon) if b > a]
    finer = [step for step in steps if step <= step_s and (not gaps or 2000 * step <= min(gaps))]
    return finer[-1] if finer else steps[0]


def axis_row(axis: Axis, width: int) -> PictureRow:
    """The labels of the axis, cached until the next column begins."""
    return _axis_row(axis, width, axis.wall.utcoffset() if axis.wall is not None else None)


@lru_cache(maxsize=4)
def _axis_row(axis: Axis, width: int, _offset: timedelta | None) -> PictureRow:
    """The row; the zone is an argument because two zones can give the same moment."""
    cells = Cells(width)
    title = _title(axis)
    title = title if len(title) + 2 <= axis.left else title.split()[0]
    cells.put(1, title, Ink.QUIET)
    cells.put(axis.now - 1, "now", Ink.LINE)
    for column, label in _ticks(axis):
        start = column - len(label) // 2
        if start > max(axis.left - 1, len(title) + 1) and start + len(label) <= axis.right and (
            cells.is_free(start - 1, start + len(label) + 1)
            or (start + len(label) == width and cells.is_free(start - 1, width))
        ):  # fmt: skip
            cells.put(start, label, Ink.QUIET)
    return cells.row()


def _title(axis: Axis) -> str:
    if not axis.is_hours:
        return "minutes from now"
    return "time of day" if axis.wall is not None else "hours from now"


def _ticks(axis: Axis) -> list[tuple[int, str]]:
    each = next((t for t in TICKS if t * 60 >= axis.step_s * LABEL_COLUMNS), TICKS[-1])
    if not axis.is_hours:
        return _counted(axis, each, 1)
    hours = max(1, each // 60)
    if axis.wall is None:
        return _counted(axis, hours * 60, 60)
    return _times_of_day(axis, axis.wall, hours)


def _counted(axis: Axis, each: int, unit: int) -> list[tuple[int, str]]:
    """Labels that count minutes or hours from now."""
    span = axis.columns * axis.step_s // 60
    marks = range(-(span // each) * each, span + each, each)
    begin_ms = axis.first * axis.step_s * 1000 - axis.grid_ms
    return [(axis.column(begin_ms + k * 60_000), str(k // unit)) for k in marks if k]


def _times_of_day(axis: Axis, wall: datetime, hours: int) -> list[tuple[int, str]]:
    midnight = wall.replace(hour=0, minute=0, second=0, microsecond=0)
    shown_h = axis.step_s / 3600
    first = wall.hour - axis.before * shown_h - SHIFT_H
    last = wall.hour + (axis.columns - axis.before) * shown_h + SHIFT_H
    ticks = []
    for k in range(floor(first / hours) * hours, ceil(last) + 1, hours):
        then = midnight + timedelta(hours=k)
        t_ms = round(then.timestamp() * 1000) - axis.grid_ms
        label = DAYS[then.weekday()] if then.hour == 0 else time_of_day(then)
        ticks.append((axis.column(t_ms), label))
    return ticks
