"""The record as rows: timeline in characters, account, trouble, search."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.cells import cell_len

from benchtimer.records.record import Record
from benchtimer.records.recorded import RecordedAlarm, RecordedDeviation, RecordedSend
from benchtimer.run import commands as c
from benchtimer.view.record import (
    beside,
    found,
    record_rows,
    shown_at,
    timeline,
    trouble_words,
    troubles,
)
from benchtimer.view.row import Row
from benchtimer.view.space import Size
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
    """An overrun, a bath out of its window and a part sent back have their marks and words."""
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
    """Overrun, failed check, send-back, hot bath and slow alarm are stops, round and round."""
    record = _record(shop)
    assert trouble_words(record).startswith("Trouble: 2 deviations, 1 time sent back, 2 slow")
    rows = record_rows(record, Size(77, 24))
    places = troubles(rows)
    told = "\n".join(rows[at].lines[0] for at in places)
    for words in (
        "alarm: pull bolster",
        "OVERRUN",
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


STEPS = """
head  1 bolster: scrapped, rejected, 1 of 5
plain   0:00:04  Prepare, 1 min in hand
plain ! 0:01:04  Dip, 20 s in hand, 10 min in tank, OVERRUN, wanted 4 min to 8 min
plain   0:11:24  Look, 20 s in hand
plain
head  2 ferrule: waiting
plain
"""
TABLES = """
 CHECKS
   02-02 02:51:44  bolster  Is it even?  answer: no
 READINGS
   02-02 02:40:03  tank  reads: 65 C  verdict: in
   02-02 02:51:45  tank  reads: 72 C  verdict: high
 SENT BACK
   02-02 02:51:44  bolster  to: prepare  why: Is it even? no
 NOTES
   02-02 02:51:46  bolster  beads [at last]  by: maker
 ALARMS ANSWERED AFTER MORE THAN 30 S
   02-02 02:46:24  pull bolster  answered in: 5 min
   02-02 02:50:03  read tank  answered in: 102 s
"""


def test_every_step_of_a_part_is_told_and_trouble_marked(shop: Shop) -> None:
    """Below its name with outcome and verdict each step of a part is a row, a wrong stay marked."""
    told = [f"{row.look} {line}".rstrip() for row in record_rows(_record(shop), Size(197, 60))
            for line in row.lines]  # fmt: skip
    at = told.index("head  1 bolster: scrapped, rejected, 1 of 5")
    assert told[at : at + 7] == STEPS.strip().splitlines()


def test_tables_are_told_in_words(shop: Shop) -> None:
    """Each row of a table has its cells, with the heading before what does not speak for itself."""
    told = _text(record_rows(_record(shop), Size(117, 40)))
    for line in TABLES.strip("\n").splitlines():
        assert line.strip() in told


@pytest.mark.parametrize(
    ("deviations", "sent_back", "slow", "told"),
    [
        (1, 0, 0, "1 deviation"),
        (2, 1, 1, "2 deviations, 1 time sent back, 1 slow answer to an alarm"),
        (0, 2, 0, "2 times sent back"),
        (0, 0, 3, "3 slow answers to alarms"),
        (0, 0, 0, "none"),
    ],
)
def test_trouble_is_counted(
    shop: Shop, deviations: int, sent_back: int, slow: int, told: str
) -> None:
    """One and several of each kind have their own words; an answer within 30 s is not slow."""
    record = shop.lay_out("bolster", started=False).driver.record(shop.name)
    quick = RecordedAlarm(at="", elapsed_s=0, what="pull", who="bolster", answered_s=30.0)
    send = RecordedSend(
        at="", elapsed_s=0, part="", from_step="", to_step="", reason="", new_try=False
    )
    deviation = RecordedDeviation(at="", elapsed_s=0, what="stop", limit="", found="")
    wrong = replace(
        record,
        deviations=[deviation] * deviations,
        sent_back=[send] * sent_back,
        alarms=[quick, *[replace(quick, answered_s=30.5)] * slow],
    )
    assert trouble_words(wrong) == f"Trouble: {told}"
