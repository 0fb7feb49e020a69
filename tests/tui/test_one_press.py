"""Each press folds, picks the next action, reads the clock and draws exactly once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from benchtimer.bench import moment
from benchtimer.run import commands as c
from benchtimer.run import evolve
from benchtimer.run.run_state import PartPhase
from benchtimer.tui import board_screen as board_module
from benchtimer.tui.board_screen import BoardScreen
from tests.tui.conftest import Shop


def _counted(
    monkeypatch: pytest.MonkeyPatch, counts: Counter[str], owner: Any, name: str, what: str
) -> None:
    """Count the calls of a function from anywhere."""
    plain: Callable[..., Any] = getattr(owner, name)

    def counting(*args: Any, **more: Any) -> Any:
        counts[what] += 1
        return plain(*args, **more)

    monkeypatch.setattr(owner, name, counting)


async def _at_rest(pilot: Pilot[None], screen: BoardScreen) -> None:
    """Wait until a new board has its size and stops drawing."""
    drawn, quiet = screen.desk._drawn, 0
    while quiet < 3:
        await pilot.pause(0.2)
        quiet = quiet + 1 if screen.desk._drawn is drawn else 0
        drawn = screen.desk._drawn


@pytest.mark.parametrize("runs", [1, 3])
async def test_a_press_does_each_thing_once(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, runs: int
) -> None:
    """With one run or three, SPACE makes one fold, one agenda, one clock reading, one board."""
    for number in range(runs):
        shop.set_up(f"part {number}")
    shop.press(c.Read("tank", "65 C"))
    app = shop.app()
    counts: Counter[str] = Counter()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.screen
        assert isinstance(screen, BoardScreen)
        monkeypatch.setattr(screen, "_ask_planner", lambda: None)  # its answer comes later
        await _at_rest(pilot, screen)
        _counted(monkeypatch, counts, evolve, "evolve", "folded")
        _counted(monkeypatch, counts, moment, "shop_agenda", "agenda")
        _counted(monkeypatch, counts, shop.clock, "read", "clock")
        _counted(monkeypatch, counts, board_module, "make_board", "drawn")
        await pilot.press("space")
        await pilot.pause()
        begun = [
            part.name
            for name in shop.driver.names
            for part in shop.driver.state(name).bench.parts.values()
            if part.phase is PartPhase.IN_HAND
        ]
        assert len(begun) == 1
        assert counts == {"folded": 1, "agenda": 1, "clock": 1, "drawn": 1}
