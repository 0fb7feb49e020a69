"""What a record shows, as plain sections for Markdown and the process card. Nothing is escaped
here; each form escapes text in its own way.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from benchtimer.quantity import how_many
from benchtimer.recipe.answers import said
from benchtimer.recipe.model import Lineage
from benchtimer.records.photos import photos_in
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.records.recorded import Recorded, RecordedAlarm, RecordedAnswer, RecordedBath
from benchtimer.times import date_words, duration, elapsed, rough_duration, time_of_day
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class TitledTable:
    """A table with a title.

    Attributes:
        wide: it needs the whole width of a sheet.
        files: its last column holds paths of files.
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    wide: bool = False
    files: bool = False


def heading(record: Record) -> list[tuple[str, str]]:
    """The first lines: what the record is, and its main facts."""
    rows = [
        ("Run", f"{record.run}: {record.phase}"),
        ("Set up", _when(record.created)),
        ("Ended", _when(record.ended) if record.ended else "not yet"),
        ("By", ", ".join(dict.fromkeys(line.by for line in record.lines))),
        (
            "Hands-on",
            f"{duration(record.hands_s)} in all, by {how_many(record.hands, 'person', 'people')}",
        ),
    ]
    if record.practice:
        rows.insert(0, ("PRACTICE", f"at {record.speed:g}x real speed: not real work"))
    for key, recipe in record.recipes.items():
        rows.append(("Recipe", f"{recipe.title} ({key}, revision {recipe.revision})"))
        rows += [("Made from", _lineage(recipe.lineage))] if recipe.lineage is not None else []
    rows += [("Adjusted", adjustment) for adjustment in record.adjustments]
    rows += [(f"Bath in {bath.station}", bath_words(bath)) for bath in record.baths]
    return rows


def sections(record: Record) -> list[TitledTable]:
    """The tables of a record that aren't empty."""
    tables = [
        _parts(record),
        TitledTable("Half done before the run", ("part", "enters at", "done before"), tuple(
            (p.name, p.entered_at, done_before(p)) for p in record.parts if p.entered_at)),
        TitledTable("Pieces scrapped", ("when", "part", "pieces", "left", "why", "by"), tuple(
            (_day(s), s.part, str(s.number), str(s.left), s.reason, s.by)
            for s in record.some_scrapped)),
        *(_steps(part) for part in record.parts),
        _answers(record),
        TitledTable("Readings", ("when", "station", "reads", "verdict"), tuple(
            (_day(r), r.station, r.reading, r.verdict) for r in record.readings)),
        TitledTable("Deviations", ("when", "what", "found", "wanted"), tuple(
            (_day(d), f"{d.where}: {d.what}", d.found, d.limit) for d in record.deviations)),
        TitledTable("Sent back", ("when", "part", "to", "why"), tuple(
            (_day(s), s.part, s.to_step, s.reason) for s in record.sent_back)),
        TitledTable("Hazards acknowledged", ("when", "hazard", "by"), tuple(
            (_day(c), c.hazard, c.by) for c in record.hazards)),
        TitledTable("Notes", ("when", "about", "note", "by"), tuple(
            (_day(n), n.about, n.text, n.by) for n in record.notes)),
        TitledTable("Photos", ("about", "file"), tuple(photos_in(record)), files=True),
        TitledTable("Corrections", ("when", "what", "first entry", "entry now"), tuple(
            (_day(c), c.what, "; ".join(c.first_said), "; ".join(c.now))
            for c in record.corrections)),
        _alarms(record),
        TitledTable("Judged", ("when", "part", "verdict", "rating", "by"), tuple(
            (_day(j), j.part, j.verdict, "" if j.rating is None else str(j.rating), j.by)
            for j in record.judgements)),
    ]  # fmt: skip
    return [section for section in tables if section.rows]


def bath_words(bath: RecordedBath) -> str:
    """A bath as it was when the run was set up."""
    if bath.age_s is None:
        return bath.bath
    dwell = duration(round(bath.dwell_before_s or 0))
    used_up = f", about {100 * bath.used_up:.2g} % used up" if bath.used_up is not None else ""
    return (
        f"{bath.bath} ({bath.of}), {rough_duration(bath.age_s)} old, "
        f"{bath.parts_before} parts and {dwell} of dwell before{used_up}"
    )


