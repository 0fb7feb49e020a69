"""What went wrong in a run, and its three charts as SVG: timeline, dwells and baths.

The timeline has a lane for each part and a bar for each stay in a station. A bar has its station's
name, or a letter if the name is too wide; a bar too narrow for its letter is named in the table of
steps. Work in hand is a black stroke on the lane's base line; an overrun or a dwell cut short has a
mark above its bar.

The second chart has each dwell against its window. Min and max line up for every dwell, so that an
overrun sticks out. The third has each bath over time, against its limits. Nothing is shown by color
alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from benchtimer.quantity import QuantityError, parse, show_number
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.records.recorded import RecordedReading
from benchtimer.times import duration, rough_duration


def worst_first(record: Record) -> list[tuple[PartRecord, Visit]]:
    """Each dwell that had a window and has ended, the worst first."""
    found = [
        (part, visit)
        for part in record.parts
        for visit in part.visits
        if visit.dwell_s is not None and visit.min_s is not None and (visit.min_s or visit.max_s)
    ]
    return sorted(found, key=lambda pair: -badness(pair[1]))


def badness(visit: Visit) -> float:
    """How bad a dwell was: past max, then cut short, then by how much of its window it used.

    A dwell that nothing ends comes last.
    """
    took, least = visit.dwell_s or 0.0, visit.min_s or 0
    if visit.verdict == "overrun" and visit.max_s is not None:
        return 10 + (took - visit.max_s) / max(1, visit.max_s - least)
    if visit.verdict == "early":
        return 5 + (least - took) / max(1, least)
    if visit.max_s is None:
        return -1.0
    return (took - least) / max(1, visit.max_s - least)


def window_words(visit: Visit) -> str:
    """The window of a dwell: ``5 min to 20 min``."""
    least = duration(visit.min_s or 0)
    return f"{least} or more" if visit.max_s is None else f"{least} to {duration(visit.max_s)}"


def troubles_first(record: Record) -> list[str]:
    """What went wrong, worst first, one line each: dwells, then parts sent back and scrapped."""
    wrong = [
        (badness(visit), part, visit)
        for part in record.parts
        for visit in part.visits
        if visit.verdict in ("overrun", "early")
    ]
    lines = [_wrong_dwell(part, visit) for _, part, visit in sorted(wrong, key=lambda w: -w[0])]
    lines += [f" ! {part.label}: scrapped" for part in record.parts if part.outcome == "scrapped"]
    for sent in record.sent_back:
        who = record.part(sent.part)
        label = who.label if who is not None else sent.part
        lines.append(f" ! {label}: sent back to {sent.to_step}: {sent.reason}")
    return lines


def _wrong_dwell(part: PartRecord, visit: Visit) -> str:
    where = f"{visit.title}, {visit.station}"
    took = visit.dwell_s or 0.0
    if visit.verdict == "overrun" and visit.max_s is not None:
        over = duration(round(took - visit.max_s))
        return f"!! {part.label}: OVERRUN by {over} ({where})"
    short = duration(round((visit.min_s or 0) - took))
    return f"!! {part.label}: CUT SHORT by {short} ({where})"


def limits_of(record: Record, station: str) -> tuple[str, str] | None:
    """Min and max of a bath, from the recipe that has it; None if it has none."""
    for key, recipe in record.recipes.items():
        for entry in recipe.station:
            window = entry.temperature
            if record.places.get(f"{key}.{entry.id}", entry.id) == station and window is not None:
                return str(window.min), str(window.max)
    return None


def share_of(reading: str, low: str, high: str) -> float:
    """A reading as a share of the range from min to max.

    Args:
        reading: the reading, with its unit.
        low: the min, with its unit.
        high: the max, with its unit.
    """
    try:
        bottom, top, value = (parse(text).base for text in (low, high, reading))
    except QuantityError:
        return 0.0
    return (value - bottom) / (top - bottom) if top > bottom else 0.0


WIDTH = 1000
LEFT = 150
LANE = 46
TOP = 8
LETTER = 7.2
"""Width of one letter of a station's name."""

LANE_MARKS = {"overrun": "!", "early": "<"}
STEPS_S = (60, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200, 86_400, 172_800, 604_800)


def timeline_svg(record: Record) -> str:
    """The SVG element, to include in a page."""
    end_s = work_ends_s(record)
    letters = station_letters(record)
    height = TOP + LANE * len(record.parts) + 30
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img">',
        f"<title>Timeline of run {escape(record.run)}</title>",
        *axis_lines(end_s, height),
    ]
    for index, part in enumerate(record.parts):
        lines += _lane(part, TOP + index * LANE, end_s, letters)
    return "\n".join([*lines, "</svg>"])


def work_ends_s(record: Record) -> float:
    """When the last work or dwell ends; a verdict or a note a month later does not extend the
    chart.
    """
    ends = [0.0]
    for visit in [visit for part in record.parts for visit in part.visits]:
        if visit.in_s is not None and visit.out_s is None:
            return max(1.0, *(line.elapsed_s for line in record.lines))  # still in there
        ends.append(visit.out_s or 0)
        ends.append((visit.began_s or 0) + (visit.hands_s or 0))
    return max(1.0, *ends)


def fits(name: str, width: float) -> bool:
    """Whether a station's name fits in its bar."""
    return len(name) * LETTER <= width


