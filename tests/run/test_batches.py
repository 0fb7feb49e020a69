"""A batch: several pieces handled as one part, with a count."""

from __future__ import annotations

import json

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.records.card import sections
from benchtimer.records.export import as_text
from benchtimer.records.forms import FORMS
from benchtimer.records.record import Record, make_record
from benchtimer.rehearsal import rehearse
from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.codec import body_of, event_from, kind_of
from benchtimer.run.decide import Now, create
from benchtimer.run.evolve import fold
from benchtimer.store.log import LogEntry, Stamp
from benchtimer.view.menu import offers
from benchtimer.view.scene_builder import make_scene
from benchtimer.view.scene_places import RunView
from tests.support import Hands, kinds, small_recipe, table

RECIPES = {"small": table(small_recipe())}
STAMP = Stamp(0, None, 1_000_000, 1_770_000_000_000, 0)


def _batch(count: int = 6) -> Hands:
    """A running bench with one wire of pins."""
    hands = Hands(started=False)
    created = create(Now(hands.now_ms), uid="", title="t", recipes=RECIPES,
                     parts=[("pins", "small")], counts={"pins": count})  # fmt: skip
    hands.events = [event_from(kind_of(x), body_of(x), press=0, t_ms=x.t_ms, by=x.by)
                    for x in created]  # fmt: skip
    hands.state = fold(hands.events)
    hands(c.Acknowledge("Hot tank"))
    hands(c.Start())
    return hands


def test_a_batch_takes_one_place_and_one_press() -> None:
    """Six pins on one wire fill the one place in the tank."""
    hands = _batch()
    hands.to_tank("pins")
    assert hands.part("pins").station == "tank"
    assert (hands.part("pins").count, hands.part("pins").called) == (6, "pins x6")


def test_a_scrapped_piece_changes_the_count_and_nothing_else() -> None:
    """Scrapping one piece lowers the count; undo restores it."""
    hands = _batch()
    hands.to_tank("pins")
    before = hands.part("pins")
    assert kinds(hands(c.ScrapSome("pins", 2, "bent"))) == ["SomeScrapped"]
    after = hands.part("pins")
    assert (after.count, after.count_begun, after.called) == (4, 6, "pins x4")
    assert (after.station, after.since_ms) == (before.station, before.since_ms)
    hands(c.Undo())
    assert hands.part("pins") == before


@pytest.mark.parametrize(("number", "words"), [(6, "1 to 5; or scrap all"), (0, "1 to 5")])
def test_you_cannot_scrap_all_or_none_of_a_batch(number: int, words: str) -> None:
    """Scrapping the last piece scraps the part."""
    with pytest.raises(r.Refused, match=words):
        _batch()(c.ScrapSome("pins", number, "bent"))


def test_one_piece_is_not_a_batch() -> None:
    """A part of one piece is scrapped whole, and its name has no count."""
    hands = Hands()
    assert hands.part().called == "bolster"
    with pytest.raises(r.Refused, match="it is one piece"):
        hands(c.ScrapSome("bolster", 1, "bent"))


@pytest.mark.parametrize("count", [0, -1, 1001])
def test_an_unreasonable_count_is_refused(count: int) -> None:
    """A batch needs at least one piece and at most what fits on a wire."""
    with pytest.raises(r.Refused, match="Give 1 to 1000"):
        _batch(count)
    with pytest.raises(r.Refused, match="Give 1 to 1000"):
        Hands()(c.AddPart("pins", "small", count=count))


def test_the_board_shows_the_pieces_and_offers_to_scrap_some() -> None:
    """The lane shows the count, and the menu asks how many to scrap and why."""
    hands = _batch(3)
    bench = hands.state.bench
    (group,) = make_scene([RunView("run-1", bench, ())], STAMP).groups
    assert group.not_begun == "#1 pins x3 waits"
    (some,) = [o for o in offers(bench, hands.part("pins"))[-1].choices if "some" in o.text]
    assert [offer.text for offer in some.choices] == ["1 piece", "2 pieces"]
    assert some.choices[1].with_words is not None
    assert some.choices[1].with_words("bent") == c.ScrapSome("pins", 2, "bent")


def _part_table(record: Record) -> dict[str, object]:
    """The first part of a record, in its JSON form."""
    first: dict[str, object] = json.loads(FORMS["json"](record))["parts"][0]
    return first


def test_records_have_the_count_in_every_form() -> None:
    """Text, table and card show the pieces left, the total, and why some are missing."""
    hands = _batch()
    hands(c.ScrapSome("pins", 1, "bent"))
    entries = [LogEntry(n, "r", event, STAMP) for n, event in enumerate(hands.events, start=1)]
    record = make_record(entries)
    part = _part_table(record)
    assert (part["count"], part["count_left"]) == (6, 5)
    assert "pins, 5 of 6 pieces" in as_text(record)
    rows = next(s.rows for s in sections(record) if s.title == "Pieces scrapped")
    assert rows[0][1:5] == ("pins", "1", "5", "bent")
    assert record.some_scrapped[0].number == 1


def test_a_part_that_is_one_piece_has_no_count_in_its_record() -> None:
    """The record of a part without a count is unchanged."""
    record = rehearse(NewRun("t", RECIPES, [("bolster", "small")]), 1)
    assert "count" not in _part_table(record)
