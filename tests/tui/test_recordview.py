"""The record as rows: timeline in characters, account, trouble, search."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from benchtimer.records.record import Record
from benchtimer.run import commands as c
from benchtimer.tui.recordview import (
    beside,
    found,
    record_rows,
    shown_at,
    timeline,
    trouble_words,
    troubles,
)
from benchtimer.tui.rooms import Size
from benchtimer.tui.rows import Row
from tests.support import MINUTE
from tests.tui.conftest import Shop

HOSTILE = "[red]刃🔪" * 25
SIZES = [(57, 20), (77, 24), (117, 40), (197, 60)]


def _record(shop: Shop, name: str = "bolster") -> Record:
    """One part stayed two minutes too long, was sent back, then scrapped; a bath was too hot."""
    shop.lay_out(name, "ferrule")
    shop.to_tank(name)
    shop.press(c.Begin(name), 10 * MINUTE)
    shop.press(c.Answer(name, "even", False), 20_000)
    shop.press(c.Read("tank", "72 C"))
    shop.press(c.Note("beads [at last]", name))
    shop.press(c.Note("a slip"))
    shop.press(c.Undo())
    shop.press(c.Prepare("Gear: gloves", said="the long ones"))
    shop.press(c.Scrap(name, "cracked"))
    shop.press(c.Judge(name, "rejected", 1))
    return shop.driver.record(shop.name)


def _text(rows: list[Row]) -> str:
    return "\n".join(line for row in rows for line in row.lines)


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("size", SIZES)
def test_the_record_fits_every_size_and_loses_nothing(
    shop: Shop, size: tuple[int, int], plain: bool
) -> None:
    """In every size each entry of the account is there to its last word, in ASCII lanes too."""
    record = _record(shop, HOSTILE)
    rows = record_rows(record, Size(*size), plain=plain)
    assert all(cell_len(line) <= size[0] for row in rows for line in row.lines)
    solid = "".join(_text(rows).split())
    for line in record.lines:
        assert "".join(line.text.split()) in solid
    assert timeline(record, size[0], plain=True)[-1].isascii()


def test_the_timeline_marks_what_went_wrong(shop: Shop) -> None:
    """An overstay, a bath out of its window and a part sent back have their marks and words."""
    lines = timeline(_record(shop), 77)
    lane = next(line for line in lines if line.startswith(" 1 bolster"))
    assert "a─" in lane
    assert "!!" in lane
    assert "█" in lane
    assert any(line.startswith(" readings") and line.count("!") == 1 for line in lines)
    assert any(line.startswith(" sent back") and "<" in line for line in lines)
    legend = " ".join(line.strip() for line in lines[-2:])
    assert "a tank" in legend
    assert "! too long or wrong" in legend


def test_trouble_is_found_one_after_the_other(shop: Shop) -> None:
    """Overstay, failed check, send-back, hot bath and slow alarm are stops, round and round."""
    record = _record(shop)
    assert trouble_words(record).startswith("Trouble: 2 deviations, 1 time sent back, 2 slow")
    rows = record_rows(record, Size(77, 24))
    places = troubles(rows)
    told = "\n".join(rows[at].lines[0] for at in places)
    for words in (
        "alarm: lift bolster",
        "OVERSTAY",
        "Is it even? no",
        "back to",
        "DEVIATION: Tank",
    ):
        assert words in told
    assert len(places) == 6
    assert all(rows[at].lines[0].startswith("! ") for at in places)
    assert beside(places, places[0], 1) == places[1]
    assert beside(places, places[-1], 1) == places[0]
    assert beside(places, places[0], -1) == places[-1]
    assert beside([], 3, 1) is None


def test_search_finds_words_whatever_their_capitals(shop: Shop) -> None:
    """Words are found in every row that has them; the place looked at is pointed out."""
    rows = record_rows(_record(shop), Size(77, 24))
    hits = found(rows, "BEADS  [at")
    assert hits
    assert all("beads [at last]" in _text([rows[at]]) for at in hits)
    pointed = shown_at(rows, hits[0])[hits[0]]
    assert pointed.look == "hit"
    assert pointed.lines[0].startswith(">")
    assert found(rows, "no such words") == found(rows, "") == []


def test_what_was_taken_back_stays_in_brackets(shop: Shop) -> None:
    """An entry that was undone is still told, as taken back, and is no trouble."""
    text = _text(record_rows(_record(shop), Size(77, 24)))
    assert "[note: a slip] taken back" in text
    assert "prepared: Gear: gloves, the long ones" in text


def test_a_record_without_trouble_says_none(shop: Shop) -> None:
    """A run in which nothing went wrong says so, and has nothing to jump to."""
    record = shop.lay_out("bolster", started=False).driver.record(shop.name)
    assert trouble_words(record) == "Trouble: none"
    assert troubles(record_rows(record, Size(57, 20))) == []
