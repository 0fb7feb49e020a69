"""A record as rows for the screen: the timeline in characters, the tables, the account.

Lanes show stays as a line that begins with the station's letter, work in hand as blocks, an
overrun as ``!``, a stay that was too short as ``<``. Nothing is told by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from rich.cells import cell_len

from benchtimer.plan.draw import FINE, PLAIN, Marks, Scale, axis
from benchtimer.records.card import ask_of, counted, heading, sections
from benchtimer.records.inert import visible
from benchtimer.records.record import Line, PartRecord, Record, Visit
from benchtimer.records.timeline import station_letters, work_ends_s
from benchtimer.store.index import fold_text
from benchtimer.times import duration, elapsed, rough_duration
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, fill, wrapped

SLOW_S = 30
"""An alarm that was answered later than this is told in the account."""

SPEAKS = frozenset(
    {"", "when", "rang", "part", "station", "what", "asked", "about", "note", "hazard", "file"}
)
"""Columns of the tables whose cells need no heading beside them."""

TOO_SHORT, OVERRUN, OTHER = "CUT SHORT", "OVERRUN", "DEVIATION"


def record_rows(record: Record, size: Size, *, plain: bool = False) -> list[Row]:
    """The whole record.

    Args:
        record: the record.
        size: columns for text, rows of the terminal.
        plain: draw with ASCII only.

    Returns:
        Rows; those of look ``trouble`` are what somebody looks for first.
    """
    width = size.width
    rows = [Row((clip(_safe(f" {record.title}"), width),), "head")]
    rows += [Row(_wrapped(f"{k}: {v}", width)) for k, v in heading(record)]
    rows.append(Row(_wrapped(trouble_words(record), width)))
    rows += [Row(("",)), Row((" TIMELINE, hours and minutes since it was laid out",), "head")]
    rows += [Row((line,)) for line in timeline(record, width, plain=plain)]
    for part in record.parts:
        rows += _steps(part, width)
    for section in sections(record):
        if not section.title.startswith("Steps of"):
            rows += [Row(("",)), Row((clip(_safe(f" {section.title.upper()}"), width),), "head")]
            rows += [Row(_wrapped(_cells(section.head, row), width)) for row in section.rows]
    return [*rows, Row(("",)), Row((" THE ACCOUNT",), "head"), *_account(record, width)]


def trouble_words(record: Record) -> str:
    """How much went otherwise than it should."""
    slow = sum(alarm["answered_s"] > SLOW_S for alarm in record.alarms)
    told = [
        (len(record.deviations), "deviation"),
        (len(record.sent_back), "time sent back"),
        (slow, "slow answer to an alarm"),
    ]
    words = [_many(number, word) for number, word in told if number]
    return "Trouble: " + (", ".join(words) if words else "none")


def _many(number: int, word: str) -> str:
    plural = {
        "time sent back": "times sent back",
        "slow answer to an alarm": "slow answers to alarms",
    }
    return f"{number} {plural[word]}" if number > 1 and word in plural else counted(number, word)


def timeline(record: Record, width: int, *, plain: bool = False) -> list[str]:
    """The timeline: times, a lane for each part, the hands, what was read, said and went wrong.

    Args:
        record: the record.
        width: columns there are; 40 at least are used.
        plain: draw with ASCII only.
    """
    marks = PLAIN if plain else FINE
    width = max(40, width)
    label = min(max(9, width // 5), max(9, *(cell_len(f" {p.label}") for p in record.parts)))
    scale = Scale(0, max(1, round(work_ends_s(record))), width - label - 1)
    letters = station_letters(record)
    lines = [" " * (label + 1) + line for line in axis(scale, rough_duration, marks)]
    for part in record.parts:
        name = fill(_safe(f" {part.label}"), label)
        lines.append(f"{name} {lane(part, scale, letters, marks)}")
    lines.append(f"{fill(' hands', label)} {_hands(record, scale, marks)}")
    for name, entries, sign in (
        ("readings", record.readings, "r"),
        ("notes", record.notes, "n"),
        ("trouble", record.deviations, "!"),
        ("sent back", record.sent_back, "<"),
    ):
        if entries:
            lines.append(f"{fill(f' {name}', label)} {_points(entries, sign, scale, marks)}")
    return [*(line.rstrip() for line in lines), *_legend(letters, marks, width)]


def lane(part: PartRecord, scale: Scale, letters: dict[str, str], marks: Marks) -> str:
    """One part's stays and work."""
    cells = [" "] * scale.columns
    for visit in part.visits:
        _put_stay(cells, visit, scale, letters, marks)
    for visit in part.visits:
        _put_work(cells, visit, scale, marks)
    return "".join(cells)


