"""The stations on the board: what is in them, what they read, when to read again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.recipe.model import Recipe
from benchtimer.run import commands as c
from benchtimer.view.stations import _packed, long_rows, page_rows, station_rows
from tests.support import MINUTE, SMALL, Hands, small_recipe
from tests.tui.benches import FEW, HOUR, benches, dwelling, stamp_at


def _tank(hands: Hands, after_ms: int = 0, width: int = 100) -> str:
    return long_rows(hands.state.bench, stamp_at(hands.now_ms + after_ms), width)[0]


def _said(hands: Hands, after_ms: int = 0) -> str:
    """What is said of the tank's reading."""
    return page_rows(hands.state.bench, stamp_at(hands.now_ms + after_ms))[-2].strip()


@pytest.mark.parametrize(
    ("reading", "told"),
    [
        ("60 C", "60C 0:00 ago (60C to 70C), read in 10:00"),
        ("59.9 C", "59.9C LOW 0:00 ago (60C to 70C), read in 2:00"),
        ("70.1 C", "70.1C HIGH 0:00 ago (60C to 70C), read in 2:00"),
        ("80 C", "80C HIGH 0:00 ago (60C to 70C), read in 2:00"),
        ("80.1 C", "80.1C TOO HOT 0:00 ago (60C to 70C), read in 2:00"),
        ("150 F", "150F 0:00 ago (60C to 70C), read in 10:00"),
    ],
)
def test_a_reading_is_judged_in_words(reading: str, told: str) -> None:
    """In its window a reading is a figure; out of it LOW, HIGH or TOO HOT stands beside it."""
    hands = dwelling()
    hands(c.Read("tank", reading))
    assert _said(hands) == told


@pytest.mark.parametrize(
    ("after_ms", "told"),
    [
        (MINUTE, "1:00 ago (60C to 70C), read in 9:00"),
        (10 * MINUTE - 1, "9:59 ago (60C to 70C), read in 0:01"),
        (10 * MINUTE, "10:00 ago (60C to 70C), READ NOW"),
        (3 * HOUR, "3 h ago (60C to 70C), READ NOW"),
    ],
)
def test_the_next_reading_counts_down_and_then_calls(after_ms: int, told: str) -> None:
    """With a part in it a bath says when to read it, up to READ NOW."""
    hands = dwelling()
    hands(c.Read("tank", "65 C"))
    assert _said(hands, after_ms) == f"65C {told}"


def test_an_empty_bath_is_read_when_a_part_comes() -> None:
    """Never read, or with nothing in it at the time, a bath is to be read before the next part."""
    hands = Hands(names=("bolster",))
    assert _said(hands) == "not read yet (60C to 70C), read before the next part"
    hands(c.Read("tank", "65 C"))
    assert _said(hands, 10 * MINUTE - 1).endswith("read in 0:01")
    assert _said(hands, 10 * MINUTE).endswith("read before the next part")


@pytest.mark.parametrize(
    ("every", "told"),
    [
        ("59 min", ", read in 59:00"),
        ("1 h", ", read at 13:00"),
        ("3 h", ", read at 15:00"),
        ("", ""),
    ],
)
def test_a_reading_hours_ahead_has_a_time_of_day(every: str, told: str) -> None:
    """Seldom readings are told with their time of day; a bath without a rhythm has none."""
    rhythm = f', every = "{every}"' if every else ""
    recipe = small_recipe(SMALL.replace(', every = "10 min"', rhythm))
    hands = Hands(names=("bolster",), recipe=recipe)
    hands(c.Read("tank", "65 C"))
    assert _said(hands) == f"65C 0:00 ago (60C to 70C){told}"


def test_a_station_out_of_service_says_why_and_what_is_still_in_it() -> None:
    """Closed, a station has its reason in place of its reading, and keeps its parts in sight."""
    hands = dwelling()
    hands(c.CloseStation("tank", "it leaks"))
    assert _tank(hands) == "Tank 1/1  OUT OF SERVICE: it leaks  #1 bolster"
    assert page_rows(hands.state.bench, stamp_at(hands.now_ms))[:2] == [
        "Tank   1/1   OUT OF SERVICE: it leaks",
        "    #1 bolster",
    ]
    (row,) = station_rows(hands.state.bench, stamp_at(hands.now_ms), 100, 1)
    assert row.startswith("tank 1/1 OUT OF SERVICE 65C")
    assert row.endswith("   rack 0/4")


