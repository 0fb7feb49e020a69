"""What the board says while a run is set up: how far it is, and what goes into a mix."""

from __future__ import annotations

import pytest

from benchtimer.run.agenda import agenda
from benchtimer.run.decide import Now, create
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import RunPhase
from benchtimer.view.board_text import BoardView
from benchtimer.view.space import Size
from tests.run.test_setup import BREW
from tests.support import Hands, small_recipe, table
from tests.tui.benches import board_of

TWO = BREW.replace(
    '{ what = "tea", parts = 1 }',
    '{ what = "cold water", amount = "750 mL/L" }, { what = "salts", amount = "700 g/L" }',
)


def _idle() -> Hands:
    hands = Hands(started=False)
    recipes = {"brew": table(small_recipe(TWO))}
    now = Now(hands.now_ms)
    hands.state = fold(create(now, uid="", title="t", recipes=recipes, parts=[("a", "brew")]))
    return hands


@pytest.mark.parametrize("size", [Size(60, 20), Size(80, 24), Size(120, 40)])
def test_a_mix_says_what_goes_in(size: Size) -> None:
    """The amounts are under the large MIX, in the order in which they go in."""
    hands, seen = _idle(), 0
    while hands.state.bench.phase is RunPhase.IDLE:
        (action,) = agenda(hands.state.bench, hands.now_ms)
        text = "\n".join(board_of(hands, size).next_lines)
        if action.kind.value == "mix":
            seen += 1
            assert "cold water 750 mL/L, salts 700 g/L" in text
            assert "K: for your vessel" in text
        assert action.command is not None
        hands(action.command)
    assert seen == 1


def test_the_header_counts_the_set_up_from_first_to_last() -> None:
    """Each page, mix and heat counts once, up to the start."""
    hands, found = _idle(), []
    while hands.state.bench.phase is RunPhase.IDLE:
        found.append(board_of(hands, Size(80, 24), BoardView("r")).header.split(")")[0][5:])
        (action,) = agenda(hands.state.bench, hands.now_ms)
        assert action.command is not None
        hands(action.command)
    last = len(found) - 1
    assert [text.partition("setup ")[2] for text in found] == [
        *(f"{n} of {last}" for n in range(1, last + 1)), "",
    ]  # fmt: skip
