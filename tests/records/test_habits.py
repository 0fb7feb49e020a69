"""How a recipe really goes over many runs."""

from __future__ import annotations

from math import log, sqrt
from statistics import median, stdev

import pytest

from benchtimer.plan.spread import ENOUGH
from benchtimer.records.habits import habits_of, habits_table, habits_text
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from tests.records.golden import entries_of
from tests.support import MINUTE, SMALL, Hands, small_recipe


def _run(prepare_s: int, dwell_s: int = 300, recipe: str = SMALL) -> Record:
    hands = Hands(names=("bolster",), recipe=small_recipe(recipe))
    hands(c.Read("tank", "65 C"))
    hands.to_tank(prepare_ms=prepare_s * 1000)
    hands(c.Begin("bolster"), dwell_s * 1000)
    hands(c.Abort(), MINUTE)
    return make_record(entries_of(hands))


def test_real_times_stand_beside_the_plan() -> None:
    """Middle time, what one in ten is below and above, overruns; the worst step is named."""
    times = [70, 80, 90, 100, 110]
    habits = habits_of("small", [_run(t, 300 + 50 * i) for i, t in enumerate(times)])
    prepare, dip = habits.steps[0], habits.steps[1]
    assert prepare.hands is not None
    assert (prepare.hands.count, prepare.hands.median_s) == (5, median(times))
    assert (prepare.hands.low_s, prepare.hands.high_s) == pytest.approx((74.0, 106.0))
    assert (dip.overruns, dip.early) == (1, 0)
    assert habits.worst is dip
    assert habits.estimates() == {"prepare": (60, 90)}
    text = habits_text(habits)
    assert '--set prepare.hands="1 min 30 s"' in text
    assert "in hand 1 min 30 s (1 min 10 s .. 1 min 50 s), 5 times; planned 1 min" in text
    assert "Overruns most: Dip, 1 time" in text
    assert habits_table(habits)["overruns_most"] == "dip"


def test_tenths_are_told_from_ten_times_on() -> None:
    """Of ten times the shortest and the longest are left out; of nine they are told."""
    times = [40, 70, 80, 80, 80, 80, 80, 80, 90, 400]
    assert "(1 min 7 s .. 2 min 1 s), 10 times" in habits_text(
        habits_of("small", [_run(t) for t in times])
    )
    nine = habits_text(habits_of("small", [_run(t) for t in times[1:]]))
    assert "(1 min 10 s .. 6 min 40 s), 9 times" in nine


def test_a_median_apart_by_chance_alone_changes_no_recipe() -> None:
    """Five times that vary by half are no reason to plan another time."""
    times = [40, 55, 70, 100, 130]
    assert habits_of("small", [_run(t) for t in times]).estimates() == {}


def test_few_times_give_no_estimate() -> None:
    """Below five times nothing is suggested, neither a time nor a spread."""
    habits = habits_of("small", [_run(90) for _ in range(ENOUGH - 1)])
    assert habits.estimates() == {}
    assert habits.spread is None


def test_the_spread_is_read_back_in_plain_words() -> None:
    """The spread is that of the logarithms, steps pooled, with its count and its error."""
    times = [70, 80, 90, 100, 110]
    habits = habits_of("small", [_run(t) for t in times])
    logs = [log(t) for t in times]
    # prepare varies and dip never does: 4 + 4 degrees of freedom share the squares of one.
    expected = sqrt(4 * stdev(logs) ** 2 / 8)
    assert habits.spread is not None
    assert habits.spread.spread == pytest.approx(expected)
    text = habits_text(habits)
    assert f"--spread {expected:.2f}" in text
    assert "two times in three between 12% shorter and 13% longer" in text
    assert f"from 10 times, give or take {2 * expected / sqrt(16):.2f}" in text
    assert habits_table(habits)["spread"] == round(expected, 3)


def test_a_changed_recipe_time_is_no_spread() -> None:
    """Steady times of 60 s and, after a change of the recipe, of 120 s have a spread of 0."""
    slower = SMALL.replace('hands = "60 s"', 'hands = "120 s"')
    runs = [_run(60) for _ in range(5)] + [_run(120, recipe=slower) for _ in range(5)]
    spread = habits_of("small", runs).spread
    assert spread is not None
    assert spread.spread == 0


def test_practice_is_no_habit() -> None:
    """Runs at another speed, and parts of other recipes, are left out."""
    practice = _run(90)
    practice.speed = 30
    assert habits_of("small", [practice]).steps == ()
    assert habits_of("other", [_run(90)]).steps == ()
