"""How a recipe really goes over many runs."""

from __future__ import annotations

from random import Random
from statistics import median

import pytest

from benchtimer.records.habits import ENOUGH, habits_of, habits_table, habits_text
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from tests.records.golden import entries_of
from tests.support import MINUTE, Hands


def _run(prepare_s: int, dwell_s: int = 300) -> Record:
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), prepare_s * 1000)
    hands(c.Finish("bolster"), 20_000)
    hands(c.Begin("bolster"), dwell_s * 1000)
    hands(c.Abort(), MINUTE)
    return make_record(entries_of(hands))


def test_real_times_stand_beside_the_plan() -> None:
    """Middle time, what one in ten is below and above, overstays; the worst step is named."""
    times = [70, 80, 90, 100, 110]
    habits = habits_of("small", [_run(t, 300 + 50 * i) for i, t in enumerate(times)])
    prepare, dip = habits.steps[0], habits.steps[1]
    assert prepare.hands is not None
    assert (prepare.hands.count, prepare.hands.median_s) == (5, median(times))
    assert (prepare.hands.low_s, prepare.hands.high_s) == pytest.approx((74.0, 106.0))
    assert (dip.overstays, dip.early) == (1, 0)
    assert habits.worst is dip
    assert habits.estimates() == {"prepare": (60, 90)}
    text = habits_text(habits)
    assert '--set prepare.hands="90 s"' in text
    assert "Overstays most: Dip, 1 time" in text
    assert habits_table(habits)["overstays_most"] == "dip"


def test_few_times_give_no_estimate() -> None:
    """Below five times nothing is suggested, neither a time nor a spread."""
    habits = habits_of("small", [_run(90) for _ in range(ENOUGH - 1)])
    assert habits.estimates() == {}
    assert habits.spread is None


def test_the_spread_is_the_planners() -> None:
    """Times drawn from the triangle the planner draws from give its own spread back."""
    draws = Random(7)
    times = [round(600 * draws.triangular(0.7, 1.3, 1)) for _ in range(120)]
    habits = habits_of("small", [_run(t) for t in times])
    steady = habits_of("small", [_run(600) for _ in range(5)])
    assert habits.spread is not None
    # prepare has the spread of the draws, dip none: the mean of both variances.
    assert habits.spread == pytest.approx(0.3 / 2**0.5, rel=0.15)
    assert steady.spread == 0.0


def test_practice_is_no_habit() -> None:
    """Runs at another speed, and parts of other recipes, are left out."""
    practice = _run(90)
    practice.speed = 30
    assert habits_of("small", [practice]).steps == ()
    assert habits_of("other", [_run(90)]).steps == ()
