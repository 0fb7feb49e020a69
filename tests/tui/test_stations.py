"""The stations on the board: parts, readings, and the next reading."""

from __future__ import annotations

import pytest
from hypothesis import given

from benchtimer.run import commands as c
from benchtimer.shop.shop_state import alone
from benchtimer.view.space import Size
from benchtimer.view.stations import page_rows
from tests.support import MINUTE, SMALL, Hands, small_recipe, table
from tests.tui.benches import FEW, HOUR, benches, board_of, dwelling, stamp_at


def _said(hands: Hands, after_ms: int = 0) -> str:
    """The words for the tank's reading."""
    return page_rows(alone(hands.state.bench), stamp_at(hands.now_ms + after_ms))[-2].strip()


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        ("60 C", "60 C 0:00 ago (60 C to 70 C), read in 10 min"),
        ("59.9 C", "59.9 C LOW 0:00 ago (60 C to 70 C), read in 2 min"),
        ("70.1 C", "70.1 C HIGH 0:00 ago (60 C to 70 C), read in 2 min"),
        ("80 C", "80 C HIGH 0:00 ago (60 C to 70 C), read in 2 min"),
        ("80.1 C", "80.1 C TOO HOT 0:00 ago (60 C to 70 C), read in 2 min"),
        ("150 F", "150 F 0:00 ago (60 C to 70 C), read in 10 min"),
    ],
)
def test_a_reading_is_judged_in_words(reading: str, expected: str) -> None:
    """In range a reading is a figure; out of range LOW, HIGH or TOO HOT follows."""
    hands = dwelling()
    hands(c.Read("tank", reading))
    assert _said(hands) == expected


@pytest.mark.parametrize(
    ("after_ms", "expected"),
    [
        (MINUTE, "1:00 ago (60 C to 70 C), read in 9 min"),
        (10 * MINUTE - 1, "9:59 ago (60 C to 70 C), read in 1 s"),
        (10 * MINUTE, "10:00 ago (60 C to 70 C), READ NOW"),
        (3 * HOUR, "3 h ago (60 C to 70 C), READ NOW"),
    ],
)
def test_the_next_reading_counts_down_and_then_rings(after_ms: int, expected: str) -> None:
    """With a part in it a bath counts down to its next reading, then says READ NOW."""
    hands = dwelling()
    hands(c.Read("tank", "65 C"))
    assert _said(hands, after_ms) == f"65 C {expected}"


def test_an_empty_bath_is_read_when_a_part_comes() -> None:
    """An empty or unread bath needs a reading before the next part."""
    hands = Hands(names=("bolster",))
    assert _said(hands) == "not read yet (60 C to 70 C), read before the next part"
    hands(c.Read("tank", "65 C"))
    assert _said(hands, 10 * MINUTE - 1).endswith("read in 1 s")
    assert _said(hands, 10 * MINUTE).endswith("read before the next part")


@pytest.mark.parametrize(
    ("every", "expected"),
    [
        ("59 min", ", read in 59 min"),
        ("1 h", ", read at 13:00"),
        ("3 h", ", read at 15:00"),
        ("", ""),
    ],
)
def test_a_reading_hours_ahead_has_a_time_of_day(every: str, expected: str) -> None:
    """A reading hours ahead shows its time of day; a bath without a rhythm shows none."""
    rhythm = f', every = "{every}"' if every else ""
    recipe = small_recipe(SMALL.replace(', every = "10 min"', rhythm))
    hands = Hands(names=("bolster",), recipe=recipe)
    hands(c.Read("tank", "65 C"))
    assert _said(hands) == f"65 C 0:00 ago (60 C to 70 C){expected}"


def test_a_station_out_of_service_says_why_and_what_is_still_in_it() -> None:
    """A closed station shows its reason in place of its reading, and its parts."""
    hands = dwelling()
    hands(c.CloseStation("tank", "it leaks"))
    assert page_rows(alone(hands.state.bench), stamp_at(hands.now_ms))[:2] == [
        "Tank   1/1   OUT OF SERVICE: it leaks",
        "    #1 bolster",
    ]


def test_the_page_of_stations_has_a_line_for_each_thing() -> None:
    """The page of stations has separate lines for station, parts and reading."""
    hands = dwelling(("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    assert page_rows(alone(hands.state.bench), stamp_at(hands.now_ms)) == [
        "Tank   1/1",
        "    #1 bolster",
        "    65 C 0:00 ago (60 C to 70 C), read in 10 min",
        "Rack   0/4",
    ]


@given(benches())
@FEW
def test_a_station_shows_what_is_in_it(hands: Hands) -> None:
    """The station counts its parts, and the page of stations names them in full."""
    bench = hands.state.bench
    page = page_rows(alone(bench), stamp_at(hands.now_ms))
    for place in bench.places.values():
        inside = bench.inside(place.station.id)
        assert any(f"   {len(inside)}/{place.station.holds}" in row for row in page)
        assert all(any(f"{part.number} {part.name}" in line for line in page) for part in inside)


@given(benches())
@FEW
def test_stations_keep_their_order(hands: Hands) -> None:
    """Stations keep the order of the recipe on page and board."""
    stations = [place.station for place in hands.state.bench.places.values()]
    page = page_rows(alone(hands.state.bench), stamp_at(hands.now_ms))
    heads = [row for row in page if not row.startswith(" ")]
    assert [head.split("   ")[0] for head in heads] == [station.title for station in stations]
    drawn = [place.short for place in board_of(hands, Size(120, 40)).scene.places]
    assert drawn == [name for name in (s.id.upper() for s in stations) if name in drawn]


def test_a_recipe_that_joins_moves_no_station() -> None:
    """The stations of a recipe that joins a run come last."""
    hands = dwelling(("bolster",))
    other = SMALL.replace('"tank"', '"vat"').replace('"Tank"', '"Vat"').replace('"rack"', '"pegs"')
    before = list(hands.state.bench.places)
    table_text = table(small_recipe(other.replace('"Rack"', '"Pegs"')))
    hands(c.AddPart("blade", "other", {**table_text, "id": "other"}))
    after = list(hands.state.bench.places)
    assert after[: len(before)] == before
    assert len(after) > len(before)
