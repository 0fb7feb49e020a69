"""The window of a dwell, and the target that you move inside it."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.advice import problem_now
from benchtimer.run import commands as c
from benchtimer.run.agenda import action_for
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import DwellWindow, window_of
from benchtimer.shop.shop_state import alone
from tests.support import MINUTE, Hands


def _dwelling() -> Hands:
    """The bolster has just gone into the tank: 4 to 8 min, target 5 min."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("bolster")
    return hands


def _window(hands: Hands) -> DwellWindow:
    window = window_of(hands.state.bench, hands.part())
    assert window is not None
    return window


@given(st.lists(st.sampled_from([-600, -60, -1, 1, 60, 90, 600]), max_size=12))
def test_a_target_never_leaves_its_window(moves: list[int]) -> None:
    """After any presses min <= target <= max, and min and max are unchanged."""
    hands = _dwelling()
    before = _window(hands)
    for by_s in moves:
        with suppress(Refused):
            hands(c.MoveTarget("bolster", by_s))
        window = _window(hands)
        assert before.min_s <= window.target_s <= (before.max_s or 0)
        assert (window.since_ms, window.min_s, window.max_s) == (
            before.since_ms, before.min_s, before.max_s
        )  # fmt: skip


def test_the_next_pull_and_the_plan_follow_the_target() -> None:
    """The agenda, the planner's problem and the window give the same moment."""
    hands = _dwelling()
    hands(c.MoveTarget("bolster", 60))
    action = action_for(hands.state.bench, hands.part(), hands.now_ms)
    assert action is not None
    assert action.due_ms == _window(hands).target_ms == hands.part().since_ms + 6 * MINUTE
    (part,) = problem_now(alone(hands.state.bench), hands.now_ms).parts
    assert part.route.dwells[part.moves_made - 1].target_s == 360


def test_undo_restores_the_target() -> None:
    """Undo restores a moved target, and redo moves it again."""
    hands = _dwelling()
    hands(c.MoveTarget("bolster", 60))
    hands(c.Undo())
    assert _window(hands).target_s == 300
    hands(c.Redo())
    assert _window(hands).target_s == 360


def test_a_part_put_back_keeps_its_target_and_a_new_pass_uses_the_recipes() -> None:
    """The target belongs to one dwell, even across a pull by mistake."""
    hands = _dwelling()
    hands(c.MoveTarget("bolster", 60))
    hands(c.TakeOut("bolster"))
    hands(c.PutBack("bolster"))
    assert _window(hands).target_s == 360
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False))
    hands.to_tank("bolster")
    assert _window(hands).target_s == 300


@pytest.mark.parametrize(("by_s", "target_s"), [(120, 420), (-30, 270)])
def test_a_target_moves_by_the_time_you_ask_for(by_s: int, target_s: int) -> None:
    """The target moves later and sooner, in seconds."""
    hands = _dwelling()
    hands(c.MoveTarget("bolster", by_s))
    assert _window(hands).target_s == target_s