def pieces_words(part: PartRecord) -> str:
    """How many pieces of a batch are left, out of how many."""
    if part.count == part.count_left:
        return f"{part.count} pieces"
    return f"{part.count_left} of {part.count} pieces"


def done_before(part: PartRecord) -> str:
    """What was done to a part before it entered, in its maker's words."""
    return part.before or "no note"


def ask_of(record: Record, answer: RecordedAnswer) -> str:
    """What an answer's check asks, in the words of the recipe as run."""
    check = record.check(answer.part, answer.step, answer.check)
    return check.ask if check is not None else answer.check


def _lineage(lineage: Lineage) -> str:
    verdict = f", {lineage.verdict}" if lineage.verdict else ""
    return f"run {lineage.run}, {lineage.part}{verdict}"


def _parts(record: Record) -> TitledTable:
    head = ("", "part", "recipe", "outcome", "verdict", "rating", "sent back", "hands-on", "known")
    rows = tuple(
        (f"#{p.number}", p.name + (f", {pieces_words(p)}" if p.count else ""), p.recipe, p.outcome,
         p.verdict or "not judged",
         f"{p.rating} of 5" if p.rating is not None else "", str(p.sent_back), duration(p.hands_s),
         ", ".join(f"{k} {v}" for k, v in p.properties.items()))
        for p in record.parts
    )  # fmt: skip
    return TitledTable("Parts", head, rows, wide=True)


def _steps(part: PartRecord) -> TitledTable:
    head = ("began", "due", "step", "repeat", "in hand", "planned", "station", "dwell",
            "min", "target", "max", "")  # fmt: skip
    return TitledTable(
        f"Steps of {part.name}", head, tuple(_visit(v) for v in part.visits), wide=True
    )


def _visit(visit: Visit) -> tuple[str, ...]:
    verdict = {"early": "CUT SHORT", "overrun": "OVERRUN", "within": "within"}
    most = "no limit" if visit.max_s is None else duration(visit.max_s)
    dwells = visit.target_s is not None
    return (
        elapsed(visit.began_s or 0),
        elapsed(visit.due_s) if visit.due_s is not None else "",
        visit.title,
        str(visit.repeat) if visit.repeat else "",
        duration(visit.hands_s) if visit.hands_s is not None else "",
        duration(visit.planned_hands_s),
        visit.station or "",
        duration(visit.dwell_s) if visit.dwell_s is not None else "",
        duration(visit.min_s) if visit.min_s is not None else "",
        duration(visit.target_s) if visit.target_s is not None else "",
        most if dwells else "",
        verdict.get(visit.verdict or "", ""),
    )


def _answers(record: Record) -> TitledTable:
    """Questions and answers, with the part's name if there are several parts."""
    several = len(record.parts) > 1
    rows = tuple(
        (_day(a), *((a.part,) if several else ()), ask_of(record, a), _judged(a))
        for a in record.answers
    )
    return TitledTable("Checks", ("when", *(("part",) if several else ()), "asked", "answer"), rows)


def _judged(answer: RecordedAnswer) -> str:
    """An answer, with a note if it counts as a no."""
    words = said(answer.answer)
    is_plain = isinstance(answer.answer, bool)
    return f"{words} (counts as no)" if answer.no and not is_plain else words


def _alarms(record: Record) -> TitledTable:
    rows = tuple((_day(a), f"{a.what} {a.who}", duration(a.answered_s)) for a in _slow(record))
    return TitledTable(
        "Alarms answered after more than 30 s", ("rang", "what", "answered in"), rows
    )


def _slow(record: Record) -> Iterator[RecordedAlarm]:
    return (alarm for alarm in record.alarms if alarm.answered_s > 30)


def _when(iso: str) -> str:
    """A day with its year, and the time: ``Sat Dec 5 2026, 18:10``."""
    then = datetime.fromisoformat(iso)
    return f"{date_words(then)} {then.year}, {time_of_day(then)}"


def _day(entry: Recorded) -> str:
    """The day and time of an entry, without the year, which the heading has."""
    then = datetime.fromisoformat(entry.at)
    return f"{date_words(then)} {time_of_day(then, seconds=True)}"