def _put_stay(
    cells: list[str], visit: Visit, scale: Scale, letters: dict[str, str], marks: Marks
) -> None:
    if visit.in_s is None or visit.station is None:
        return
    first = scale.column(visit.in_s)
    last = scale.column(visit.out_s) if visit.out_s is not None else scale.columns - 1
    cells[first : last + 1] = marks.dwell * (last + 1 - first)
    if visit.verdict == "overrun" and visit.max_s is not None:
        over = scale.column(visit.in_s + visit.max_s)
        over = min(max(over, first + 1), last)
        cells[over : last + 1] = marks.late * (last + 1 - over)
    elif visit.verdict == "early":
        cells[last] = "<"
    at = first + 1 if last - first >= 2 else first
    if cells[at] == marks.dwell:
        cells[at] = letters[visit.station][0]


def _put_work(cells: list[str], visit: Visit, scale: Scale, marks: Marks) -> None:
    if visit.began_s is None or visit.hands_s is None:
        return
    first = scale.column(visit.began_s)
    last = max(first, scale.column(max(visit.began_s, visit.began_s + visit.hands_s - 1)))
    for at in range(first, last + 1):
        if cells[at] not in (marks.late, "<"):  # what went wrong stays in sight
            cells[at] = marks.work


def _hands(record: Record, scale: Scale, marks: Marks) -> str:
    cells = [marks.idle] * scale.columns
    for visit in (visit for part in record.parts for visit in part.visits):
        _put_work(cells, visit, scale, marks)
    return "".join(cells)


def _points(entries: Sequence[dict[str, object]], sign: str, scale: Scale, marks: Marks) -> str:
    cells = [marks.idle] * scale.columns
    for entry in entries:
        wrong = sign == "r" and entry.get("verdict") != "in"
        at = scale.column(float(str(entry["elapsed_s"])))
        cells[at] = marks.late if wrong or cells[at] == marks.late else sign
    return "".join(cells)


def _legend(letters: dict[str, str], marks: Marks, width: int) -> list[str]:
    told = [f"{letter} {station}" for station, letter in letters.items()]
    told += [f"{marks.work} in hand", f"{marks.late} too long or wrong", "< cut short, sent back"]
    return list(_wrapped("   ".join(told), width))


def _steps(part: PartRecord, width: int) -> Iterator[Row]:
    """What a part went through, a line or more a step."""
    yield Row(("",))
    told = f" {part.number} {part.name}: {part.outcome}"
    if part.verdict is not None:
        told += f", {part.verdict}" + (f", {part.rating} of 5" if part.rating is not None else "")
    yield Row((clip(_safe(told), width),), "head")
    for visit in part.visits:
        wrong = visit.verdict in ("overrun", "early")
        yield Row(_wrapped(step_words(visit), width, "! " if wrong else "  "), "plain")


def step_words(visit: Visit) -> str:
    """One pass through a step, in words."""
    again = f" (try {visit.attempt})" if visit.attempt > 1 else ""
    told = [f"{elapsed(visit.began_s or 0)}  {visit.title}{again}"]
    if visit.hands_s is not None:
        told.append(f"{duration(round(visit.hands_s))} in hand")
    if visit.dwell_s is not None:
        told.append(f"{duration(round(visit.dwell_s))} in {visit.station}")
    elif visit.in_s is not None:
        told.append(f"in {visit.station}")
    verdict = {"early": TOO_SHORT, "overrun": OVERRUN}.get(visit.verdict or "", "")
    if verdict and visit.min_s is not None:
        most = f" to {duration(visit.max_s)}" if visit.max_s is not None else " or more"
        told.append(f"{verdict}, wanted {duration(visit.min_s)}{most}")
    return ", ".join(told)


