"""Every log entry in words, and the small figures in it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from benchtimer.quantity import how_many
from benchtimer.records.inert import REPLACEMENT, escaped, visible
from benchtimer.records.markdown import plain
from benchtimer.records.photos import photo_link, photos_in
from benchtimer.records.record import make_record
from benchtimer.records.sentences import Words, sentence
from benchtimer.run import commands as c
from benchtimer.run.codec import event_from
from benchtimer.run.events import KINDS
from benchtimer.times import elapsed
from tests.records.golden import entries_of
from tests.support import Hands, small_recipe

with (Path(__file__).parent / "sentences.toml").open("rb") as _file:
    CASES: list[dict[str, Any]] = tomllib.load(_file)["case"]
WORDS = Words({"small": small_recipe()}, {"bolster": "small"})


@pytest.mark.parametrize("case", CASES, ids=[case["says"] for case in CASES])
def test_an_entry_is_one_sentence(case: dict[str, Any]) -> None:
    """Steps and stations show titles, questions show as asked, and ids only without a title."""
    body = {**case.get("body", {}), **dict.fromkeys(case.get("nothing", ()))}
    event = event_from(case["kind"], body, press=1, t_ms=0, by="maker")
    assert sentence(event, WORDS) == case["says"]


def test_every_kind_has_a_case() -> None:
    """Every kind of event has a case; other tests check the two kinds about the program itself."""
    elsewhere = {"alarm-silenced", "written-late"}
    assert {case["kind"] for case in CASES} == set(KINDS) - elsewhere


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(0, "0:00"), (59.6, "0:59"), (3599.4, "59:59"),
     (3600, "1:00:00"), (90_061, "25:01:01")],
)  # fmt: skip
def test_times_since_the_start_have_hours_minutes_seconds(seconds: float, shown: str) -> None:
    """Durations round down to the second; hours continue past a day."""
    assert elapsed(seconds) == shown


@pytest.mark.parametrize(("number", "words"), [(0, "0 runs"), (1, "1 run"), (2, "2 runs")])
def test_singular_and_plural_are_right(number: int, words: str) -> None:
    """Only one thing is singular."""
    assert how_many(number, "run") == words


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("plain, with\nlines", "plain, with\nlines"),
        ("tab\there", f"tab{REPLACEMENT}here"),
        ("esc\x1b[2J", f"esc{REPLACEMENT}[2J"),
        ("turned\u202eround", f"turned{REPLACEMENT}round"),
        ("刃 é — 🔪", "刃 é — 🔪"),
    ],
)
def test_control_characters_show_as_a_mark(text: str, seen: str) -> None:
    """Letters of any script stay; each control code or direction mark becomes one mark."""
    assert visible(text) == seen


@pytest.mark.parametrize(
    ("char", "json", "toml"),
    [("\x9b", "\\u009b", "\\u009b"), ("\u202e", "\\u202e", "\\u202e"),
     ("\U000e0041", "\\udb40\\udc41", "\\U000e0041"), ("\t", "\t", "\t"), ("刃", "刃", "刃")],
)  # fmt: skip
def test_control_characters_are_escaped_in_files(char: str, json: str, toml: str) -> None:
    """JSON has pairs of four digits, TOML one of eight; harmless letters stay letters."""
    assert escaped(char) == json
    assert escaped(char, long=True) == toml


@pytest.mark.parametrize(
    ("text", "marked"),
    [("a*b*", r"a\*b\*"), ("two\n lines", "two lines"), ("1. x", r"1\. x"), ("刃", "刃"),
     ("<b>|x|", r"\<b\>\|x\|")],
)  # fmt: skip
def test_text_is_not_read_as_markdown(text: str, marked: str) -> None:
    """Every Markdown mark gets a backslash, and a text is one line."""
    assert plain(text) == marked


def test_photos_are_named_by_notes() -> None:
    """Each note line that begins with "photo:" names a photo of a part or of the run."""
    hands = Hands()
    hands(c.Note("photo: a b.jpg\nsome words\n  PHOTO:  c.png  ", "bolster"))
    hands(c.Note("no photo: d.jpg"))
    hands(c.Note("Photo: e.jpg"))
    assert list(photos_in(make_record(entries_of(hands)))) == [
        ("bolster", "a b.jpg"), ("bolster", "c.png"), ("the run", "e.jpg")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("path", "link"),
    [("photos/a b.jpg", "photos/a%20b.jpg"), ("/home/me/c.png", "file:///home/me/c.png"),
     ("photos\\d.jpg", "photos/d.jpg"), ("javascript:alert(1)", "javascript%3Aalert%281%29"),
     ("a>b<c", "a%3Eb%3Cc"), ("//elsewhere/e.jpg", "file:////elsewhere/e.jpg")],
)  # fmt: skip
def test_a_photo_links_to_a_file_and_nothing_else(path: str, link: str) -> None:
    """A photo's link is always a file path, never a script or another machine."""
    assert photo_link(path) == link
