"""Undo, redo and backdating: nothing is erased, and the past stays in order."""

from __future__ import annotations

import pytest

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.run_state import UNDO_DEPTH, PartPhase
from tests.support import MINUTE, SMALL, Hands, kinds, small_recipe


def test_undo_restores_the_bench_and_keeps_the_events() -> None:
    """Undo restores the bench and adds an entry; the log only grows."""
    hands = Hands()
    hands(c.Read("tank", "65 C"))
    before, length = hands.state.bench, len(hands.events)
    hands.to_tank()
    for _ in range(3):
        hands(c.Undo())
    assert hands.state.bench == before
    assert len(hands.events) == length + 5 + 3


def test_undo_then_redo_is_the_identity() -> None:
    """Undo and redo restore the bench exactly."""
    hands = Hands()
    hands.to_tank()
    before = hands.state
    hands(c.Undo())
    hands(c.Redo())
    after = hands.state
    assert (after.bench, after.past, after.future) == (before.bench, before.past, before.future)


def test_a_new_press_clears_redo() -> None:
    """After undo and another press there is nothing to redo."""
    hands = Hands()
    hands(c.Begin("bolster"))
    hands(c.Undo())
    hands(c.Begin("ferrule"))
    with pytest.raises(r.NothingTo, match="redo"):
        hands(c.Redo())


def test_undo_comes_to_an_end() -> None:
    """With no press left, undo is refused with a message."""
    hands = Hands(started=False)
    with pytest.raises(r.NothingTo, match="undo"):
        hands(c.Undo())


def test_undo_reaches_many_presses_back() -> None:
    """At least a hundred presses can be undone."""
    hands = Hands(started=False)
    for number in range(UNDO_DEPTH + 5):
        hands(c.Note(f"note {number}"))
    for _ in range(UNDO_DEPTH):
        hands(c.Undo())
    with pytest.raises(r.NothingTo):
        hands(c.Undo())


def test_back_dating_moves_the_dwell() -> None:
    """The dwell counts from the real loading time."""
    hands = Hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    hands(c.Finish("bolster"), 10 * MINUTE)
    pressed_ms = hands.now_ms
    events = hands(c.BackDate(2 * MINUTE), 5000)
    assert kinds(events) == ["Retimed", "WorkFinished", "PutIn"]
    assert events[0].t_ms == hands.now_ms
    assert hands.part().since_ms == pressed_ms - 2 * MINUTE


def test_back_dating_judges_the_dwell_again() -> None:
    """An overrun from a late press disappears, and the original stays in the log."""
    hands = Hands()
    hands.to_tank()
    assert "Deviated" in kinds(hands(c.Begin("bolster"), 9 * MINUTE))
    events = hands(c.BackDate(2 * MINUTE))
    assert kinds(events) == ["Retimed", "TakenOut", "WorkBegan"]
    lifted = events[1]
    assert isinstance(lifted, e.TakenOut)
    assert lifted.dwelt_ms == 7 * MINUTE
    assert sum(isinstance(x, e.Deviated) for x in hands.events) == 1


def test_back_dating_can_make_a_dwell_too_short() -> None:
    """A pull that was really before min becomes a deviation."""
    hands = Hands()
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    assert "Deviated" in kinds(hands(c.BackDate(2 * MINUTE)))


def test_back_dating_adds_up_in_steps() -> None:
    """Two steps of one minute move a press by two minutes."""
    hands = Hands()
    hands.to_tank()
    hands(c.Begin("bolster"), 6 * MINUTE)
    lifted_ms = hands.now_ms
    hands(c.BackDate(MINUTE))
    hands(c.BackDate(MINUTE))
    assert hands.part().since_ms == lifted_ms - 2 * MINUTE


def test_back_dating_stops_at_what_came_before() -> None:
    """A press can't move before the part's earlier press, and the message gives the limit."""
    hands = Hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    with pytest.raises(r.TimeConflict, match="The limit is 1 min"):
        hands(c.BackDate(2 * MINUTE))


def test_back_dating_stops_at_the_station() -> None:
    """A part can't enter a tank before another one left it."""
    hands = Hands()
    hands.to_tank("bolster")
    hands(c.Begin("ferrule"))
    hands(c.Finish("ferrule"), MINUTE)
    hands(c.TakeOut("bolster"), 5 * MINUTE)
    hands(c.Finish("ferrule"), 30_000)
    with pytest.raises(r.TimeConflict, match="tank"):
        hands(c.BackDate(MINUTE))
    hands(c.BackDate(20_000))


def test_another_part_does_not_limit_back_dating() -> None:
    """Presses of other parts do not limit backdating."""
    hands = Hands()
    hands.to_tank("bolster")
    hands(c.Begin("ferrule"), 6 * MINUTE)
    hands(c.Begin("bolster"), MINUTE)
    hands(c.BackDate(2 * MINUTE))
    assert hands.part().phase is PartPhase.IN_HAND


def test_back_dating_into_the_future_is_refused() -> None:
    """A press can't move later than it was made."""
    hands = Hands()
    hands(c.Begin("bolster"))
    with pytest.raises(r.TimeConflict, match="past"):
        hands(c.BackDate(-5))


def test_back_dating_can_be_undone_and_then_the_press() -> None:
    """The first undo restores the pressed time; the second undoes the press."""
    hands = Hands()
    hands(c.Read("tank", "65 C"))
    before = hands.state.bench
    hands(c.Begin("bolster"), MINUTE)
    pressed = hands.state.bench
    hands(c.BackDate(5000))
    hands(c.BackDate(5000))
    hands(c.Undo())
    assert hands.part().since_ms == pressed.parts["bolster"].since_ms - 5000
    hands(c.Undo())
    assert hands.state.bench == pressed
    hands(c.Undo())
    assert hands.state.bench == before
    for _ in range(3):
        hands(c.Redo())
    assert hands.part().since_ms == pressed.parts["bolster"].since_ms - 10_000


def test_back_dating_stops_at_work_inside_a_station() -> None:
    """Work at a one-place sink can't start before another part's work there ended."""
    at_sink = SMALL.replace('title = "Prepare"\n', 'title = "Prepare"\nat = "sink"\n').replace(
        "[[hazard]]", '[[station]]\nid = "sink"\ntitle = "Sink"\n\n[[hazard]]', 1
    )
    hands = Hands(recipe=small_recipe(at_sink))
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    hands(c.Begin("ferrule"), 10_000)
    with pytest.raises(r.TimeConflict, match="sink"):
        hands(c.BackDate(30_000))


def test_the_end_of_a_run_can_be_taken_back() -> None:
    """Completing a run by mistake can be undone."""
    hands = Hands(names=("bolster",))
    hands(c.Scrap("bolster"))
    hands(c.Complete())
    hands(c.Undo())
    hands(c.Undo())
    assert hands.part().phase is PartPhase.WAITING
