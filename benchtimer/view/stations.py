"""The stations: what is in each, what it last read and when, and when to read it next."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from benchtimer.run.readiness import FAR_MS
from benchtimer.run.state import Bench, Place
from benchtimer.run.upkeep import reading_due_ms
from benchtimer.store.log import Stamp
from benchtimer.view.bathtrouble import slope_words, time_to_limit
from benchtimer.view.text import clip, fill
from benchtimer.view.words import clock_time, countdown, short_temperature, span

WRONG = {"low": "LOW", "high": "HIGH", "above-ceiling": "TOO HOT"}


def station_rows(bench: Bench, stamp: Stamp, width: int, rows: int) -> tuple[str, ...]:
    """The stations in so many rows: one row each if there is room, else in short."""
    if rows < 1:
        return ()
    if rows >= len(bench.places):
        return tuple(clip(row, width) for row in long_rows(bench, stamp, width))
    return tuple(_packed([_short(bench, place, stamp) for place in _order(bench)], width, rows))


def long_rows(bench: Bench, stamp: Stamp, width: int) -> list[str]:
    """A row for each station: places, parts, reading with its age and window, the next one."""
    title_room = min(max((cell_len(p.station.title) for p in bench.places.values()), default=0), 28)
    parts_room = max(10, (width - title_room) // 5)
    rows = []
    for place in bench.places.values():
        row = f"{fill(place.station.title, title_room)} {_count(bench, place)}  "
        if place.closed is not None:
            rows.append(f"{row}OUT OF SERVICE: {place.closed}  {_parts(bench, place)}".rstrip())
        else:
            row += f"{fill(_parts(bench, place), parts_room)}  {_reading(bench, place, stamp)}"
            rows.append(row.rstrip())
    return rows


def page_rows(bench: Bench, stamp: Stamp) -> list[str]:
    """The stations one below the other, for a page of their own on any screen."""
    rows = []
    for place in bench.places.values():
        closed = f"   OUT OF SERVICE: {place.closed}" if place.closed is not None else ""
        rows.append(f"{place.station.title}   {_count(bench, place)}{closed}")
        rows += [
            f"    {text}"
            for text in (_parts(bench, place), _reading(bench, place, stamp), slope_words(place))
            if text
        ]
    return rows


def _order(bench: Bench) -> list[Place]:
    """Those that need somebody first: a bath with a window, then those with parts in them."""
    return sorted(
        bench.places.values(),
        key=lambda p: (p.station.temperature is None, not bench.inside(p.station.id)),
    )


def _count(bench: Bench, place: Place) -> str:
    return f"{len(bench.inside(place.station.id))}/{place.station.holds}"


def _parts(bench: Bench, place: Place) -> str:
    return ", ".join(f"{part.number} {part.label}" for part in bench.inside(place.station.id))


def _reading(bench: Bench, place: Place, stamp: Stamp) -> str:
    window = place.station.temperature
    if window is None:
        return ""
    limits = f"{short_temperature(str(window.min))} to {short_temperature(str(window.max))}"
    read = _last(place, stamp) if place.reading is not None else "not read yet"
    ahead = time_to_limit(place, stamp.noted_ms)
    ahead = f", {ahead}" if ahead else ""
    return f"{read} ({limits}){ahead}{_next(bench, place, stamp)}"


def _last(place: Place, stamp: Stamp) -> str:
    if place.reading is None:
        return ""
    value = short_temperature(str(place.reading.quantity))
    wrong = WRONG.get(place.reading.verdict, "")
    return f"{value} {f'{wrong} ' if wrong else ''}{span(stamp.noted_ms - place.reading.t_ms)} ago"


def _next(bench: Bench, place: Place, stamp: Stamp) -> str:
    """When the next reading is due; a bath with nothing in it is read when a part comes."""
    due_ms = reading_due_ms(bench, place, stamp.noted_ms)
    if due_ms >= FAR_MS:
        return ""
    if place.reading is None or (not bench.inside(place.station.id) and due_ms <= stamp.noted_ms):
        return ", read before the next part"
    if due_ms <= stamp.noted_ms:
        return ", READ NOW"
    if due_ms - stamp.noted_ms >= 3_600_000:
        return f", read at {clock_time(due_ms, stamp)}"
    return f", read in {countdown(due_ms, stamp.noted_ms)}"


def _short(bench: Bench, place: Place, stamp: Stamp) -> str:
    text = f"{place.station.id} {_count(bench, place)}"
    if place.closed is not None:
        text += " OUT OF SERVICE"
    if place.reading is not None:
        text += f" {_last(place, stamp)}"
        ahead = time_to_limit(place, stamp.noted_ms)
        text += f" {ahead}" if ahead else ""
        if bench.inside(place.station.id):
            text += _next(bench, place, stamp).replace(", ", " ", 1)
    return text


def _packed(texts: Sequence[str], width: int, rows: int) -> list[str]:
    """Texts side by side in a few rows; how many found no room is said at the end."""
    lines: list[str] = []
    for number, text in enumerate(texts):
        longer = f"{lines[-1]}   {text}" if lines else text
        left = len(texts) - number - 1
        room = width - (len(f"   +{left} (I)") if len(lines) == rows and left else 0)
        if lines and cell_len(longer) <= room:
            lines[-1] = longer
        elif len(lines) < rows:
            lines.append(clip(text, width))
        else:
            more = f"   +{left + 1} (I)"
            lines[-1] = f"{clip(lines[-1], width - len(more))}{more}"
            break
    return lines
