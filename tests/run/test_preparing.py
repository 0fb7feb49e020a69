"""Before the first work: the check marks of the checklist, parts held back."""

from __future__ import annotations

import pytest

from benchtimer.bench.advice import advise
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.run.refusals import Refused
from benchtimer.shop.shop_state import alone
from tests.support import MINUTE, Hands

ITEM = "Stations: Blacking salts"


def _said(hands: Hands) -> str:
    return sentence(hands.events[-1], words_of(hands.state.bench))


def test_a_tick_is_kept_with_its_time_and_words() -> None:
    """A line ticked with words is ready from then on, and the record says so."""
    hands = Hands(started=False)
    hands(c.Prepare(ITEM, said="at 290 F"))
    tick = hands.state.bench.prepared[ITEM]
    assert (tick.t_ms, tick.said) == (hands.now_ms, "at 290 F")
    assert _said(hands) == "prepared: Stations: Blacking salts, at 290 F"


def test_a_tick_can_be_removed_and_set_again() -> None:
    """Removing a tick is its own entry, and undo restores the tick."""
    hands = Hands(started=False)
    hands(c.Prepare(ITEM))
    hands(c.Prepare(ITEM, ready=False))
    assert not hands.state.bench.prepared
    assert _said(hands) == "not ready after all: Stations: Blacking salts"
    hands(c.Undo())
    assert ITEM in hands.state.bench.prepared


def test_an_unticked_line_has_no_tick_to_remove() -> None:
    """Removing a missing tick is refused and changes nothing."""
    hands = Hands(started=False)
    with pytest.raises(Refused, match="it has none"):
        hands(c.Prepare(ITEM, ready=False))


def test_a_part_held_back_is_not_due_before_its_time() -> None:
    """A part held back is due at its time, for the agenda and for the planner."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    until_ms = hands.now_ms + 30 * MINUTE
    hands(c.Postpone("bolster", until_ms))
    bench = hands.state.bench
    first_found = next(a for a in agenda(bench, hands.now_ms) if a.part == "bolster")
    assert first_found.due_ms >= until_ms - 5 * MINUTE  # the tank is read a little earlier
    assert advise(alone(bench), hands.now_ms, nodes=500).begin_ms["bolster"] >= until_ms
    hands(c.Postpone("bolster", None))
    assert advise(alone(hands.state.bench), hands.now_ms, nodes=500).begin_ms["bolster"] < until_ms


def test_a_part_that_has_started_is_not_held_back() -> None:
    """A part that has begun can be held, but not held back."""
    hands = Hands()
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.SendBack("bolster", "prepare"))
    with pytest.raises(Refused, match="has begun"):
        hands(c.Postpone("bolster", hands.now_ms + MINUTE))
