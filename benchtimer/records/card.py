"""What a record shows to people, as plain sections: Markdown and the process card draw them.

Nothing is escaped here; each form makes the texts harmless in its own way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from benchtimer.recipe.checks import said
from benchtimer.records.photos import photos_in
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.times import duration, elapsed, rough_duration


@dataclass(frozen=True, slots=True)
class Section:
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
    """The first lines: what is told, and what it is."""
    told = [
        ("Run", f"{record.run}: {record.phase}"),
        ("Laid out", record.created),
        ("Ended", record.ended or "not yet"),
        ("By", ", ".join(dict.fromkeys(line.by for line in record.lines))),
        ("Hands-on", f"{duration(record.hands_s)} in all, {record.hands} at work"),
    ]
    if record.practice:
        told.insert(0, ("PRACTICE", f"at {record.speed:g} times the real speed: no real work"))
    for key, table in record.recipes.items():
        told.append(("Recipe", f"{table['title']} ({key}, revision {table.get('revision', 1)})"))
        told += [("Made from", _lineage(table["lineage"]))] if "lineage" in table else []
    told += [("Adjusted", adjustment) for adjustment in record.adjustments]
    told += [(f"Bath in {b['station']}", bath_words(b)) for b in record.baths]
    return told


def sections(record: Record) -> list[Section]:
    """The tables of a record that have anything in them."""
    told = [
        _parts(record),
        Section("Half done before the run", ("part", "enters at", "done before"), tuple(
            (p.name, p.entered_at, done_before(p)) for p in record.parts if p.entered_at)),
        Section("Pieces scrapped", ("when", "part", "pieces", "left", "why", "by"), tuple(
            (_day(s), s["part"], str(s["number"]), str(s["left"]), s["reason"], s["by"])
            for s in record.some_scrapped)),
        *(_steps(part) for part in record.parts),
        _answers(record),
        Section("Readings", ("when", "station", "reads", "verdict"), tuple(
            (_day(r), r["station"], r["reading"], r["verdict"]) for r in record.readings)),
        Section("Deviations", ("when", "what", "found", "wanted"), tuple(
            (_day(d), f"{d.get('part') or d.get('station') or ''}: {d['what']}", d["found"],
             d["limit"]) for d in record.deviations)),
        Section("Sent back", ("when", "part", "to", "why"), tuple(
            (_day(s), s["part"], s["to_step"], s["reason"]) for s in record.sent_back)),
        Section("Hazards acknowledged", ("when", "hazard", "by"), tuple(
            (_day(c), c["hazard"], c["by"]) for c in record.hazards)),
        Section("Notes", ("when", "about", "note", "by"), tuple(
            (_day(n), n.get("part", "the run"), n["text"], n["by"]) for n in record.notes)),
        Section("Photos", ("about", "file"), tuple(photos_in(record)), files=True),
        Section("Corrections", ("when", "what", "said first", "said now"), tuple(
            (_day(c), c["what"], "; ".join(c["first_said"]), "; ".join(c["now"]))
            for c in record.corrections)),
        _alarms(record),
        Section("Judged", ("when", "part", "verdict", "rating", "by"), tuple(
            (_day(j), j["part"], j["verdict"], str(j.get("rating", "")), j["by"])
            for j in record.judgements)),
    ]  # fmt: skip
    return [section for section in told if section.rows]


def bath_words(bath: dict[str, Any]) -> str:
    """A bath as it was when the run was laid out."""
    if "age_s" not in bath:
        return str(bath["bath"])
    dwell = duration(round(bath["dwell_before_s"]))
    used_up = f", about {100 * bath['used_up']:.2g} % used up" if "used_up" in bath else ""
    return (
        f"{bath['bath']} ({bath['of']}), {rough_duration(bath['age_s'])} old, "
        f"{bath['parts_before']} parts and {dwell} of dwell before{used_up}"
    )


def pieces_words(part: PartRecord) -> str:
    """How many pieces of a batch are left of how many."""
    if part.count == part.count_left:
        return f"{part.count} pieces"
    return f"{part.count_left} of {part.count} pieces"


def done_before(part: PartRecord) -> str:
    """What was done to a part before it entered, as its maker said it."""
    return part.before or "not said"


def ask_of(record: Record, answer: dict[str, Any]) -> str:
    """What the check of an answer asks, in the words of the recipe as run."""
    check = record.check(answer["part"], answer["step"], answer["check"])
    return str(check.get("ask", answer["check"]))


def counted(number: int, word: str) -> str:
    """A number of things: ``1 run``, ``3 runs``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _lineage(table: dict[str, Any]) -> str:
    verdict = f", {table['verdict']}" if "verdict" in table else ""
    return f"run {table['run']}, {table['part']}{verdict}"


