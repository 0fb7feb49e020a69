"""The forms of a record: golden files, round trips, and harmless texts."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from dataclasses import fields, replace
from html.parser import HTMLParser

import html5lib
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from benchtimer.records.csvfile import COLUMNS, FORMULA, inert
from benchtimer.records.export import as_json, as_toml
from benchtimer.records.forms import FORMS
from benchtimer.records.inert import escaped, visible
from benchtimer.records.record import FORMAT, make_record
from tests.records.conftest import Knife
from tests.records.golden import HOSTILE, entries_of, path, record
from tests.run.test_laws import PRESSES, _played

RECORD = record()

PHOTOS = {"photos/petty%20knife.jpg", "photos/petty-knife-left.jpg"}
"""The photos of these records, as links."""


@pytest.mark.parametrize("form", FORMS)
def test_each_form_matches_the_saved_one(form: str) -> None:
    """Each form of one record is, byte for byte, its golden file."""
    assert FORMS[form](RECORD).encode() == path(form).read_bytes()


def test_toml_and_json_hold_the_whole_record(knife: Knife) -> None:
    """TOML and JSON agree and have every entry of the record."""
    for one in (RECORD, knife.record):
        found = json.loads(as_json(one))
        assert tomllib.loads(as_toml(one)) == found
        assert found["format"] == FORMAT
        for field in fields(one):
            assert bool(found.get(field.name)) == bool(getattr(one, field.name)), field.name
        assert [note["text"] for note in found["notes"]] == [note.text for note in one.notes]


@given(PRESSES)
def test_toml_and_json_of_any_run_agree(presses: object) -> None:
    """For any presses, both forms read back to the same tables."""
    one = make_record(entries_of(_played(presses)))  # type: ignore[arg-type]
    assert tomllib.loads(as_toml(one)) == json.loads(as_json(one))


def _csv_rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(FORMS["csv"](RECORD), newline="")))


def test_the_csv_follows_the_standard() -> None:
    """RFC 4180: a header, CR LF at each line's end, the same number of fields in every row."""
    text = FORMS["csv"](RECORD)
    assert text.endswith("\r\n")
    outside_quotes = "".join(text.split('"')[::2])
    assert outside_quotes.count("\n") == outside_quotes.count("\r\n")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert tuple(rows[0]) == COLUMNS
    assert {len(row) for row in rows} == {len(COLUMNS)}
    dips = [r for r in _csv_rows() if r["kind"] == "step" and r["step"] == "dip"]
    assert [float(r["dwell_s"]) for r in dips] == [540.0, 150.0]
    assert [r["verdict"] for r in dips] == ["overrun", "early"]


def test_a_spreadsheet_computes_nothing() -> None:
    """No cell of the CSV is a formula in a spreadsheet, while the raw texts would be."""
    sheet = openpyxl.Workbook().active
    assert sheet is not None
    for row in _csv_rows():
        sheet.append(list(row.values()))
    assert {cell.data_type for row in sheet for cell in row} <= {"s", "n"}
    sheet.append(["=1+1"])
    assert sheet.cell(sheet.max_row, 1).data_type == "f"
    for row in _csv_rows():
        assert not any(value.lstrip().startswith(FORMULA) for value in row.values())


def test_numbers_stay_numbers() -> None:
    """Only text is marked; a negative number stays a number."""
    assert inert(-3) == -3
    assert inert(" =1") == "' =1"
    assert inert("black") == "black"


class _Tags(HTMLParser):
    """Every tag with its attributes, and the text outside the style."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.said: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def test_the_page_is_valid_html_without_script(knife: Knife) -> None:
    """A strict HTML parser finds no error, and the page has no script, handler or external file."""
    for one in (RECORD, knife.record):
        text = FORMS["html"](one)
        html5lib.HTMLParser(strict=True).parse(text)
        tags = _Tags(text).tags
        assert not {tag for tag, _ in tags} & {
            "script",
            "img",
            "link",
            "iframe",
            "object",
            "b",
        }
        links = [attributes for tag, attributes in tags if tag == "a"]
        assert all(link.keys() == {"href"} for link in links)
        assert {link["href"] for link in links} <= PHOTOS
        names = {name for tag, attributes in tags if tag != "a" for name in attributes}
        assert not any(name.startswith("on") or name in ("src", "href") for name in names)
        assert "url(" not in text


def test_the_timeline_has_a_lane_for_each_part(knife: Knife) -> None:
    """Every finished stay is a bar, and overruns have a mark besides color."""
    tags = _Tags(FORMS["html"](knife.record)).tags
    stays = sum(v.in_s is not None for p in knife.record.parts for v in p.visits)
    assert (
        sum((a.get("class") or "").startswith("stay") for tag, a in tags if tag == "rect") == stays
    )
    assert sum(a.get("class") == "mark" for tag, a in tags if tag == "text") == 0
    marks = [a for tag, a in _Tags(FORMS["html"](RECORD)).tags if a.get("class") == "mark"]
    assert len(marks) == 2


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_text_is_only_text(hostile: str) -> None:
    """Each text on the page and in Markdown comes out as typed and does nothing."""
    page = " ".join("".join(_Tags(FORMS["html"](RECORD)).said).split())
    words = " ".join(hostile.split())
    assert words in page
    tokens = MarkdownIt("commonmark").enable("table").parse(FORMS["markdown"](RECORD))
    inline = [child for token in tokens for child in token.children or ()]
    kinds = {token.type for token in [*tokens, *inline]}
    assert not kinds & {"html_block", "html_inline", "image", "code_inline", "fence"}
    assert {token.attrs["href"] for token in inline if token.type == "link_open"} <= PHOTOS
    said = "".join(child.content for child in inline if child.type.startswith("text"))
    assert words in said


CONTROL = "a\x1b]0;x\x07b\x9bc\u202ed\x00e\U000e0041"


def test_foreign_control_codes_never_reach_a_screen() -> None:
    """No form prints a control code, even from a foreign log."""
    one = record()
    one.title = CONTROL
    one.parts[0].name = CONTROL
    one.notes[0] = replace(one.notes[0], text=CONTROL)
    for form, make in FORMS.items():
        text = make(one)
        assert not set(text) & set("\x1b\x07\x9b\u202e\x00\U000e0041"), form
    assert tomllib.loads(as_toml(one))["title"] == CONTROL
    assert json.loads(as_json(one))["title"] == CONTROL
    html5lib.HTMLParser(strict=True).parse(FORMS["html"](one))


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_visible_and_escaped_keep_what_is_harmless(text: str) -> None:
    """Escaped JSON reads the same, and visible text keeps its length."""
    assert json.loads(escaped(json.dumps(text, ensure_ascii=False))) == text
    assert len(visible(text)) == len(text)