def test_the_page_of_stations_has_a_line_for_each_thing() -> None:
    """On a page of its own a station, its parts and its reading stand below one another."""
    hands = dwelling(("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    assert page_rows(hands.state.bench, stamp_at(hands.now_ms)) == [
        "Tank   1/1",
        "    #1 bolster",
        "    65C 0:00 ago (60C to 70C), read in 10:00",
        "Rack   0/4",
    ]


def test_columns_of_the_stations_stand_below_one_another() -> None:
    """Counts begin in one column behind the longest title; parts have a fifth of what is left."""
    long = "A tank with a title that is much too long to be shown"
    hands = Hands(names=("bolster",), recipe=small_recipe(SMALL.replace('"Tank"', f'"{long}"')))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    first, second = long_rows(hands.state.bench, stamp_at(hands.now_ms), 118)
    assert first.index("1/1") == second.index("0/4") == 29
    assert first[:29] == f"{long[:27]}… "
    assert first.index("65C") == 29 + 5 + 18 + 2


def _many(count: int) -> Recipe:
    """A recipe with so many more stations."""
    more = "".join(
        f'[[station]]\nid = "tray-{i}"\ntitle = "Tray {i}"\nholds = {i}\n'
        for i in range(1, count + 1)
    )
    return small_recipe(SMALL.replace("[[hazard]]", f"{more}\n[[hazard]]", 1))


def test_many_stations_share_few_rows_and_the_rest_are_counted() -> None:
    """Side by side in two rows stand baths, then stations with parts; what is left is counted."""
    hands = Hands(names=("bolster",), recipe=_many(12))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    first, second = station_rows(hands.state.bench, stamp_at(hands.now_ms), 60, 2)
    assert first.startswith("tank 1/1 65C 1:21 ago read in 8:39   rack 0/4")
    named = first.count("/") + second.count("/")
    assert second.endswith(f"   +{14 - named} (I)")


@given(st.integers(1, 8), st.integers(30, 200), st.integers(0, 20))
def test_no_station_is_lost_between_the_rows(count: int, width: int, rows: int) -> None:
    """In any width and number of rows each station is either named or counted, once."""
    hands = Hands(names=("bolster",), recipe=_many(count))
    told = station_rows(hands.state.bench, stamp_at(hands.now_ms), width, rows)
    assert len(told) <= rows
    assert all(cell_len(row) <= width for row in told)
    if 0 < rows < count + 2:
        *_, last = told
        left_out = int(last.rpartition("+")[2].removesuffix(" (I)")) if last.endswith("(I)") else 0
        named = sum(row.count("/") for row in told)
        assert named + left_out == count + 2
    else:
        assert len(told) == (count + 2 if rows else 0)


@given(benches(), st.integers(56, 200))
@FEW
def test_what_is_in_a_station_is_told_with_it(hands: Hands, width: int) -> None:
    """Every part in a station is counted there, and named in full on the page of stations."""
    bench = hands.state.bench
    stamp = stamp_at(hands.now_ms)
    page = page_rows(bench, stamp)
    for place, row in zip(bench.places.values(), long_rows(bench, stamp, width), strict=True):
        inside = bench.inside(place.station.id)
        assert f" {len(inside)}/{place.station.holds}" in row
        assert all(any(f"{part.number} {part.name}" in line for line in page) for part in inside)


def test_what_found_no_room_is_said_within_the_width() -> None:
    """A station whose text fills the row gives way to the count of those left out."""
    (row,) = _packed(["x" * 60, "sink 0/3"], 60, 1)
    assert row.endswith("x…   +1 (I)")
    assert len(row) == 60
    assert _packed(["cleaner 0/3", "sink 0/3"], 60, 1) == ["cleaner 0/3   sink 0/3"]
