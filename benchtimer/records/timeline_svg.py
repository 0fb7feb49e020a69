"""The timeline of a run as SVG: a lane for each part, a bar for each stay in a station.

A bar has its station's name, or a letter where the name is too wide, never a color alone: a bar
that is too narrow for its letter is named in the table of steps. Work in hand is a black stroke
on the lane's base line; an overrun or a stay too short has a mark above its bar.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.times import rough_duration

WIDTH = 1000
LEFT = 150
LANE = 46
TOP = 8
LETTER = 7.2
"""Room that a letter of a station's name takes."""

MARKS = {"overrun": "!", "early": "<"}
STEPS_S = (60, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200, 86_400, 172_800, 604_800)


def timeline_svg(record: Record) -> str:
    """The SVG element, for putting into a page."""
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
    """When the last work or stay ends; a verdict or a note a month later stretches nothing."""
    ends = [0.0]
    for visit in [visit for part in record.parts for visit in part.visits]:
        if visit.in_s is not None and visit.out_s is None:
            return max(1.0, *(line.elapsed_s for line in record.lines))  # still in there
        ends.append(visit.out_s or 0)
        ends.append((visit.began_s or 0) + (visit.hands_s or 0))
    return max(1.0, *ends)


def fits(name: str, width: float) -> bool:
    """Whether a station's name fits into its bar."""
    return len(name) * LETTER <= width


def lettered(record: Record) -> dict[str, str]:
    """The stations with a bar too narrow for their name, and the letter it has instead."""
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
    """Where the bar of a stay begins, and how wide it is."""
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
    """Where a time is on a chart that ends at ``end_s``."""
    return round(LEFT + (WIDTH - LEFT - 10) * min(1.0, max(0.0, seconds / end_s)), 1)


def axis_lines(end_s: float, height: int) -> Iterator[str]:
    """Grid lines at a round distance, with the time since the run was set up."""
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
    wrong = " wrong" if visit.verdict in MARKS else ""
    yield f'<rect class="stay{wrong}" x="{x1}" y="{base - 22}" width="{width}" height="18"/>'
    if width >= 12:
        middle = round(x1 + width / 2, 1)
        name = visit.station if fits(visit.station, width) else letters[visit.station]
        yield f'<text class="station" x="{middle}" y="{base - 9}">{escape(name)}</text>'
    if wrong:
        mark = escape(MARKS[visit.verdict or ""])
        yield f'<text class="mark" x="{x1}" y="{base - 25}">{mark}</text>'
