"""Every form of a record has the same counts, times and readings, in the same order."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections import Counter
from typing import Any
from xml.etree.ElementTree import Element

import html5lib
import pytest
from hypothesis import given
from markdown_it import MarkdownIt

from benchtimer.quantity import parse
from benchtimer.records.card import sections
from benchtimer.records.forms import FORMS
from benchtimer.records.record import Record, make_record
from benchtimer.times import duration
from tests.records.conftest import Knife
from tests.records.golden import record
from tests.records.laws import PRESSES, Presses, log_of

Tables = dict[str, list[list[str]]]

LISTS = {
    "reading": "readings", "answer": "answers", "deviation": "deviations", "hazard": "hazards",
    "sent back": "sent_back", "alarm": "alarms", "note": "notes", "correction": "corrections",
    "judgement": "judgements",
}  # fmt: skip
"""The row kinds of the CSV, and the lists of the table form they come from."""


def _squeezed(text: str) -> str:
    return " ".join(text.split())


def _html_tables(one: Record) -> Tables:
    page: Element = html5lib.parse(FORMS["html"](one), namespaceHTMLElements=False)
    return {
        _squeezed("".join(section.find("h2").itertext())): [  # type: ignore[union-attr]
            [_squeezed("".join(cell.itertext())) for cell in row]
            for row in section.iter("tr")
        ]
        for section in page.iter("section")
    }  # fmt: skip


def _markdown_tables(one: Record) -> Tables:
    """The tables by the heading above them, read by a CommonMark parser."""
    found: Tables = {}
    heading, kind = "", ""
    row: list[str] = []
    for token in MarkdownIt("commonmark").enable("table").parse(FORMS["markdown"](one)):
        if token.type.endswith("_open"):
            kind = token.type
            row = [] if kind == "tr_open" else row
        elif token.type == "inline":
            said = "".join(child.content for child in token.children or ())
            if kind == "heading_open":
                heading = said
            elif kind in ("th_open", "td_open"):
                row.append(_squeezed(said))
        elif token.type == "tr_close":
            found.setdefault(heading, []).append(row)
    return found


def _csv_rows(one: Record) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(FORMS["csv"](one), newline="")))


def _agree(one: Record) -> None:
    data: dict[str, Any] = json.loads(FORMS["json"](one))
    assert tomllib.loads(FORMS["toml"](one)) == data
    _drawn_tables_agree(one)
    _rows_agree(data, _csv_rows(one))
    _log_agrees(data, FORMS["text"](one), FORMS["markdown"](one))


def _drawn_tables_agree(one: Record) -> None:
    """The page and the Markdown have the same tables, which are the sections."""
    page, text = _html_tables(one), _markdown_tables(one)
    result = {
        _squeezed(s.title): [[_squeezed(cell) for cell in row] for row in (s.head, *s.rows)]
        for s in sections(one)
    }
    assert page == text == result


def _rows_agree(data: dict[str, Any], rows: list[dict[str, str]]) -> None:
    """The CSV has a row for each list entry and for each visit, with the same figures."""
    count = Counter(row["kind"] for row in rows)
    for kind, name in LISTS.items():
        assert count[kind] == len(data[name]), kind
        at = [row["at"] for row in rows if row["kind"] == kind]
        assert at == [entry["at"] for entry in data[name]]
    visits = [visit for part in data["parts"] for visit in part["visits"]]
    steps = [row for row in rows if row["kind"] == "step"]
    assert len(steps) == len(visits)
    for row, visit in zip(steps, visits, strict=True):
        for name in ("hands_s", "planned_hands_s", "in_s", "out_s", "dwell_s", "min_s", "target_s"):
            assert row[name] == str(visit.get(name, "")), name


def _log_agrees(data: dict[str, Any], text: str, markdown: str) -> None:
    """Text and Markdown have every entry, marked in both if undone."""
    lines = text.partition("\nLog (entries in brackets were taken back later)\n")[2].splitlines()
    entries = [line for line in lines if not line.startswith("        |")]
    assert len(entries) == len(data["lines"])
    items = markdown.partition("\n## Log\n")[2].strip().splitlines()[2:]
    assert len(items) == len(data["lines"])
    for entry, line, item in zip(data["lines"], entries, items, strict=True):
        assert line.strip().startswith(entry["at"])
        assert ("  [" in line) == (" ~~" in item) == (not entry["counts"])


def test_the_forms_of_the_example_record_agree(knife: Knife) -> None:
    """The record with the hostile texts, and the knife's, agree in every form."""
    _agree(record())
    _agree(knife.record)


@given(PRESSES)
def test_the_forms_of_any_record_agree(presses: Presses) -> None:
    """For any presses, no form leaves out or adds anything."""
    _agree(make_record(log_of(presses)))


@given(PRESSES)
def test_the_parts_add_up(presses: Presses) -> None:
    """Hands-on time is the sum of the visits, verdicts match deviations, and tries are numbered."""
    one = make_record(log_of(presses))
    assert one.hands_s == pytest.approx(sum(part.hands_s for part in one.parts))
    for part in one.parts:
        assert part.hands_s == pytest.approx(sum(v.hands_s or 0 for v in part.visits), abs=0.01)
        assert part.sent_back == sum(s.part == part.name for s in one.sent_back)
        seen: Counter[str] = Counter()
        for visit in part.visits:
            seen[visit.step] += 1
            assert visit.repeat == seen[visit.step] - 1
            outside = [
                d for d in one.deviations
                if d.part == part.name and d.what == visit.verdict
                and d.elapsed_s == visit.out_s
            ]  # fmt: skip
            assert bool(outside) == (visit.verdict in ("early", "overrun"))


def test_the_text_has_the_tables_hands_on_time(knife: Knife) -> None:
    """The hands-on time in the text reads back as the table's."""
    for one in (record(), knife.record):
        (line,) = [x for x in FORMS["text"](one).splitlines() if x.startswith("hands-on in all: ")]
        result = line.removeprefix("hands-on in all: ")
        assert parse(result, "time").base == round(one.hands_s)
        assert result == duration(round(one.hands_s))
        assert result in dict(_html_dl(one))["Hands-on"]


def _html_dl(one: Record) -> list[tuple[str, str]]:
    page: Element = html5lib.parse(FORMS["html"](one), namespaceHTMLElements=False)
    names = ["".join(x.itertext()) for x in page.iter("dt")]
    values = ["".join(x.itertext()) for x in page.iter("dd")]
    return list(zip(names, values, strict=True))