def _parts(record: Record) -> Section:
    head = ("", "part", "recipe", "outcome", "verdict", "rating", "sent back", "hands-on", "known")
    rows = tuple(
        (f"#{p.number}", p.name + (f", {pieces_words(p)}" if p.count else ""), p.recipe, p.outcome,
         p.verdict or "not judged",
         f"{p.rating} of 5" if p.rating is not None else "", str(p.sent_back), duration(p.hands_s),
         ", ".join(f"{k} {v}" for k, v in p.properties.items()))
        for p in record.parts
    )  # fmt: skip
    return Section("Parts", head, rows, wide=True)


def _steps(part: PartRecord) -> Section:
    head = ("began", "due", "step", "try", "in hand", "planned", "station", "dwell",
            "min", "target", "max", "")  # fmt: skip
    return Section(f"Steps of {part.name}", head, tuple(_visit(v) for v in part.visits), wide=True)


def _visit(visit: Visit) -> tuple[str, ...]:
    verdict = {"early": "CUT SHORT", "overrun": "OVERRUN", "within": "within"}
    most = "no limit" if visit.max_s is None else duration(visit.max_s)
    dwells = visit.target_s is not None
    return (
        elapsed(visit.began_s or 0),
        elapsed(visit.due_s) if visit.due_s is not None else "",
        visit.title,
        str(visit.attempt),
        duration(visit.hands_s) if visit.hands_s is not None else "",
        duration(visit.planned_hands_s),
        visit.station or "",
        duration(visit.dwell_s) if visit.dwell_s is not None else "",
        duration(visit.min_s) if visit.min_s is not None else "",
        duration(visit.target_s) if visit.target_s is not None else "",
        most if dwells else "",
        verdict.get(visit.verdict or "", ""),
    )


def _answers(record: Record) -> Section:
    """What was asked and answered; the part is named where there are several."""
    several = len(record.parts) > 1
    rows = tuple(
        (_day(a), *((a["part"],) if several else ()), ask_of(record, a), _judged(a))
        for a in record.answers
    )
    return Section("Checks", ("when", *(("part",) if several else ()), "asked", "answer"), rows)


def _judged(answer: dict[str, Any]) -> str:
    """An answer, with a word if it is no plain no and counts as one all the same."""
    told = said(answer["answer"])
    is_plain = isinstance(answer["answer"], bool)
    return f"{told} (counts as no)" if answer["no"] and not is_plain else told


def _alarms(record: Record) -> Section:
    rows = tuple(
        (_day(a), f"{a['what']} {a['who']}", duration(a["answered_s"])) for a in _slow(record)
    )
    return Section("Alarms answered after more than 30 s", ("rang", "what", "answered in"), rows)


def _slow(record: Record) -> Iterator[dict[str, Any]]:
    return (alarm for alarm in record.alarms if alarm["answered_s"] > 30)


def _day(entry: dict[str, Any]) -> str:
    """The day and time of an entry, without the year that the heading has."""
    return str(entry["at"])[5:19].replace("T", " ")
