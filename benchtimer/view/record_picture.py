"""A record drawn on a time axis: lanes, your hands, the baths, and each dwell against its window.

The same marks as on the board: a thin line is too early to pull, a thick line means you can pull,
``┫`` is max, ``▼`` the pull, ``▒`` time past max, ``<`` a dwell cut short, ``█`` your work.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from rich.cells import cell_len

from benchtimer.quantity import QuantityError, parse, show_number
from benchtimer.records.charts import limits_of, share_of, window_words, worst_first
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.records.recorded import RecordedAlarm
from benchtimer.times import DAYS, date_words, duration, joined_spans, time_of_day
from benchtimer.values import dataclass
from benchtimer.view.picture.axis import LABEL_COLUMNS, TICKS
from benchtimer.view.picture.cells import Cells, Ink
from benchtimer.view.picture.lane_rows import MAX, OVER, PLACE, PULL, THICK, THIN, WAY, WORK
from benchtimer.view.picture.place_rows import trend
from benchtimer.view.text import clip

SHORT = "<"
NARROW, WIDE = 14, 20
"""Columns to the left of the axis."""

ROOMY = 72
"""With at least this many columns names are whole, and each dwell has its window in words."""

MIN_COLUMNS, ROOM_COLUMNS, OVER_COLUMNS = 6, 12, 6
"""A dwell's own picture: columns up to min, from min to max, and past max."""


GAP_S = 3600
"""A longer pause than this in the work separates two sessions, each with its own axis."""

EDGE_S = 120
"""How much is drawn before and after a session."""


