"""Two charts of a record as SVG: each dwell against its window, and each bath over time.

In the first one min and max are below each other for every dwell, so that an overrun sticks out
of the same wall. Nothing is said by color alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from benchtimer.quantity import QuantityError, parse, show_number
from benchtimer.records.judged_dwells import limits_of, share_of, window_words, worst_first
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.records.recorded import RecordedReading
from benchtimer.records.timeline_svg import LEFT, WIDTH, axis_lines, work_ends_s, x_at
from benchtimer.times import duration

ROW = 20
MIN_X, MAX_X, END_X = 430, 640, 760
"""Where every dwell has its min, its max, and the end of what is past max."""

START_X = 290
WORDS_X = 775
MARKS = {"overrun": "!!", "early": "<"}

BATH = 70
"""Height of a bath's chart; a reading far outside its limits stays on it."""

BEYOND = 0.4
"""How much of the range is drawn above max and below min."""


def dwells_svg(record: Record) -> str:
    """Each dwell that had a window, the worst first; empty if there was none."""
    found = worst_first(record)
    if not found:
        return ""
    height = ROW * (len(found) + 1) + 4
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img">',
        f"<title>Dwells of run {escape(record.run)} against their windows</title>",
        f'<text class="axis" x="{MIN_X}" y="14">min</text>',
        f'<text class="axis" x="{MAX_X}" y="14">max</text>',
        f'<text x="{WORDS_X}" y="14">took, window</text>',
    ]
    for index, (part, visit) in enumerate(found, start=1):
        lines += _dwell(part, visit, ROW * index)
    return "\n".join([*lines, "</svg>"])


def _dwell(part: PartRecord, visit: Visit, top: int) -> Iterator[str]:
    middle, mark = top + ROW // 2, escape(MARKS.get(visit.verdict or "", ""))
    repeat = f", repeat {visit.repeat}" if visit.repeat else ""
    name = f"{part.label}, {visit.station}{repeat}"
    name = name if len(name) <= 38 else f"{name[:37]}…"
    yield f'<text class="flag" x="2" y="{middle + 5}">{mark}</text>'
    yield f'<text x="22" y="{middle + 5}">{escape(name)}</text>'
    yield f'<line class="base" x1="{START_X}" y1="{middle}" x2="{MIN_X}" y2="{middle}"/>'
    yield f'<rect class="window" x="{MIN_X}" y="{middle - 4}" width="{MAX_X - MIN_X}" height="8"/>'
    if visit.max_s is not None:
        yield f'<line class="limit" x1="{MAX_X}" y1="{top + 2}" x2="{MAX_X}" y2="{top + ROW - 2}"/>'
    x = _on_scale(visit)
    if x > MAX_X:
        yield f'<line class="over" x1="{MAX_X}" y1="{middle}" x2="{x}" y2="{middle}"/>'
    yield f'<path d="M{x - 5} {middle - 7} L{x + 5} {middle - 7} L{x} {middle + 3} Z"/>'
    took = f"{duration(round(visit.dwell_s or 0))}, {window_words(visit)}"
    yield f'<text x="{WORDS_X}" y="{middle + 5}">{escape(took)}</text>'


def _on_scale(visit: Visit) -> float:
    """Where the pull is on the common scale."""
    took, least = visit.dwell_s or 0.0, visit.min_s or 0
    if took < least:
        return round(START_X + took / least * (MIN_X - START_X), 1)
    top = visit.max_s if visit.max_s is not None else 2 * max(took, least, 1)
    share = (took - least) / max(1, top - least)
    return round(min(END_X, MIN_X + share * (MAX_X - MIN_X)), 1)


def baths_svg(record: Record) -> str:
    """Each bath that was read, its readings over time between its limits; empty if none was."""
    stations = [
        station
        for station in dict.fromkeys(reading.station for reading in record.readings)
        if limits_of(record, station) is not None
    ]
    if not stations:
        return ""
    end_s = work_ends_s(record)
    height = (BATH + 16) * len(stations) + 30
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img">',
        f"<title>Bath temperatures of run {escape(record.run)}</title>",
        *axis_lines(end_s, height),
    ]
    for index, station in enumerate(stations):
        lines += _bath(record, station, index * (BATH + 16) + 8, end_s)
    return "\n".join([*lines, "</svg>"])


def _bath(record: Record, station: str, top: int, end_s: float) -> Iterator[str]:
    low, high = limits_of(record, station) or ("", "")
    name = station if len(station) <= 18 else f"{station[:17]}…"
    yield f'<text x="2" y="{top + BATH // 2}">{escape(name)}</text>'
    for words, share in ((f"max {high}", 1.0), (f"min {low}", 0.0)):
        y = _y(share, top)
        yield f'<line class="limit" x1="{LEFT}" y1="{y}" x2="{WIDTH - 10}" y2="{y}"/>'
        yield f'<text class="end" x="{LEFT - 4}" y="{y + 4}">{escape(words)}</text>'
    dots = [
        (x_at(reading.elapsed_s, end_s), _y(share_of(reading.reading, low, high), top), reading)
        for reading in record.readings
        if reading.station == station and 0 <= reading.elapsed_s <= end_s
    ]
    path = " ".join(f"{x},{y}" for x, y, _ in dots)
    yield f'<polyline class="curve" points="{path}"/>'
    last_x = float("-inf")
    for x, y, reading in dots:
        yield f'<circle cx="{x}" cy="{y}" r="3"/>'
        if x - last_x >= 34 or reading.verdict != "in":
            last_x = x
            yield f'<text class="axis" x="{x}" y="{y - 6}">{escape(_figure(reading))}</text>'


def _y(share: float, top: int) -> float:
    kept = min(1 + BEYOND, max(-BEYOND, share))
    return round(top + (1 + BEYOND - kept) / (1 + 2 * BEYOND) * BATH, 1)


def _figure(reading: RecordedReading) -> str:
    """The figure without its unit; marked where it was out of range."""
    try:
        figure = show_number(parse(reading.reading).value, 0)
    except QuantityError:
        figure = reading.reading
    return figure if reading.verdict == "in" else f"{figure} !"