def lettered(record: Record) -> dict[str, str]:
    """The stations whose bars are too narrow for their names, with their letters."""
    end_s = work_ends_s(record)
    narrow = {
        visit.station
        for part in record.parts
        for visit in part.visits
        if visit.in_s is not None and visit.station is not None
        and not fits(visit.station, _bar(visit, end_s)[1])
    }  # fmt: skip
    return {name: letter for name, letter in station_letters(record).items() if name in narrow}


def _bar(visit: Visit, end_s: float) -> tuple[float, float]:
    """Where the bar of a stay begins, and its width."""
    x1 = x_at(visit.in_s or 0, end_s)
    x2 = x_at(visit.out_s if visit.out_s is not None else end_s, end_s)
    return x1, round(max(1.0, x2 - x1), 1)


def station_letters(record: Record) -> dict[str, str]:
    """A letter for each station that a part was in, in order of first use."""
    stays = sorted(
        (v.in_s, v.station)
        for part in record.parts
        for v in part.visits
        if v.in_s is not None and v.station is not None
    )
    names = dict.fromkeys(station for _, station in stays)
    return {name: _letter(number) for number, name in enumerate(names)}


def _letter(number: int) -> str:
    return chr(ord("a") + number) if number < 26 else f"{chr(ord('a') + number % 26)}{number // 26}"


def x_at(seconds: float, end_s: float) -> float:
    """The position of a time on a chart that ends at ``end_s``."""
    return round(LEFT + (WIDTH - LEFT - 10) * min(1.0, max(0.0, seconds / end_s)), 1)


def axis_lines(end_s: float, height: int) -> Iterator[str]:
    """Grid lines at round intervals, with the time since the run was set up."""
    weeks = int(end_s / 10 / STEPS_S[-1]) + 1
    step_s = next((s for s in STEPS_S if end_s / s <= 10), weeks * STEPS_S[-1])
    for number in range(int(end_s // step_s) + 1):
        x = x_at(number * step_s, end_s)
        yield f'<line class="grid" x1="{x}" y1="{TOP}" x2="{x}" y2="{height - 22}"/>'
        label = rough_duration(number * step_s)
        yield f'<text class="axis" x="{x}" y="{height - 6}">{label}</text>'


def _lane(part: PartRecord, y: int, end_s: float, letters: dict[str, str]) -> Iterator[str]:
    name = part.name if len(part.name) <= 18 else f"{part.name[:17]}…"
    base = y + LANE - 8
    yield f'<text class="lane" x="2" y="{base - 8}">#{part.number} {escape(name)}</text>'
    yield f'<line class="base" x1="{LEFT}" y1="{base}" x2="{WIDTH - 10}" y2="{base}"/>'
    for visit in part.visits:
        yield from _work(visit, base, end_s)
        yield from _stay(visit, base, end_s, letters)


def _work(visit: Visit, base: int, end_s: float) -> Iterator[str]:
    if visit.began_s is not None and visit.hands_s is not None:
        x1 = x_at(visit.began_s, end_s)
        x2 = max(x1 + 1, x_at(visit.began_s + visit.hands_s, end_s))
        yield f'<line class="work" x1="{x1}" y1="{base}" x2="{x2}" y2="{base}"/>'


def _stay(visit: Visit, base: int, end_s: float, letters: dict[str, str]) -> Iterator[str]:
    if visit.in_s is None or visit.station is None:
        return
    x1, width = _bar(visit, end_s)
    wrong = " wrong" if visit.verdict in LANE_MARKS else ""
    yield f'<rect class="stay{wrong}" x="{x1}" y="{base - 22}" width="{width}" height="18"/>'
    if width >= 12:
        middle = round(x1 + width / 2, 1)
        name = visit.station if fits(visit.station, width) else letters[visit.station]
        yield f'<text class="station" x="{middle}" y="{base - 9}">{escape(name)}</text>'
    if wrong:
        mark = escape(LANE_MARKS[visit.verdict or ""])
        yield f'<text class="mark" x="{x1}" y="{base - 25}">{mark}</text>'


ROW = 20
MIN_X, MAX_X, END_X = 430, 640, 760
"""The positions of min, max, and the end of what is past max, for every dwell."""

START_X = 290
WORDS_X = 775
MARKS = {"overrun": "!!", "early": "<"}

BATH = 70
"""Height of a bath's chart; a reading far outside its limits stays on it."""

BEYOND = 0.4
"""How much of the range is drawn above max and below min."""


def dwells_svg(record: Record) -> str:
    """Each dwell that had a window, worst first; empty if there was none."""
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
    """The position of the pull on the common scale."""
    took, least = visit.dwell_s or 0.0, visit.min_s or 0
    if took < least:
        return round(START_X + took / least * (MIN_X - START_X), 1)
    top = visit.max_s if visit.max_s is not None else 2 * max(took, least, 1)
    share = (took - least) / max(1, top - least)
    return round(min(END_X, MIN_X + share * (MAX_X - MIN_X)), 1)


def baths_svg(record: Record) -> str:
    """Each bath that was read, with its readings between its limits; empty if none was."""
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
    """The figure without its unit, marked if it was out of range."""
    try:
        figure = show_number(parse(reading.reading).value, 0)
    except QuantityError:
        figure = reading.reading
    return figure if reading.verdict == "in" else f"{figure} !"
