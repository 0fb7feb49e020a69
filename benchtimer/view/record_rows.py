"""A record as rows for the screen: problems first, the picture, the tables, the log."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from benchtimer.quantity import how_many
from benchtimer.records.card import ask_of, heading, sections
from benchtimer.records.charts import troubles_first
from benchtimer.records.inert import one_line
from benchtimer.records.record import AccountLine, PartRecord, Record, Visit
from benchtimer.records.recorded import RecordedAlarm
from benchtimer.run.guards import ONE_PRESS_S
from benchtimer.store.index import fold_text
from benchtimer.times import date_words, duration, elapsed
from benchtimer.values import replace
from benchtimer.view.record_picture import dwells, is_costly, timeline
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, wrapped

SLOW_S = 30 + ONE_PRESS_S
"""The account lists an alarm answered later than this; the press for a short walk comes when the
part is in its next place.
"""

SPEAKS = frozenset(
    {"", "when", "rang", "part", "station", "what", "asked", "about", "note", "hazard", "file"}
)
"""Columns of the tables whose cells need no heading."""

TOO_SHORT, OVERRUN, OTHER = "CUT SHORT", "OVERRUN", "DEVIATION"


def record_rows(record: Record, size: Size) -> list[Row]:
    """The whole record.

    Args:
        record: the record.
        size: columns for text, rows of the terminal.

    Returns:
        Rows; those with the look ``trouble`` come first.
    """
    width = size.width
    rows = [Row((clip(one_line(f" {record.title}"), width),), "head")]
    rows += [Row(_wrapped(f"{k}: {v}", width)) for k, v in heading(record)]
    rows.append(Row(_wrapped(trouble_words(record), width)))
    rows += [Row(_wrapped(line[3:], width, line[:3]), "trouble") for line in troubles_first(record)]
    rows += [Row(("",)), Row((" TIMELINE",), "head")]
    rows += [Row((one_line(line),)) for line in timeline(record, width)]
    rows += [Row(("",)), Row((" DWELLS, WORST FIRST",), "head")]
    rows += [
        Row((one_line(line),), "trouble" if line[1:3].strip() else "plain")
        for line in dwells(record, width)
    ]
    for part in record.parts:
        rows += _steps(part, width)
    for section in sections(record):
        if not section.title.startswith("Steps of"):
            rows += [Row(("",)), Row((clip(one_line(f" {section.title.upper()}"), width),), "head")]
            rows += [Row(_wrapped(_cells(section.head, row), width)) for row in section.rows]
    return [*rows, Row(("",)), Row((" EVERY ENTRY",), "head"), *_account(record, width)]


def trouble_words(record: Record) -> str:
    """How many things went wrong."""
    slow = len(_slow(record))
    back = len(record.sent_back)
    texts = (
        how_many(len(record.deviations), "deviation") if record.deviations else "",
        ("sent back once" if back == 1 else f"sent back {back} times") if back else "",
        ("1 slow answer to an alarm" if slow == 1 else f"{slow} slow answers to alarms")
        if slow
        else "",
    )
    return "Trouble: " + (", ".join(text for text in texts if text) or "none")


def _steps(part: PartRecord, width: int) -> Iterator[Row]:
    """What a part went through, with one or more lines per step."""
    yield Row(("",))
    title = f" {part.label}: {part.outcome}"
    if part.verdict is not None:
        title += f", {part.verdict}" + (f", {part.rating} of 5" if part.rating is not None else "")
    yield Row((clip(one_line(title), width),), "head")
    for visit in part.visits:
        wrong = visit.verdict in ("overrun", "early")
        yield Row(_wrapped(step_words(visit), width, "! " if wrong else "  "), "plain")


def step_words(visit: Visit) -> str:
    """One pass through a step, in words."""
    again = f" (repeat {visit.repeat})" if visit.repeat else ""
    words = [f"{elapsed(visit.began_s or 0)}  {visit.title}{again}"]
    if visit.hands_s is not None:
        words.append(f"{duration(round(visit.hands_s))} in hand")
    if visit.dwell_s is not None:
        words.append(f"{duration(round(visit.dwell_s))} in {visit.station}")
    elif visit.in_s is not None:
        words.append(f"in {visit.station}")
    verdict = {"early": TOO_SHORT, "overrun": OVERRUN}.get(visit.verdict or "", "")
    if verdict and visit.min_s is not None:
        most = f" to {duration(visit.max_s)}" if visit.max_s is not None else " or more"
        words.append(f"{verdict}, wanted {duration(visit.min_s)}{most}")
    return ", ".join(words)


def _account(record: Record, width: int) -> Iterator[Row]:
    """Every entry with its time; problems and slow answers to alarms are marked."""
    wrong = _wrong(record)
    entries = [(x.elapsed_s, 1, x.at, _entry(x, wrong, width)) for x in record.lines]
    for alarm in _slow(record):
        entries.append((alarm.elapsed_s, 0, alarm.at, _slow_alarm(alarm, width)))
    day = ""
    for _, _, at, row in sorted(entries, key=lambda entry: entry[:2]):
        if at[:10] != day:
            day = at[:10]
            yield Row((f" {date_words(date.fromisoformat(day))}",), "head")
        yield row


def _slow(record: Record) -> list[RecordedAlarm]:
    """Late answers that used up part of a window; a part on the rack loses nothing by waiting."""
    return [a for a in record.alarms if a.answered_s > SLOW_S and is_costly(record, a)]


def _slow_alarm(alarm: RecordedAlarm, width: int) -> Row:
    late = duration(round(alarm.answered_s))
    text = f"{alarm.at[11:19]}  alarm: {alarm.what} {alarm.who}, answered after {late}"
    return Row(_wrapped(text, width, "! "), "trouble")


def _entry(line: AccountLine, wrong: set[tuple[float, str]], width: int) -> Row:
    late = "" if line.at == line.noted_at else f" (written at {line.noted_at[11:19]})"
    text = " / ".join(line.text.splitlines()) if line.counts else f"[{line.text}] taken back"
    bad = line.counts and any(s == line.elapsed_s and line.text.startswith(p) for s, p in wrong)
    lines = _wrapped(f"{line.at[11:19]}  {text}{late}", width, "! " if bad else "  ")
    return Row(lines, "trouble" if bad else "plain" if line.counts else "muted")


def _wrong(record: Record) -> set[tuple[float, str]]:
    """When something went wrong, and how its entry begins."""
    deviations = {
        (d.elapsed_s, kind) for d in record.deviations for kind in (TOO_SHORT, OVERRUN, OTHER)
    }
    deviations |= {(s.elapsed_s, f"{s.part} back to:") for s in record.sent_back}
    no = [a for a in record.answers if a.no or a.above_ceiling]
    return deviations | {(a.elapsed_s, f"{a.part}: {ask_of(record, a)}") for a in no}


def found(rows: Sequence[Row], words: str) -> list[int]:
    """The rows with these words, in any case."""
    wanted = fold_text(words)
    return (
        [i for i, row in enumerate(rows) if wanted in fold_text(" ".join(row.lines))]
        if wanted
        else []
    )


def troubles(rows: Sequence[Row]) -> list[int]:
    """The rows that show trouble."""
    return [i for i, row in enumerate(rows) if row.look == "trouble"]


def beside(places: Sequence[int], here: int, step: int) -> int | None:
    """The next or previous place, wrapping around; None if there is none.

    Args:
        places: the places in order.
        here: where you are.
        step: 1 for the next, -1 for the previous.
    """
    if not places:
        return None
    if step > 0:
        return next((p for p in places if p > here), places[0])
    return next((p for p in reversed(places) if p < here), places[-1])


def shown_at(rows: Sequence[Row], at: int | None) -> list[Row]:
    """The rows with one of them highlighted."""
    if at is None:
        return list(rows)
    row = rows[at]
    first = f">{row.lines[0][1:]}" if row.lines[0] else ">"
    hit = replace(row, lines=(first, *row.lines[1:]), look="hit")
    return [*rows[:at], hit, *rows[at + 1 :]]


def _cells(head: Sequence[str], row: Sequence[str]) -> str:
    """A row of a table as words; cells that need one have their heading in front."""
    cells = []
    for name, cell in zip(head, row, strict=True):
        words = " / ".join(cell.splitlines())
        cells.append(words if name in SPEAKS else f"{name}: {words}" if words else "")
    return "  ".join(words for words in cells if words)


def _wrapped(text: str, width: int, first: str = "  ") -> tuple[str, ...]:
    """Text in lines, with those after the first indented a little."""
    lines = wrapped(one_line(text), max(20, width) - 4)
    return tuple(f"{'    ' if i else first}{line}" for i, line in enumerate(lines))
