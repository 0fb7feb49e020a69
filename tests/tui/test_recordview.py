"""The record as rows: timeline, account, trouble, search."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.cells import cell_len

from benchtimer.records.record import Record
from benchtimer.records.recorded import RecordedAlarm, RecordedDeviation, RecordedSend
from benchtimer.run import commands as c
from benchtimer.view.record_rows import (
    SLOW_S,
    beside,
    found,
    record_rows,
    shown_at,
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
    """A part with a two-minute overrun, sent back, then scrapped, and a bath too hot."""
    shop.set_up(name, "ferrule")
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


@pytest.mark.parametrize("size", SIZES)
def test_the_record_fits_every_size_and_drops_nothing(shop: Shop, size: tuple[int, int]) -> None:
    """In every size each entry of the account is complete."""
    record = _record(shop, HOSTILE)
    rows = record_rows(record, Size(*size))
    assert all(cell_len(line) <= size[0] for row in rows for line in row.lines)
    solid = "".join(_text(rows).split())
    for line in record.lines:
        assert "".join(line.text.split()) in solid


def test_deviations_are_named_first(shop: Shop) -> None:
    """Above the picture: the overrun with part and step, then scrapped and sent-back parts."""
    rows = record_rows(_record(shop), Size(77, 24))
    first = [rows[at].lines[0] for at in troubles(rows)][:3]
    assert first[0].startswith("!! #1 bolster: OVERRUN by 2 min (Dip, tank)")
    assert first[1].startswith(" ! #1 bolster: scrapped")
    assert first[2].startswith(" ! #1 bolster: sent back to ")


def test_a_key_goes_from_deviation_to_deviation(shop: Shop) -> None:
    """Overrun, failed check, send-back, hot bath and slow alarm are stops, and they wrap."""
    record = _record(shop)
    assert trouble_words(record) == (
        "Trouble: 2 deviations, sent back once, 1 slow answer to an alarm"
    )
    rows = record_rows(record, Size(77, 24))
    places = troubles(rows)
    result = "\n".join(rows[at].lines[0] for at in places)
    for words in (
        "alarm: pull bolster",
        "OVERRUN",
        "Is it even? no",
        "back to",
        "DEVIATION: Tank",
    ):
        assert words in result
    assert all("!" in rows[at].lines[0][:3] for at in places)
    assert beside(places, places[0], 1) == places[1]
    assert beside(places, places[-1], 1) == places[0]
    assert beside(places, places[0], -1) == places[-1]
    assert beside([], 3, 1) is None


def test_search_finds_words_whatever_their_capitals(shop: Shop) -> None:
    """Search finds every row with the words, in any case, and marks the current one."""
    rows = record_rows(_record(shop), Size(77, 24))
    hits = found(rows, "BEADS  [at")
    assert hits
    assert all("beads [at last]" in _text([rows[at]]) for at in hits)
    pointed = shown_at(rows, hits[0])[hits[0]]
    assert pointed.look == "hit"
    assert pointed.lines[0].startswith(">")
    assert found(rows, "no such words") == found(rows, "") == []


def test_undone_entries_stay_in_brackets(shop: Shop) -> None:
    """An undone entry is shown as taken back and is no trouble."""
    text = _text(record_rows(_record(shop), Size(77, 24)))
    assert "[note: a slip] taken back" in text
    assert "prepared: Gear: gloves, the long ones" in text


def test_a_record_without_deviations_says_none(shop: Shop) -> None:
    """A record without trouble says so and has no stops."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    record = shop.driver.record(shop.name)
    assert trouble_words(record) == "Trouble: none"
    assert troubles(record_rows(record, Size(57, 20))) == []


STEPS = """
head  #1 bolster: scrapped, rejected, 1 of 5
plain   0:04  Prepare, 1 min in hand
plain ! 1:04  Dip, 20 s in hand, 10 min in tank, OVERRUN, wanted 4 min to 8 min
plain   11:24  Look, 20 s in hand
plain
head  #2 ferrule: waiting
plain
"""
TABLES = """
 CHECKS
   Mon Feb 2 02:51:44  bolster  Is it even?  answer: no
 READINGS
   Mon Feb 2 02:40:03  tank  reads: 65 C  verdict: in
   Mon Feb 2 02:51:45  tank  reads: 72 C  verdict: high
 SENT BACK
   Mon Feb 2 02:51:44  bolster  to: prepare  why: Is it even? no
 NOTES
   Mon Feb 2 02:51:46  bolster  beads [at last]  by: maker
 ALARMS ANSWERED AFTER MORE THAN 30 S
   Mon Feb 2 02:46:24  pull bolster  answered in: 5 min
   Mon Feb 2 02:50:03  read tank  answered in: 1 min 42 s
"""


def test_every_step_of_a_part_is_listed_and_deviations_marked(shop: Shop) -> None:
    """Below a part's name, outcome and verdict each step is a row, with a bad dwell marked."""
    result = [f"{row.look} {line}".rstrip() for row in record_rows(_record(shop), Size(197, 60))
            for line in row.lines]  # fmt: skip
    at = result.index("head  #1 bolster: scrapped, rejected, 1 of 5")
    assert result[at : at + 7] == STEPS.strip().splitlines()


def test_tables_are_put_into_words(shop: Shop) -> None:
    """A table row lists its cells, with the heading before any that needs one."""
    result = _text(record_rows(_record(shop), Size(117, 40)))
    for line in TABLES.strip("\n").splitlines():
        assert line.strip() in result


@pytest.mark.parametrize(
    ("deviations", "sent_back", "slow", "expected"),
    [
        (1, 0, 0, "1 deviation"),
        (2, 1, 1, "2 deviations, sent back once, 1 slow answer to an alarm"),
        (0, 2, 0, "sent back 2 times"),
        (0, 0, 3, "3 slow answers to alarms"),
        (0, 0, 0, "none"),
    ],
)
def test_deviations_are_counted(
    shop: Shop, deviations: int, sent_back: int, slow: int, expected: str
) -> None:
    """One and several of a kind have their own words; an answer within 30 s is not slow."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    record = shop.driver.record(shop.name)
    pulled = record.parts[0].visits[1].out_s or 0
    quick = RecordedAlarm(
        at="", elapsed_s=pulled - 1, what="pull", who="bolster", answered_s=SLOW_S
    )
    send = RecordedSend(
        at="", elapsed_s=0, part="", from_step="", to_step="", reason="", new_try=False
    )
    deviation = RecordedDeviation(at="", elapsed_s=0, what="stop", limit="", found="")
    wrong = replace(
        record,
        deviations=[deviation] * deviations,
        sent_back=[send] * sent_back,
        alarms=[quick, *[replace(quick, answered_s=SLOW_S + 0.5)] * slow],
    )
    assert trouble_words(wrong) == f"Trouble: {expected}"