@dataclass(frozen=True, slots=True)
class RecordAxis:
    """From seconds since the run was set up to columns.

    Attributes:
        left: the first column.
        columns: how many there are.
        from_s: where it begins.
        to_s: where it ends.
        begins: local time of its beginning.
    """

    left: int
    columns: int
    from_s: float
    to_s: float
    begins: datetime

    def column(self, seconds: float) -> int:
        """The column of a time, kept on the axis."""
        at = int((seconds - self.from_s) / (self.to_s - self.from_s) * self.columns)
        return self.left + min(self.columns - 1, max(0, at))

    def meets(self, from_s: float, to_s: float) -> bool:
        """Whether a span of time is on the axis at all."""
        return from_s < self.to_s and to_s >= self.from_s

    def ticks(self) -> Iterator[tuple[int, str]]:
        """Labels at round times of day; midnight has the name of its day."""
        minutes = (self.to_s - self.from_s) / 60 / max(1, self.columns) * LABEL_COLUMNS
        each = next((t for t in TICKS if t >= minutes), TICKS[-1] * (int(minutes / TICKS[-1]) + 1))
        midnight = self.begins.replace(hour=0, minute=0, second=0, microsecond=0)
        first = int((self.begins - midnight).total_seconds() // 60) // each + 1
        for k in range(first, first + self.columns):
            then = midnight + timedelta(minutes=k * each)
            at_s = self.from_s + (then - self.begins).total_seconds()
            if at_s <= self.to_s:
                label = time_of_day(then)
                yield self.column(at_s), DAYS[then.weekday()] if label == "00:00" else label


def sessions(record: Record) -> list[tuple[float, float]]:
    """When you were at the bench, in seconds since the run was set up, with a little around it."""
    works = [
        (visit.began_s, visit.began_s + (visit.hands_s or 0))
        for part in record.parts
        for visit in part.visits
        if visit.began_s is not None
    ]
    found = joined_spans(works or [(0.0, 1.0)], GAP_S)
    return [(max(0.0, start - EDGE_S), end + EDGE_S) for start, end in found]


def timeline(record: Record, width: int) -> list[str]:
    """Lanes of the parts, your hands, and the baths with their limits, session by session.

    Args:
        record: the record.
        width: available columns; at least 40 are used.
    """
    width = max(40, width)
    left = NARROW if width < ROOMY else WIDE
    created = datetime.fromisoformat(record.created)
    rows: list[str] = []
    for from_s, to_s in sessions(record):
        begins = created + timedelta(seconds=from_s)
        axis = RecordAxis(left, width - left - 1, from_s, to_s, begins)
        rows += ["", f" {_session_words(begins, created + timedelta(seconds=to_s))}"]
        rows += _session(record, axis, width)
    return [row.rstrip() for row in rows[1:]]


def _session_words(begins: datetime, ends: datetime) -> str:
    return f"{date_words(begins)}, {time_of_day(begins)} to {time_of_day(ends)}"


def _session(record: Record, axis: RecordAxis, width: int) -> Iterator[str]:
    yield _labels(axis, width)
    for part in record.parts:
        if any(_is_on(visit, axis) for visit in part.visits):
            yield _lane(part, axis, width)
    yield _hands(record, axis, width)
    read = [r for r in record.readings if axis.meets(r.elapsed_s, r.elapsed_s)]
    for station in dict.fromkeys(reading.station for reading in read):
        yield from _bath(record, station, axis, width)


def _is_on(visit: Visit, axis: RecordAxis) -> bool:
    """Whether a visit is on the axis at all."""
    start = visit.began_s if visit.began_s is not None else visit.in_s
    if start is None:
        return False
    ends = [visit.out_s, start + (visit.hands_s or 0)]
    stays_on = visit.in_s is not None and visit.out_s is None
    return axis.meets(start, axis.to_s if stays_on else max(e for e in ends if e is not None))


def _labels(axis: RecordAxis, width: int) -> str:
    cells = Cells(width)
    for column, label in axis.ticks():
        end = column + len(label)
        if end <= width and cells.is_free(column, min(width, end + 1)):
            cells.put(column, label, Ink.QUIET)
    return cells.row().text


def _lane(part: PartRecord, axis: RecordAxis, width: int) -> str:
    cells = Cells(width)
    cells.put(1, clip(part.label, axis.left - 2), Ink.INK)
    for visit in part.visits:
        _draw_stay(cells, axis, visit)
    for visit in part.visits:
        _draw_work(cells, axis, visit)
    return cells.row().text


def _draw_stay(cells: Cells, axis: RecordAxis, visit: Visit) -> None:
    if visit.in_s is None or visit.station is None:
        return
    out_s = visit.out_s if visit.out_s is not None else axis.to_s
    if not axis.meets(visit.in_s, out_s):
        return
    first, last = axis.column(visit.in_s), axis.column(out_s)
    cells.line(first, last + 1, WAY, Ink.QUIET)
    name = visit.station.upper()[:PLACE]
    if cell_len(name) < last - first:
        cells.put(first + 1, name, Ink.QUIET)
    if visit.verdict == "overrun" and visit.max_s is not None:
        over = min(last, axis.column(visit.in_s + visit.max_s) + 1)
        cells.line(over, last + 1, OVER, Ink.LATE)
    elif visit.verdict == "early":
        cells.put(last, SHORT, Ink.LATE)


def _draw_work(cells: Cells, axis: RecordAxis, visit: Visit) -> None:
    if visit.began_s is None or visit.hands_s is None:
        return
    if not axis.meets(visit.began_s, visit.began_s + visit.hands_s):
        return
    first = axis.column(visit.began_s)
    last = max(first, axis.column(max(visit.began_s, visit.began_s + visit.hands_s - 1)))
    for column in range(first, last + 1):
        if cells.at(column) not in (OVER, SHORT):  # problems stay in view
            cells.put(column, WORK, Ink.INK)


def _hands(record: Record, axis: RecordAxis, width: int) -> str:
    cells = Cells(width)
    cells.put(1, "HANDS", Ink.QUIET)
    for part in record.parts:
        for visit in part.visits:
            _draw_work(cells, axis, visit)
    return cells.row().text


def _bath(record: Record, station: str, axis: RecordAxis, width: int) -> Iterator[str]:
    """Two rows: the readings as figures, and as bars between min and max."""
    unit = _unit_of(record, station)
    written = limits_of(record, station)
    limits = tuple(_in_unit(text, unit) for text in written) if written is not None else None
    name = station.upper()[:PLACE]
    figures, bars = Cells(width), Cells(width)
    figures.put(1, name, Ink.INK)
    if limits is not None:
        low, high = limits
        figures.put(2 + PLACE, f"max {_plain(high)}", Ink.QUIET)
        bars.put(2 + PLACE, f"min {_plain(low)}", Ink.QUIET)
    for reading in record.readings:
        elapsed_s = reading.elapsed_s
        if reading.station != station or not axis.meets(elapsed_s, elapsed_s):
            continue
        column = axis.column(elapsed_s)
        figure = _plain(_in_unit(reading.reading, unit))
        if figures.is_free(column, column + len(figure) + 1):
            figures.put(column, figure, Ink.INK)
        if limits is not None:
            share = share_of(reading.reading, *limits)
            bars.put(column, trend((share,), 1), Ink.INK)
    yield figures.row().text
    if limits is not None:
        yield bars.row().text


def _unit_of(record: Record, station: str) -> str:
    """The unit of a station's last reading, for its row."""
    units = [r.reading.rpartition(" ")[2] for r in record.readings if r.station == station]
    return units[-1] if units else ""


def _in_unit(text: str, unit: str) -> str:
    """A temperature in another unit, if it can be given in it."""
    try:
        return str(parse(text).to(unit))
    except QuantityError:
        return text


def _plain(text: str) -> str:
    """A temperature without its unit; any other text stays as it is."""
    try:
        return show_number(parse(text).value, 0)
    except QuantityError:
        return text


def dwells(record: Record, width: int) -> list[str]:
    """Each dwell with a window, worst first, all on one scale: min and max below each other.

    Args:
        record: the record.
        width: available columns.
    """
    found = worst_first(record)
    left = NARROW + 5 if width < 80 else WIDE + 5
    head = Cells(width)
    head.put(left + MIN_COLUMNS - 1, "min", Ink.QUIET)
    head.put(left + MIN_COLUMNS + ROOM_COLUMNS - 2, "max", Ink.QUIET)
    right = left + MIN_COLUMNS + ROOM_COLUMNS + OVER_COLUMNS
    head.put(right, "took, window" if width >= ROOMY else "took", Ink.QUIET)
    rows = [head.row().text.rstrip()] if found else []
    for part, visit in found:
        rows.append(_dwell(part, visit, left, right, width))
    return rows


def _dwell(part: PartRecord, visit: Visit, left: int, right: int, width: int) -> str:
    cells = Cells(width)
    mark = {"overrun": "!!", "early": " !"}.get(visit.verdict or "", "")
    cells.put(1, mark, Ink.LATE)
    name = f"#{part.number} {(visit.station or '').upper()[:PLACE]}"
    if width >= 80:
        name += f" repeat {visit.repeat}" if visit.repeat else ""
    cells.put(4, clip(name, left - 5), Ink.INK)
    wall = left + MIN_COLUMNS + ROOM_COLUMNS
    cells.line(left, left + MIN_COLUMNS, THIN, Ink.QUIET)
    cells.line(left + MIN_COLUMNS, wall, THICK, Ink.INK)
    cells.put(wall, MAX if visit.max_s is not None else "→", Ink.INK)
    at = left + _place_on_scale(visit)
    if at > wall:
        cells.line(wall + 1, at, OVER, Ink.LATE)
    cells.put(at, PULL, Ink.BOLD)
    took = duration(round(visit.dwell_s or 0))
    cells.put(right, f"{took:<12} {window_words(visit)}" if width >= ROOMY else took, Ink.INK)
    return cells.row().text.rstrip()


def _place_on_scale(visit: Visit) -> int:
    """Column of the pull on the common scale."""
    took, least = visit.dwell_s or 0.0, visit.min_s or 0
    if took < least:
        return int(took / least * MIN_COLUMNS)
    top = visit.max_s if visit.max_s is not None else 2 * max(took, least, 1)
    share = (took - least) / max(1, top - least)
    if share <= 1:
        return MIN_COLUMNS + min(ROOM_COLUMNS, int(share * ROOM_COLUMNS))
    beyond = min(OVER_COLUMNS - 2, max(1, int((share - 1) * ROOM_COLUMNS)))
    return MIN_COLUMNS + ROOM_COLUMNS + beyond


def is_costly(record: Record, alarm: RecordedAlarm) -> bool:
    """Whether a late answer used up part of a window: the part was in a dwell with a max."""
    part = record.part(alarm.who)
    visits: Sequence[Visit] = part.visits if part is not None else ()
    rang_s = alarm.elapsed_s
    return any(
        visit.in_s is not None
        and visit.out_s is not None
        and visit.max_s is not None
        and visit.in_s <= rang_s <= visit.out_s
        for visit in visits
    )
