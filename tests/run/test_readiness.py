"""Baths that drift, heat up, cool down and get a make-up."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress

from benchtimer.quantity import Quantity, parse
from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.readiness import (
    SLOWEST_C_PER_MIN,
    drift,
    make_up_due_ms,
    not_ready,
    ready_at_ms,
)
from benchtimer.run.run_state import Place, StationReading
from tests.support import MINUTE, SMALL, Hands, kinds, small_recipe

SALTS = SMALL.replace(
    'every = "10 min" }',
    'every = "10 min" }\nheat_up = "45 min"\n'
    'make_up = { after = "40 min", cool = "30 min", hands = "5 min", text = "A little water." }',
)
STATION = small_recipe().station[0]


def place(*readings: tuple[int, float]) -> Place:
    """The small recipe's tank (60 to 70 C) with readings, as minutes and degrees."""
    return Place(
        STATION,
        readings=tuple(
            StationReading(Quantity(value, "C"), minute * MINUTE, "in")
            for minute, value in readings
        ),
    )


def test_three_readings_say_when_a_limit_is_reached() -> None:
    """From 62, 64 and 66 C, ten minutes apart, 70 C comes twenty minutes after the last."""
    found = drift(place((0, 62), (10, 64), (20, 66)))
    assert found is not None
    assert (found.limit, found.at_ms) == ("max", 40 * MINUTE)
    assert found.c_per_min == pytest.approx(0.2)


@pytest.mark.parametrize(
    "readings", [(), ((0, 62),), ((0, 62), (10, 64)), ((0, 65), (10, 65), (20, 65))]
)
def test_two_readings_or_a_steady_bath_have_no_trend(
    readings: tuple[tuple[int, float], ...],
) -> None:
    """Two readings or a steady bath give no trend."""
    assert drift(place(*readings)) is None


@given(st.sets(st.integers(0, 600), min_size=3, max_size=24))
def test_a_bath_that_stays_at_its_limit_has_no_trend(minutes: set[int]) -> None:
    """Salts read at exactly 285 F all day have no slope, despite rounding."""
    low = parse("285 F").base
    window = STATION.temperature
    assert window is not None
    at_low = window.model_copy(update={"min": Quantity(low, "C"), "max": Quantity(150, "C")})
    bath = place(*((minute, low) for minute in sorted(minutes)))
    assert drift(replace(bath, station=STATION.model_copy(update={"temperature": at_low}))) is None


def test_a_bath_that_cools_reaches_its_lower_limit() -> None:
    """A cooling bath reaches min."""
    found = drift(place((0, 66), (10, 64), (20, 62)))
    assert found is not None
    assert (found.limit, found.at_ms) == ("min", 30 * MINUTE)


@given(
    st.lists(
        st.tuples(st.integers(0, 600), st.floats(60, 70)), min_size=3, max_size=12,
        unique_by=lambda row: row[0],
    )
)  # fmt: skip
def test_the_trend_is_the_line_of_least_squares(readings: list[tuple[int, float]]) -> None:
    """Slope and time to the limit match scipy's linear regression."""
    readings.sort()
    found = drift(place(*readings))
    line = linregress([m for m, _ in readings], [v for _, v in readings])
    if found is None:
        assert abs(line.slope) < SLOWEST_C_PER_MIN * 1.001
        return
    assert found.c_per_min == pytest.approx(line.slope, rel=1e-6, abs=1e-9)
    limit = 70 if line.slope > 0 else 60
    at_min = max((limit - line.intercept) / line.slope, readings[-1][0])
    assert found.at_ms == pytest.approx(at_min * MINUTE, rel=1e-6, abs=1)


def test_a_reading_expires_when_its_trend_reaches_the_limit() -> None:
    """Salts that leave their range in four minutes have a reading good for four, not ten."""
    hands = Hands(reads=False)
    for text in ("66 C", "67 C", "69 C"):
        hands(c.Read("tank", text), 3 * MINUTE)
    hands(c.Begin("bolster"), MINUTE)
    with pytest.raises(r.ReadingFirst, match="too old"):
        hands(c.Begin("ferrule"), 3 * MINUTE)


def test_a_heating_bath_takes_no_part_until_it_reads_in_range() -> None:
    """The reading is asked for when the recipe says the bath should be hot."""
    hands = Hands(("bolster",), small_recipe(SALTS), reads=False)
    hands(c.Heat("tank"))
    tank = hands.state.bench.places["tank"]
    assert (not_ready(tank), ready_at_ms(tank)) == ("is heating up", hands.now_ms + 45 * MINUTE)
    reads = next(a for a in agenda(hands.state.bench, hands.now_ms) if a.kind is ActionKind.READING)
    assert reads.due_ms == hands.now_ms + 45 * MINUTE
    hands(c.Read("tank", "55 C"), 45 * MINUTE)
    assert not_ready(hands.state.bench.places["tank"]) == "is heating up"
    hands(c.Read("tank", "62 C"), 5 * MINUTE)
    assert not_ready(hands.state.bench.places["tank"]) is None
    assert "WorkBegan" in kinds(hands(c.Begin("bolster")))


def test_a_make_up_closes_the_bath_and_forgets_its_readings() -> None:
    """A make-up is cool, work, heat, read: until then nothing goes in and the trend is gone."""
    hands = Hands(("bolster",), small_recipe(SALTS), reads=False)
    hands(c.Read("tank", "65 C"))
    due_ms = make_up_due_ms(hands.state.bench.places["tank"])
    assert due_ms == hands.now_ms + 40 * MINUTE
    hands(c.BeginMakeUp("tank"), 40 * MINUTE)
    began_ms = hands.now_ms
    tank = hands.state.bench.places["tank"]
    assert not_ready(tank) == "is cooling for its make-up"
    assert ready_at_ms(tank) == began_ms + (30 + 5 + 45) * MINUTE
    work = next(a for a in agenda(hands.state.bench, began_ms) if a.kind is ActionKind.MAKE_UP)
    assert (work.due_ms, work.move_s) == (began_ms + 30 * MINUTE, 300)
    with pytest.raises(r.Refused):
        hands(c.Begin("bolster"))
    hands(c.EndMakeUp("tank"), 35 * MINUTE)
    tank = hands.state.bench.places["tank"]
    assert (tank.readings, not_ready(tank)) == ((), "is heating up")
    hands(c.Read("tank", "66 C"), 45 * MINUTE)
    assert make_up_due_ms(hands.state.bench.places["tank"]) == hands.now_ms + 40 * MINUTE


def test_no_make_up_begins_while_parts_are_in_the_bath() -> None:
    """Parts are pulled before a make-up begins, since the bath cools."""
    hands = Hands(("bolster",), small_recipe(SALTS))
    hands.to_tank()
    with pytest.raises(r.BadValue, match="bolster is in it"):
        hands(c.BeginMakeUp("tank"))
    waits = [a for a in agenda(hands.state.bench, hands.now_ms) if a.kind is ActionKind.MAKE_UP]
    assert [a.blocked for a in waits] == ["parts in it: bolster"]


def test_undo_restores_a_bath() -> None:
    """Heat and make-up can be undone."""
    hands = Hands(("bolster",), small_recipe(SALTS))
    hands(c.Read("tank", "65 C"))
    before = hands.state.bench.places
    for command in (c.Heat("tank"), c.BeginMakeUp("tank"), c.SkipReading("tank", "by eye")):
        hands(command)
        assert hands.state.bench.places != before
        hands(c.Undo())
        assert replace(hands.state.bench).places == before
