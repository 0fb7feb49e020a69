"""What one run teaches, from its entries."""

from __future__ import annotations

from math import exp

import pytest

from benchtimer.learn.observe import Seen, observed
from benchtimer.run import commands as c
from benchtimer.store.standing import standing
from tests.records.golden import entries_of
from tests.support import MINUTE, SMALL, Hands, small_recipe

SECOND = 1000
BY = "maker"


def _seen(hands: Hands) -> list[Seen]:
    entries = entries_of(hands)
    counted = standing(entries)
    return list(observed(entry.event for entry in entries if entry.seq in counted))


def _of(seen: list[Seen], key: str) -> list[Seen]:
    return [one for one in seen if one.key == key]


def _seconds(seen: list[Seen], key: str) -> list[float]:
    return [round(exp(one.value), 3) for one in _of(seen, key)]


def _bench(text: str = SMALL) -> Hands:
    hands = Hands(names=("bolster",), recipe=small_recipe(text))
    hands(c.Read("tank", "65 C"))
    return hands


def test_work_is_timed() -> None:
    """Work lasts from the first press of a step to its last, for the recipe and for its maker."""
    hands = _bench()
    hands.to_tank(prepare_ms=90 * SECOND)
    seen = _seen(hands)
    assert _seconds(seen, "hands/prepare") == [90]
    [one] = _of(seen, "hands/prepare")
    assert (one.recipe, one.by) == ("small", BY)
    assert [(one.recipe, one.by) for one in _of(seen, "run")] == [("small", BY)]


def test_time_on_hold_is_not_work() -> None:
    """A break in mid-step doesn't count, whether the part or the run was on hold."""
    hands = _bench()
    hands(c.Begin("bolster"))
    hands(c.Hold("bolster", "phone"), 30 * SECOND)
    hands(c.Hold(None, "lunch"), 5 * MINUTE)
    hands(c.Resume(None), 20 * MINUTE)
    hands(c.Resume("bolster"), MINUTE)
    hands(c.Finish("bolster"), 40 * SECOND)
    assert _seconds(_seen(hands), "hands/prepare") == [70]


def test_undone_work_is_not_learned() -> None:
    """An undone press doesn't count; its replacement does."""
    hands = _bench()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), 50 * SECOND)
    hands(c.Undo(), SECOND)
    hands(c.Finish("bolster"), 9 * SECOND)
    assert _seconds(_seen(hands), "hands/prepare") == [60]


def test_a_forgotten_press_is_not_counted_as_work() -> None:
    """Hours in hand count as eight times the recipe's time; two keys at once don't count."""
    hands = _bench()
    hands.to_tank(prepare_ms=3 * 3600 * SECOND)
    assert _seconds(_seen(hands), "hands/prepare") == [480]
    hands = _bench()
    hands.to_tank(prepare_ms=200)
    assert _seconds(_seen(hands), "hands/prepare") == []


def test_answers_are_counted() -> None:
    """Every check is counted, and every unwanted answer by name."""
    hands = _bench()
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False), 10 * SECOND)
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True), 10 * SECOND)
    seen = _seen(hands)
    assert len(_of(seen, "look/look/even")) == 2
    assert len(_of(seen, "answer/look/even/no")) == 1


def test_dwells_are_timed_and_judged() -> None:
    """A dwell teaches its length and whether it was too long or too short."""
    hands = _bench()
    hands.to_tank()
    hands(c.Begin("bolster"), 7 * MINUTE)
    seen = _seen(hands)
    assert _seconds(seen, "dwell/dip") == [pytest.approx(420, abs=15)]
    assert _of(seen, "overrun/dip") == _of(seen, "short/dip") == []
    for minutes, key in ((9, "overrun/dip"), (3, "short/dip")):
        hands = _bench()
        hands.to_tank()
        hands(c.Begin("bolster"), minutes * MINUTE)
        assert len(_of(_seen(hands), key)) == 1


def test_readings_show_the_drift() -> None:
    """Two readings in a row show the drift; simultaneous ones, or ones a night apart, do not."""
    hands = _bench()
    hands(c.Read("tank", "66 C"), 10 * MINUTE)
    hands(c.Read("tank", "60 C"), SECOND)
    hands(c.Read("tank", "64 C"), 9 * 3600 * SECOND)
    [one] = _of(_seen(hands), "drift/tank")
    assert (one.recipe, one.by, one.weight) == ("small", "", 10)
    assert one.value == pytest.approx(1)
