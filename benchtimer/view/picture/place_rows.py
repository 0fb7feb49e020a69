"""Your hands and the places on the time axis."""

from __future__ import annotations

from functools import lru_cache

from rich.cells import cell_len

from benchtimer.view.picture.axis import Axis
from benchtimer.view.picture.cells import Cells, Ink, PictureRow
from benchtimer.view.picture.lane_rows import (
    INKS,
    MARGIN,
    NOW_LINE,
    OVER,
    PLACE,
    READ,
    WORK,
    is_past,
    span_of,
)
from benchtimer.view.picture.scene import HandsWork, Level, PlaceUse, PlaceView
from benchtimer.view.text import clip

BARS = "▁▂▃▄▅▆▇█"
ABOVE, BELOW = "▲", "▼"
IN_USE, FULL, EMPTY_PIP, PIP = "─", "═", "○", "●"
PIPS = 6
"""More parts than this are shown as a number."""

AGE, NARROW_AGE = 10, 6
"""Columns for the age of a reading, such as ``12 min ago``, or ``12 min`` in a narrow row."""

APART = 2
"""Columns after a number in your hands before the next one, so that two never read as one."""


@lru_cache(maxsize=4)
def hands_row(axis: Axis, works: tuple[HandsWork, ...], width: int) -> PictureRow:
    """Your work: a block for each session, with the number of each part where it has room.

    Moves with at most one column between them are one session. A number needs ``APART`` columns
    after the one before it; a part without a number there has its block in its own lane.

    Args:
        axis: the time axis.
        works: work done and planned.
        width: columns of the row.
    """
    cells = Cells(width)
    cells.put(1, "HANDS", Ink.QUIET)
    cells.put(axis.now, NOW_LINE, Ink.LINE)
    spans = [(work, *span_of(axis, work)) for work in works]
    taken = 0
    for work, start, end in spans:
        late = work.level is Level.LATE
        ink = Ink.LATE if late else Ink.FAINT if is_past(axis, work) else Ink.QUIET
        joins = taken and start <= taken + 1 and cells.at(taken) == " "
        cells.line(taken if joins else max(start, taken), end, OVER if late else WORK, ink)
        taken = max(taken, end)
    label, free, taken = "", axis.left, 0
    for work, start, end in spans:
        goes_on = work.label == label and start <= taken + 1
        taken = max(taken, end)
        if start >= end or is_past(axis, work) or goes_on:
            continue
        label = work.label
        if free <= start <= axis.right - len(label):
            cells.put(start, label, Ink.LATE if work.level is Level.LATE else Ink.BOLD)
            free = start + len(label) + APART
    return cells.row()


@lru_cache(maxsize=64)
def place_row(axis: Axis, place: PlaceView, width: int) -> PictureRow:
    """A place: fill, trend and last reading, then its use, the next reading and its limit.

    Args:
        axis: the time axis.
        place: the place.
        width: columns of the row.
    """
    cells = Cells(width)
    ink = INKS[place.level]
    cells.put(0, place.level.mark, ink)
    cells.put(1, clip(place.short, PLACE), ink)
    reading = place.closed or place.reading
    end = min(axis.left, axis.now - 1 - (AGE if width >= 80 else NARROW_AGE)) - 1
    cells.put(end - cell_len(reading), reading, ink)
    ages = place.age if reading and not place.closed else ()
    room = axis.now - 2 - end  # the columns of the past are free here
    cells.put(end + 1, next((age for age in ages if cell_len(age) <= room), ""), Ink.QUIET)
    free = end - 1 - cell_len(reading)
    if width >= 80:
        column = 2 + PLACE
        cells.put(column, pips(place), Ink.QUIET)
        column += PIPS + 1
        if width >= 120 and column + len(place.limits) + 1 < free:
            cells.put(column, place.limits, Ink.QUIET)
            column += len(place.limits) + 1
        bars = trend(place.trend, max(0, min(free - column, 8 if width >= 120 else 6)))
        cells.put(free - len(bars), bars, ink)
    for use in place.uses:
        _draw_use(cells, axis, use)
    if cells.at(axis.now) in (" ", IN_USE, FULL):
        cells.put(axis.now, "┼" if cells.at(axis.now) != " " else NOW_LINE, Ink.LINE)
    limits = place.limits if width < 120 and not place.limit else ""
    cells.put(width - MARGIN - cell_len(limits) - 1, f" {limits}" if limits else "", Ink.QUIET)
    _draw_limit(cells, axis, place, width)
    if place.read_ms is not None:
        column = max(axis.column(place.read_ms), axis.now)
        if axis.is_inside(column) and column < width - MARGIN - cell_len(limits):
            cells.put(column, READ, Ink.BOLD)
    return cells.row()


def pips(place: PlaceView) -> str:
    """The fill of a place: a filled dot for each part, an empty one for each free slot."""
    if place.holds > PIPS:
        return f"{place.inside}/{place.holds}"
    return PIP * place.inside + EMPTY_PIP * max(0, place.holds - place.inside)


def trend(fractions: tuple[float, ...], room: int) -> str:
    """The last readings as bars between min and max, or as triangles outside."""
    return "".join(_bar(f) for f in fractions[-room:]) if room > 0 else ""


def _bar(fraction: float) -> str:
    if fraction > 1:
        return ABOVE
    if fraction < 0:
        return BELOW
    return BARS[min(len(BARS) - 1, int(fraction * len(BARS)))]


def _draw_use(cells: Cells, axis: Axis, use: PlaceUse) -> None:
    start = max(axis.now, axis.column(use.start_ms))
    end = min(axis.right, axis.column(use.end_ms) if use.end_ms is not None else axis.right)
    cells.line(start, end, FULL if use.full else IN_USE, Ink.QUIET)


def _draw_limit(cells: Cells, axis: Axis, place: PlaceView, width: int) -> None:
    """Draw the limit that a bath drifts to, at its time on the axis or at the right edge."""
    if not place.limit:
        return
    words = f"{place.limit} {place.limit_left}".strip()
    column = axis.column(place.limit_ms) if place.limit_ms is not None else axis.right
    ink = INKS[place.level] if place.level is not Level.CALM else Ink.INK
    edge = width - MARGIN - cell_len(words)
    at = min(edge, column) if axis.is_inside(column) else edge
    cells.put(max(axis.now + 1, at - 1), f" {words}", ink)