def _account(record: Record, width: int) -> Iterator[Row]:
    """Every entry with its time; what went wrong is marked, and so are slow answers to alarms."""
    wrong = _wrong(record)
    entries = [(x.elapsed_s, 1, x.at, _entry(x, wrong, width)) for x in record.lines]
    for alarm in record.alarms:
        if alarm["answered_s"] > SLOW_S:
            row = _slow_alarm(alarm, width)
            entries.append((alarm["elapsed_s"], 0, str(alarm["at"]), row))
    day = ""
    for _, _, at, row in sorted(entries, key=lambda entry: entry[:2]):
        if at[:10] != day:
            day = at[:10]
            yield Row((f" {day}",), "head")
        yield row


def _slow_alarm(alarm: dict[str, Any], width: int) -> Row:
    late = duration(round(alarm["answered_s"]))
    text = f"{alarm['at'][11:19]}  alarm: {alarm['what']} {alarm['who']}, answered after {late}"
    return Row(_wrapped(text, width, "! "), "trouble")


def _entry(line: Line, wrong: set[tuple[float, str]], width: int) -> Row:
    late = "" if line.at == line.noted_at else f" (written at {line.noted_at[11:19]})"
    text = " / ".join(line.text.splitlines()) if line.counts else f"[{line.text}] taken back"
    bad = line.counts and any(s == line.elapsed_s and line.text.startswith(p) for s, p in wrong)
    lines = _wrapped(f"{line.at[11:19]}  {text}{late}", width, "! " if bad else "  ")
    return Row(lines, "trouble" if bad else "plain" if line.counts else "muted")


def _wrong(record: Record) -> set[tuple[float, str]]:
    """When something went wrong, and how its entry begins."""
    told = {
        (d["elapsed_s"], kind) for d in record.deviations for kind in (TOO_SHORT, OVERRUN, OTHER)
    }
    told |= {(s["elapsed_s"], f"{s['part']} back to:") for s in record.sent_back}
    no = [a for a in record.answers if a["no"] or a.get("above_ceiling")]
    return told | {(a["elapsed_s"], f"{a['part']}: {ask_of(record, a)}") for a in no}


def found(rows: Sequence[Row], words: str) -> list[int]:
    """The rows that have these words, without regard to capitals."""
    wanted = fold_text(words)
    return (
        [i for i, row in enumerate(rows) if wanted in fold_text(" ".join(row.lines))]
        if wanted
        else []
    )


def troubles(rows: Sequence[Row]) -> list[int]:
    """The rows that tell of trouble."""
    return [i for i, row in enumerate(rows) if row.look == "trouble"]


def beside(places: Sequence[int], here: int, step: int) -> int | None:
    """The place after this one, or before it; round and round; None if there is none."""
    if not places:
        return None
    if step > 0:
        return next((p for p in places if p > here), places[0])
    return next((p for p in reversed(places) if p < here), places[-1])


def shown_at(rows: Sequence[Row], at: int | None) -> list[Row]:
    """The rows with one of them pointed out."""
    if at is None:
        return list(rows)
    row = rows[at]
    first = f">{row.lines[0][1:]}" if row.lines[0] else ">"
    hit = replace(row, lines=(first, *row.lines[1:]), look="hit")
    return [*rows[:at], hit, *rows[at + 1 :]]


def _cells(head: Sequence[str], row: Sequence[str]) -> str:
    """A row of a table as words; what does not speak for itself has its heading before it."""
    told = []
    for name, cell in zip(head, row, strict=True):
        words = " / ".join(cell.splitlines())
        told.append(words if name in SPEAKS else f"{name}: {words}" if words else "")
    return "  ".join(words for words in told if words)


def _wrapped(text: str, width: int, first: str = "  ") -> tuple[str, ...]:
    """A text in lines, those behind the first set in a little."""
    lines = wrapped(_safe(text), max(20, width) - 4)
    return tuple(f"{'    ' if i else first}{line}" for i, line in enumerate(lines))


def _safe(text: str) -> str:
    return visible(text, keep="")
