"""A part's lane: a row with its window, and a row with its path through hands and places."""

from __future__ import annotations

from functools import lru_cache

from rich.cells import cell_len

from benchtimer.values import dataclass
from benchtimer.view.picture.axis import Axis
from benchtimer.view.picture.cells import Cells, Ink, PictureRow
from benchtimer.view.picture.scene import IN_HAND, DwellTimes, HandsWork, LaneView, Level, Stay
from benchtimer.view.text import clip, fill

THIN, THICK, OVER, MAX, PULL, TARGET, BEYOND = "─", "━", "▒", "┫", "▼", "◆", "→"
READ = "R"
"""The letter for a reading, in your hands and at its place."""

PICKED = "*"
"""After the number of a part picked by hand."""

WORK, WAY, NOW_LINE = "█", "┄", "│"
CROSSED = {THIN: "┼", THICK: "┿"}
"""The characters where a window crosses the now line."""

MARGIN = 1
"""Empty columns at the right edge."""

BY_COLUMNS = 14 + MARGIN
"""Columns at the right of a one-row lane for the time until which the part can wait."""

PLACE = 8
"""Columns of a place's short name."""

INKS = {Level.CALM: Ink.INK, Level.NOW: Ink.NOW, Level.LATE: Ink.LATE}


@dataclass(frozen=True, slots=True)
class LaneColumns:
    """The columns left of the axis.

    Attributes:
        width: how many there are in all.
        number: columns of the number, its ``#`` and a space.
        name: columns of the name; 0 if only the number is shown.
    """

    width: int
    number: int
    name: int


def lane_columns(width: int, highest: int) -> LaneColumns:
    """The columns left of the axis on a screen of this many columns.

    Args:
        width: columns of the screen.
        highest: the highest number of a part.
    """
    number = len(str(max(1, highest))) + 2
    if width < 80:
        return LaneColumns(18 + number, number, 0)
    name = 9 if width < 120 else 16 if width < 200 else 20
    return LaneColumns(21 + number + name, number, name)


def window_row(
    axis: Axis, lane: LaneView, columns: LaneColumns, width: int, *, by: bool
) -> PictureRow:
    """The row with the window.

    Args:
        axis: the time axis.
        lane: the part.
        columns: those left of the axis.
        width: columns of the row.
        by: whether to show until when the part can wait, for lack of a second row.
    """
    at_work = lane.window is None and lane.place in ("", IN_HAND)
    works = tuple(w for w in lane.works if w.start_ms <= axis.now_ms) if at_work else ()
    cells = _on_axis(axis, width, lane.window, lane.pull_ms, lane.level, works).copy()
    _draw_left(cells, lane, columns)
    if by:
        ink = INKS[lane.level] if lane.level is not Level.CALM else Ink.QUIET
        cells.put(width - MARGIN - cell_len(lane.by_short), lane.by_short, ink)
    return cells.row(lane.number)


@lru_cache(maxsize=256)
def _on_axis(
    axis: Axis,
    width: int,
    window: DwellTimes | None,
    pull_ms: int | None,
    level: Level,
    works: tuple[HandsWork, ...],
) -> Cells:
    """What a lane shows on the axis, cached as long as the axis is equal."""
    cells = Cells(width)
    if window is not None:
        _draw_window(cells, axis, window, pull_ms, INKS[level])
    _draw_works(cells, axis, works)
    _draw_now(cells, axis)
    return cells


def way_row(axis: Axis, lane: LaneView, columns: LaneColumns, width: int) -> PictureRow:
    """The row with the path: past and planned work, and the places between.

    Args:
        axis: the time axis.
        lane: the part.
        columns: columns of the fields.
        width: columns of the row.
    """
    here = tuple(stay for stay in lane.stays if stay.start_ms <= axis.now_ms)
    cells = _way(axis, width, here, lane.stays[len(here) :], lane.works).copy()
    words = lane.by
    if lane.tries > 1 and width < 120:
        words = f"try {lane.tries}  {words}"
    ink = INKS[lane.level] if lane.level is not Level.CALM else Ink.QUIET
    room = columns.width - 2
    if width >= 120:
        words, room = f"{lane.verb:<5} {words}", room - columns.number
    if cell_len(words) > room:  # the deadline is more useful than the time left
        words = clip(words.rpartition(",")[0] or words, room)
    start = columns.number if width >= 120 else max(0, room - cell_len(words))
    cells.put(1 + start, words, ink)
    return cells.row(lane.number)


@lru_cache(maxsize=256)
def _way(
    axis: Axis,
    width: int,
    here: tuple[Stay, ...],
    ahead: tuple[Stay, ...],
    works: tuple[HandsWork, ...],
) -> Cells:
    """A path on the axis, cached as long as the axis is equal."""
    cells = Cells(width)
    for stay in (*here, *ahead):
        _draw_stay(cells, axis, stay, ahead=stay in ahead)
    _draw_works(cells, axis, works)
    for stay in (*here, *ahead):
        _name_stay(cells, axis, stay)
    _draw_now(cells, axis)
    return cells


