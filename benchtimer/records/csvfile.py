"""A record as CSV (RFC 4180): one row for each thing that happened.

Times are local with their offset, and seconds since the run was set up; figures are plain
numbers. Text that a spreadsheet would read as a formula gets an apostrophe in front, which is how
spreadsheets themselves mark text; OWASP's page on CSV injection recommends this.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from benchtimer.recipe.answers import said
from benchtimer.records.card import ask_of
from benchtimer.records.inert import visible
from benchtimer.records.record import PartRecord, Record
from benchtimer.records.recorded import Recorded

COLUMNS = (
    "run", "kind", "at", "elapsed_s", "part", "step", "repeat", "station", "planned_began_s",
    "hands_s", "planned_hands_s", "in_s", "out_s", "dwell_s", "min_s", "target_s", "max_s",
    "verdict", "rating", "text", "by",
)  # fmt: skip

Cell = str | int | float | None
Row = dict[str, Cell]

FORMULA = tuple("=+-@|%＝＋－＠")
"""First characters that can start a formula in a spreadsheet."""


def as_csv(record: Record) -> str:
    """The record as CSV with a heading row; lines end in CR LF, as the standard says."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for row in _rows(record):
        cells = {"run": record.run, **row}
        writer.writerow({key: inert(value) for key, value in cells.items() if value is not None})
    return visible(out.getvalue(), keep="\r\n")


def inert(value: Cell) -> Cell:
    """A cell that no spreadsheet calculates."""
    if isinstance(value, str) and value.strip().startswith(FORMULA):
        return f"'{value}"
    return value


def _rows(record: Record) -> Iterator[Row]:
    practice = f"; PRACTICE at {record.speed:g}x real speed" if record.practice else ""
    title = f"{record.title}{practice}"
    yield {"kind": "run", "at": record.created, "elapsed_s": 0, "hands_s": record.hands_s,
           "verdict": record.phase, "text": title}  # fmt: skip
    for key, recipe in record.recipes.items():
        heading = f"{key}, revision {recipe.revision}: {recipe.title}"
        yield {"kind": "recipe", "text": heading}
    for text in record.adjustments:
        yield {"kind": "adjustment", "text": text}
    for bath in record.baths:
        yield {"kind": "bath", "station": bath.station, "text": bath.bath}
    for part in record.parts:
        yield from _part_rows(part)
    yield from _entries(record)


def _part_rows(part: PartRecord) -> Iterator[Row]:
    known = "; ".join(f"{name} {value}" for name, value in part.properties.items())
    text = "; ".join(filter(None, [part.outcome, known]))
    yield {"kind": "part", "part": part.name, "hands_s": part.hands_s, "verdict": part.verdict,
           "rating": part.rating, "text": text}  # fmt: skip
    for v in part.visits:
        yield {
            "kind": "step", "elapsed_s": v.began_s, "part": part.name, "step": v.step,
            "repeat": v.repeat, "station": v.station, "planned_began_s": v.due_s,
            "hands_s": v.hands_s, "planned_hands_s": v.planned_hands_s, "in_s": v.in_s,
            "out_s": v.out_s, "dwell_s": v.dwell_s, "min_s": v.min_s, "target_s": v.target_s,
            "max_s": v.max_s, "verdict": v.verdict, "text": v.title,
        }  # fmt: skip


def _entries(record: Record) -> Iterator[Row]:
    """What was read, said, seen and corrected, each kind in order of time."""
    for r in record.readings:
        yield _row("reading", r, station=r.station, verdict=r.verdict, text=r.reading)
    for a in record.answers:
        text = f"{ask_of(record, a)} {said(a.answer)}"
        yield _row("answer", a, step=a.step, verdict="no" if a.no else "yes", text=text)
    for d in record.deviations:
        text = f"{d.what}: {d.found}, wanted {d.limit}"
        yield _row("deviation", d, step=d.step, station=d.station, text=text)
    for s in record.sent_back:
        yield _row("sent back", s, step=s.to_step, text=s.reason)
    for h in record.hazards:
        yield _row("hazard", h, text=h.hazard)
    for alarm in record.alarms:
        text = f"answered after {alarm.answered_s:g} s: {alarm.what} {alarm.who}"
        yield _row("alarm", alarm, text=text)
    for n in record.notes:
        yield _row("note", n, text=n.text)
    for c in record.corrections:
        first = "; ".join(c.first_said)
        yield _row("correction", c, text=f"{c.what}: {first}")
    for j in record.judgements:
        yield _row("judgement", j, verdict=j.verdict, rating=j.rating)


def _row(kind: str, entry: Recorded, **more: Cell) -> Row:
    common = {key: getattr(entry, key, None) for key in ("at", "elapsed_s", "part", "by")}
    return {"kind": kind, **common, **more}
