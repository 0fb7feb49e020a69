"""A record as text, and as JSON and TOML for programs."""

from __future__ import annotations

import json
from collections.abc import Iterator

import tomli_w

from benchtimer.recipe.writer import recipe_table
from benchtimer.records.card import bath_words, done_before, pieces_words
from benchtimer.records.inert import escaped, visible
from benchtimer.records.record import FORMAT, PartRecord, Record, Visit
from benchtimer.records.recorded import RecordedAlarm, RecordedCorrection, RecordedDeviation
from benchtimer.times import duration, elapsed
from benchtimer.values import asdict, replace


def as_table(record: Record) -> dict[str, object]:
    """The record as a plain table; unknown values are left out."""
    recipes = {key: recipe_table(recipe) for key, recipe in record.recipes.items()}
    table = {**asdict(replace(record, recipes={})), "recipes": recipes}
    table["adjustments"] = list(record.adjustments)
    for shown, part in zip(table["parts"], record.parts, strict=True):
        for visit_table, visit in zip(shown["visits"], part.visits, strict=True):
            visit_table["dwell_s"] = visit.dwell_s
    return {"format": FORMAT, **{k: _without_none(v) for k, v in table.items() if v is not None}}


def as_json(record: Record) -> str:
    """The record as JSON."""
    return escaped(json.dumps(as_table(record), ensure_ascii=False, indent=2))


def as_toml(record: Record) -> str:
    """The record as TOML."""
    return escaped(tomli_w.dumps(as_table(record), multiline_strings=False), long=True)


def as_text(record: Record) -> str:
    """The record as readable text."""
    return visible("\n".join(_text(record)))


def _without_none(value: object) -> object:
    if isinstance(value, dict):
        return {k: _without_none(v) for k, v in value.items() if v is not None}
    if isinstance(value, list | tuple):
        return [_without_none(item) for item in value]
    return value


def _text(record: Record) -> Iterator[str]:
    if record.practice:
        yield f"PRACTICE at {record.speed:g}x real speed: not a record of real work"
    yield f"{record.title}"
    yield f"run {record.run}: {record.phase}"
    yield f"set up {record.created}" + (f", ended {record.ended}" if record.ended else "")
    for key, recipe in record.recipes.items():
        yield f"recipe {key}, revision {recipe.revision}: {recipe.title}"
    for adjustment in record.adjustments:
        yield f"adjusted: {adjustment}"
    for bath in record.baths:
        yield f"bath in {bath.station}: {bath_words(bath)}"
    yield f"hands-on in all: {duration(round(record.hands_s))}"
    for part in record.parts:
        yield ""
        yield from _part(part)
    yield from _section("Deviations", [f"{d.at}  {_deviation(d)}" for d in record.deviations])
    yield from _section("Notes", [f"{n.at}  {n.text}" for n in record.notes])
    yield from _section("Corrections", [_correction(c) for c in record.corrections])
    yield from _section("Alarms", [_alarm(a) for a in record.alarms])
    yield ""
    yield "Log (entries in brackets were taken back later)"
    for line in record.lines:
        text = line.text if line.counts else f"[{line.text}]"
        late = "" if line.at == line.noted_at else f" (written at {line.noted_at[11:19]})"
        yield f"  {line.at}  {_one_entry(text)}{late}"


def _part(part: PartRecord) -> Iterator[str]:
    hands = duration(round(part.hands_s))
    back = f", sent back {part.sent_back} times" if part.sent_back > 1 else ""
    back = ", sent back once" if part.sent_back == 1 else back
    judged = f", {part.verdict}" if part.verdict is not None else ""
    judged += f" (rating {part.rating} of 5)" if part.rating is not None else ""
    pieces = f", {pieces_words(part)}" if part.count is not None else ""
    yield f"{part.label}{pieces}: {part.outcome}{judged}{back}, hands-on {hands}"
    for name, value in part.properties.items():
        yield f"     {name}: {value}"
    if part.entered_at is not None:
        yield f"     enters at {part.entered_at}; done before: {done_before(part)}"
    for visit in part.visits:
        yield f"     {_visit(visit)}"


def _visit(visit: Visit) -> str:
    again = f" (repeat {visit.repeat})" if visit.repeat else ""
    text = f"{elapsed(visit.began_s or 0):>8} {visit.title}{again}"
    if visit.hands_s is not None:
        text += f": {duration(round(visit.hands_s))} in hand"
    elif visit.with_next:
        text += ": in hand together with the next step"
    if visit.dwell_s is not None:
        least = f"min {duration(visit.min_s)}, " if visit.min_s else ""
        most = f", max {duration(visit.max_s)}" if visit.max_s is not None else ""
        aims = (
            f"{least}target {duration(visit.target_s)}{most}" if visit.target_s else f"a wait{most}"
        )
        verdict = {"early": ", CUT SHORT", "overrun": ", OVERRUN"}.get(visit.verdict or "", "")
        text += f", {duration(round(visit.dwell_s))} in {visit.station} ({aims}{verdict})"
    return text


def _deviation(deviation: RecordedDeviation) -> str:
    return f"{deviation.where}: {deviation.what}: {deviation.found}, wanted {deviation.limit}"


def _correction(correction: RecordedCorrection) -> str:
    return f"{correction.at}  {correction.what}: {'; '.join(correction.first_said)}"


def _alarm(alarm: RecordedAlarm) -> str:
    after = duration(round(alarm.answered_s))
    return f"{alarm.at}  answered after {after}: {alarm.what} {alarm.who}"


def _section(title: str, lines: list[str]) -> Iterator[str]:
    if lines:
        yield ""
        yield title
        yield from (f"  {_one_entry(line)}" for line in lines)


def _one_entry(text: str) -> str:
    """Text of several lines, indented so that no line looks like a separate entry."""
    return text.replace("\n", "\n        | ")