def _draw_left(cells: Cells, lane: LaneView, columns: LaneColumns) -> None:
    ink = INKS[lane.level]
    cells.put(0, lane.level.mark, ink)
    number = f"#{lane.number}{PICKED if lane.picked else ''}"
    cells.put(1, number, Ink.BOLD if lane.level is Level.CALM else ink)
    column = 1 + columns.number
    if columns.name:
        name = lane.name
        if lane.tries > 1 and columns.name >= 16:
            tries = f" try {lane.tries}"
            name = clip(name, columns.name - 1 - len(tries)) + tries
        cells.put(column, clip(name, columns.name - 1), Ink.BOLD if lane.picked else Ink.INK)
        column += columns.name
    room = columns.width - 1 - column
    left = clip(lane.left, room)
    place = lane.place if cell_len(lane.place) < room - cell_len(left) else ""
    cells.put(column, place, Ink.INK)
    cells.put(column + room - cell_len(left), left, ink if lane.level.value != "calm" else Ink.BOLD)


def _draw_window(
    cells: Cells, axis: Axis, window: DwellTimes, pull_ms: int | None, ink: Ink
) -> None:
    start = max(axis.left, axis.column(window.in_ms))
    thick = max(axis.left, axis.column(window.min_ms, up=True))
    end = axis.column(window.max_ms) if window.max_ms is not None else axis.right
    late = window.max_ms is not None and axis.now > end
    stop = min(end, axis.right)
    if stop <= start and not late:
        stop = min(start + 1, axis.right)
    cells.line(start, min(thick, stop), THIN, Ink.QUIET)
    cells.line(max(start, thick), stop, THICK, Ink.INK)
    if late:
        cells.line(max(axis.left, end + 1), min(axis.now + 1, axis.right), OVER, Ink.LATE)
    if end >= axis.right:
        cells.put(axis.right - 1, BEYOND, Ink.INK)
    _mark(cells, axis, axis.column(window.target_ms), TARGET, Ink.INK)
    _draw_now(cells, axis)
    if window.max_ms is not None and end < axis.right:
        _mark(cells, axis, end, MAX, ink)
    if pull_ms is not None:
        _mark(cells, axis, max(axis.column(pull_ms), axis.now), PULL, ink)


def _mark(cells: Cells, axis: Axis, column: int, char: str, ink: Ink) -> None:
    if axis.is_inside(column):
        cells.put(column, char, ink)


def _draw_stay(cells: Cells, axis: Axis, stay: Stay, *, ahead: bool) -> None:
    start, end = _columns_of(axis, stay)
    if ahead or end <= axis.now:
        cells.line(start, end, WAY, Ink.QUIET)


def _name_stay(cells: Cells, axis: Axis, stay: Stay) -> None:
    """Name a place right of the work that covers its line; half a name could be another's."""
    start, end = _columns_of(axis, stay)
    while start < end and cells.at(start) == WORK:
        start += 1
    free = all(cells.at(start + column) != WORK for column in range(cell_len(stay.short)))
    if free and cell_len(stay.short) < end - start:
        cells.put(start, stay.short, Ink.QUIET)


def _columns_of(axis: Axis, stay: Stay) -> tuple[int, int]:
    """The columns of a stay on the row."""
    end = axis.column(stay.end_ms) if stay.end_ms is not None else axis.right
    return max(axis.left, axis.column(stay.start_ms)), min(end, axis.right)


def _draw_works(cells: Cells, axis: Axis, works: tuple[HandsWork, ...]) -> None:
    first = min((w.start_ms for w in works if not is_past(axis, w)), default=None)
    for work in works:
        start, end = span_of(axis, work)
        past = is_past(axis, work)
        ink = Ink.FAINT if past else Ink.INK if work.start_ms == first else Ink.QUIET
        cells.line(start, end, WORK, Ink.LATE if work.level is Level.LATE else ink)


def is_past(axis: Axis, work: HandsWork) -> bool:
    """Whether work ended before the column of now."""
    return axis.column(work.end_ms) < axis.now


def span_of(axis: Axis, work: HandsWork) -> tuple[int, int]:
    """The columns of work on the row: at least one, if any of it is on the axis."""
    start = axis.column(work.start_ms)
    end = max(start + 1, axis.column(work.end_ms))
    return max(axis.left, start), min(axis.right, end)


def _draw_now(cells: Cells, axis: Axis) -> None:
    under = cells.at(axis.now)
    if under == " ":
        cells.put(axis.now, NOW_LINE, Ink.LINE)
    elif under in CROSSED:
        cells.put(axis.now, CROSSED[under], Ink.LINE)


def name_row(text: str, width: int) -> PictureRow:
    """A row with the name of a run, above its lanes."""
    cells = Cells(width)
    cells.put(1, fill(clip(text, width - 2), width - 2), Ink.QUIET)
    return cells.row()
