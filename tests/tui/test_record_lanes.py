"""A record drawn in characters: where stays, work and trouble stand, and what steps say."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.plan.draw import FINE, PLAIN, Scale
from benchtimer.records.record import PartRecord, Visit
from benchtimer.view.record import beside, found, lane, shown_at, step_words, troubles
from benchtimer.view.row import Row

MINUTELY = Scale(0, 3600, 60)
"""A column for each minute of an hour."""

LETTERS = {"tank": "a", "rack": "b"}
STAY = Visit(
    "dip", "Dip", 0, 60, began_s=600, hands_s=60, station="tank", in_s=660, out_s=1260,
    min_s=240, target_s=300, max_s=480, verdict="within",
)  # fmt: skip


def _lane(*visits: Visit, plain: bool = False) -> str:
    part = PartRecord("bolster", 1, "small", "done", visits=list(visits))
    return lane(part, MINUTELY, LETTERS, PLAIN if plain else FINE)


def _drawn(lane: str) -> tuple[int, str]:
    """Where a lane begins, and what is drawn."""
    return len(lane) - len(lane.lstrip()), lane.strip()


def test_a_stay_is_a_line_with_its_stations_letter() -> None:
    """Work is a block, the stay behind it a line from lift-in to lift-out with a letter."""
    assert _drawn(_lane(STAY)) == (10, "█─a─────────")
    assert _drawn(_lane(STAY, plain=True)) == (10, "#-a---------")


def test_an_overrun_is_marked_from_the_minute_it_began() -> None:
    """Past the end of its window the line turns into marks, to the minute of the lift."""
    assert _drawn(_lane(replace(STAY, verdict="overrun"))) == (10, "█─a──────!!!")


@pytest.mark.parametrize(("out_s", "drawn"), [(1200, "█─a───────!"), (680, "█!"), (661, "█!")])
def test_even_a_short_overrun_shows(out_s: int, drawn: str) -> None:
    """However little too long, at least one mark stands in the lane."""
    late = replace(STAY, verdict="overrun", out_s=out_s, max_s=out_s - 661)
    told = _lane(late).strip()
    assert "!" in told
    assert len(told) == len(drawn)


def test_a_stay_too_short_ends_in_a_mark() -> None:
    """Lifted before its least time, a stay has an arrow back at its end."""
    assert _drawn(_lane(replace(STAY, verdict="early", out_s=840))) == (10, "█─a─<")


def test_what_is_still_in_its_station_has_no_end() -> None:
    """A part that has not been lifted yet stays up to the last column."""
    assert _drawn(_lane(replace(STAY, out_s=None, verdict=None))) == (10, "█─a" + "─" * 47)


def test_work_alone_is_as_long_as_it_took() -> None:
    """Work that ends in no station is blocks; work that was never ended shows nothing."""
    work = replace(STAY, station=None, in_s=None, out_s=None, verdict=None, hands_s=180.0)
    assert _drawn(_lane(work)) == (10, "███")
    assert _drawn(_lane(replace(work, hands_s=0))) == (10, "█")
    assert _lane(replace(work, hands_s=None)).strip() == ""
    assert _lane(replace(work, began_s=None)).strip() == ""


def test_work_does_not_hide_what_went_wrong() -> None:
    """Where the next work begins in the minute of an overrun, the mark stays."""
    late = replace(STAY, verdict="overrun")
    following = replace(STAY, began_s=1260, hands_s=120, station=None, in_s=None, out_s=None)
    assert _drawn(_lane(late, following))[1] == "█─a──────!!!█"


@given(
    st.lists(
        st.builds(
            lambda began, hands, dwell, verdict: replace(
                STAY, began_s=began, hands_s=hands, in_s=began + hands,
                out_s=began + hands + dwell, verdict=verdict, max_s=max(0, dwell - 1)),
            st.integers(0, 3000), st.integers(0, 600), st.integers(0, 4000),
            st.sampled_from(["within", "early", "overrun"]),
        ),
        max_size=6,
    )
)  # fmt: skip
def test_trouble_is_never_drawn_over(visits: list[Visit]) -> None:
    """Any visits make a lane of full width; the last one's trouble is in it."""
    told = _lane(*visits)
    assert len(told) == MINUTELY.columns
    assert set(told) <= set(" █─ab!<")
    for mark, verdict in (("!", "overrun"), ("<", "early")):
        assert mark not in told or any(visit.verdict == verdict for visit in visits)
        assert mark in told or not (visits and visits[-1].verdict == verdict)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, "10:00  Dip, 1 min in hand, 10 min in tank"),
        ({"repeat": 1}, "10:00  Dip (repeat 1), 1 min in hand, 10 min in tank"),
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
def test_a_step_in_words(change: dict[str, object], told: str) -> None:
    """A pass through a step says when, which try, how long, where, and what was wrong."""
    assert step_words(replace(STAY, **change)) == told  # type: ignore[arg-type]


ROWS = [Row(("one",)), Row(("Two words", "below")), Row(("",), "trouble"), Row(("two",), "trouble")]


@pytest.mark.parametrize(
    ("words", "at"),
    [("two", [1, 3]), ("TWO  words", [1]), ("words below", [1]), ("", []), ("three", [])],
)
def test_words_are_found_over_the_ends_of_lines(words: str, at: list[int]) -> None:
    """Search looks at a row as a whole, whatever the capitals and however many spaces."""
    assert found(ROWS, words) == at
    assert troubles(ROWS) == [2, 3]


@given(st.lists(st.integers(0, 50), min_size=1, unique=True).map(sorted), st.integers(0, 50))
def test_going_on_and_going_back_meet(places: list[int], here: int) -> None:
    """From any row the next place is behind it and the last one before it, round and round."""
    on, back = beside(places, here, 1), beside(places, here, -1)
    assert on == min((p for p in places if p > here), default=places[0])
    assert back == max((p for p in places if p < here), default=places[-1])
    if here in places:
        assert on is not None
        assert beside(places, on, -1) == here


@pytest.mark.parametrize(("at", "first"), [(0, ">ne"), (2, ">")])
def test_the_row_that_was_found_is_pointed_at(at: int, first: str) -> None:
    """A mark stands before the row, whether it has words or not, and no other row changes."""
    told = shown_at(ROWS, at)
    assert told[at].lines[0] == first
    assert told[at].look == "hit"
    assert [row for i, row in enumerate(told) if i != at] == [
        r for i, r in enumerate(ROWS) if i != at
    ]
    assert shown_at(ROWS, None) == ROWS
