"""Rows of a record: the words of a step, and search."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.records.record import Visit
from benchtimer.view.record_rows import beside, found, shown_at, step_words, troubles
from benchtimer.view.row import Row

STAY = Visit(
    "dip", "Dip", 0, 60, began_s=600, hands_s=60, station="tank", in_s=660, out_s=1260,
    min_s=240, target_s=300, max_s=480, verdict="within",
)  # fmt: skip


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, "10:00  Dip, 1 min in hand, 10 min in tank"),
        ({"repeat": 2}, "10:00  Dip (repeat 2), 1 min in hand, 10 min in tank"),
        ({"verdict": "overrun"},
         "10:00  Dip, 1 min in hand, 10 min in tank, OVERRUN, wanted 4 min to 8 min"),
        ({"verdict": "early"},
         "10:00  Dip, 1 min in hand, 10 min in tank, CUT SHORT, wanted 4 min to 8 min"),
        ({"verdict": "early", "max_s": None},
         "10:00  Dip, 1 min in hand, 10 min in tank, CUT SHORT, wanted 4 min or more"),
        ({"out_s": None}, "10:00  Dip, 1 min in hand, in tank"),
        ({"in_s": None, "out_s": None}, "10:00  Dip, 1 min in hand"),
        ({"in_s": None, "out_s": None, "hands_s": None}, "10:00  Dip"),
    ],
)  # fmt: skip
def test_a_step_in_words(change: dict[str, object], expected: str) -> None:
    """A step shows when, which try, how long, where, and what was wrong."""
    assert step_words(replace(STAY, **change)) == expected  # type: ignore[arg-type]


ROWS = [Row(("one",)), Row(("Two words", "below")), Row(("",), "trouble"), Row(("two",), "trouble")]


@pytest.mark.parametrize(
    ("words", "at"),
    [("two", [1, 3]), ("TWO  words", [1]), ("words below", [1]), ("", []), ("three", [])],
)
def test_words_are_found_across_line_ends(words: str, at: list[int]) -> None:
    """Search reads a row as a whole and ignores capitals and extra spaces."""
    assert found(ROWS, words) == at
    assert troubles(ROWS) == [2, 3]


@given(st.lists(st.integers(0, 50), min_size=1, unique=True).map(sorted), st.integers(0, 50))
def test_next_and_previous_visit_the_same_places(places: list[int], here: int) -> None:
    """Next is the nearest place below a row, previous the nearest above, and both wrap around."""
    on, back = beside(places, here, 1), beside(places, here, -1)
    assert on == min((p for p in places if p > here), default=places[0])
    assert back == max((p for p in places if p < here), default=places[-1])
    if here in places:
        assert on is not None
        assert beside(places, on, -1) == here


@pytest.mark.parametrize(("at", "first"), [(0, ">ne"), (2, ">")])
def test_the_found_row_is_marked(at: int, first: str) -> None:
    """A mark precedes the found row, even an empty one, and no other row changes."""
    shown = shown_at(ROWS, at)
    assert shown[at].lines[0] == first
    assert shown[at].look == "hit"
    assert [row for i, row in enumerate(shown) if i != at] == [
        r for i, r in enumerate(ROWS) if i != at
    ]
    assert shown_at(ROWS, None) == ROWS
