"""The trouble lines: what is wrong, its limit, and what to do first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.bench.moment import Moment, moment_of
from benchtimer.bench.plans import Advice
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.shop.shop_state import shop_of
from benchtimer.view.picture.scene import Level
from benchtimer.view.trouble import MOST, trouble_lines
from tests.support import MINUTE, Hands
from tests.tui.benches import dwelling, stamp_at


def moment_at(hands: Hands) -> Moment:
    """The bench of these hands now."""
    return moment_of(stamp_at(hands.now_ms), shop_of({"2026-02-02-1": hands.state}))


def test_a_calm_bench_has_no_trouble_lines() -> None:
    """Parts in their windows and baths in range have no line."""
    assert trouble_lines(moment_at(dwelling())) == ()


@pytest.mark.parametrize(
    ("reads", "words"),
    [("75 C", "75 C, too hot, max 70 C"), ("55 C", "55 C, too cool, min 60 C")],
)
def test_a_bath_out_of_range_names_its_limit_and_what_is_in_it(reads: str, words: str) -> None:
    """A bath out of range is the worst kind with a part in it, and a warning without."""
    hands = dwelling()
    hands(c.Read("tank", reads))
    ((level, text),) = trouble_lines(moment_at(hands))
    assert level is Level.LATE
    assert words in text
    assert "bolster in it" in text
    empty = Hands(names=("bolster",))
    empty(c.Read("tank", reads))
    ((level, text),) = trouble_lines(moment_at(empty))
    assert level is Level.NOW
    assert "in it" not in text


def _tight(apart_ms: int, left_ms: int) -> list[str]:
    """Two pulls: the first window ends this far from now, the second this much later."""
    moment = moment_at(dwelling(("bolster", "ferrule")))
    first_ms = moment.now_ms + left_ms
    ends = {"bolster": first_ms, "ferrule": first_ms + apart_ms}
    made = [
        Action(
            ActionKind.BEGIN, moment.now_ms, part, latest_ms=end_ms, move_s=40,
            from_station="tank", run="2026-02-02-1",
        )
        for part, end_ms in ends.items()
    ]  # fmt: skip
    return [text for _, text in trouble_lines(replace(moment, actions=made))]


def test_two_deadlines_closer_than_a_move_are_tight() -> None:
    """The line names both times, the order, and the time left before one is lost."""
    (text,) = _tight(10_000, 2 * MINUTE)
    assert text.startswith("TIGHT: #1 max ")
    assert text.endswith("Pull #1 first: 1 min to spare.")


@pytest.mark.parametrize(("apart_ms", "left_ms"), [(40_000, 2 * MINUTE), (10_000, 11 * MINUTE)])
def test_deadlines_a_move_apart_or_far_ahead_are_not_tight(apart_ms: int, left_ms: int) -> None:
    """Moves that the hands can do in turn, or that are far ahead, have no line."""
    assert _tight(apart_ms, left_ms) == []


def test_a_window_that_is_lost_is_reported() -> None:
    """Without time for both moves the line says which part goes past its max."""
    (text,) = _tight(10_000, 20_000)
    assert text.endswith("Pull #1 now; #2 goes past max.")


def test_at_most_three_lines_show_worst_first() -> None:
    """A failed plan and a part in a hot bath come before a silent probe."""
    hands = dwelling()
    hands(c.Read("tank", "75 C"))
    moment = replace(moment_at(hands), advice=Advice(warnings=("NO PLAN FOUND",)))
    lines = trouble_lines(moment, ["PROBE 1 is silent", "PROBE 2 is silent"])
    assert len(lines) == MOST
    assert [level for level, _ in lines] == [Level.LATE, Level.LATE, Level.NOW]
