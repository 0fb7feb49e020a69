"""A whole run on the screen, as a maker with wet gloves presses it."""

from __future__ import annotations

from functools import partial
from math import inf
from pathlib import Path

import pytest
from textual.pilot import Pilot

from benchtimer.bench.advice import advise
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.orders import new_run
from benchtimer.recipe.checks import Choice, YesNo
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.run_state import OVER, PartPhase, RunPhase
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.view.words import is_whole_reading
from tests.tui.scenes import FITTINGS, MORNING

MOST_PRESSES = 3000


def _keys(board: BoardScreen, action: Action) -> list[str]:
    """The keys that do what the large line says."""
    desk, now_ms = board.desk, board.desk.bench.stamp().noted_ms
    if desk.takes_figure(action, now_ms):
        place = desk.state.bench.places.get(action.to_station or "")
        window = place.station.temperature if place is not None else None
        aim = (window.target or window.min) if window is not None else None
        figure = "185" if action.kind is ActionKind.ASK else "20"  # the flash point of an oil
        typed = str(round(aim.value)) if aim is not None else figure
        return [*typed] if is_whole_reading(typed, window) else [*typed, "space"]
    if isinstance(action.check, YesNo):
        return ["1"]
    if isinstance(action.check, Choice):
        good = next(i for i, o in enumerate(action.check.options, 1) if o not in action.check.send)
        return [str(good)]
    return ["space"]


async def _work_off(app: BenchApp, pilot: Pilot[None], clock: ManualClock) -> list[str]:
    """Follow the large line to the end with one undone slip, and return the keys."""
    pressed: list[str] = []
    slip_to_come = True
    while isinstance(board := app.screen, BoardScreen):
        assert len(pressed) < MOST_PRESSES
        stamp = board.desk.bench.stamp()
        action = board.desk.shown(board.desk.bench.moment(stamp))
        assert action is not None
        if action.blocked is not None or action.due_ms > stamp.noted_ms:
            clock.advance(max(1000, min(action.due_ms - stamp.noted_ms, 600_000)))
            if action.kind not in (ActionKind.FINISH, ActionKind.ANSWER):
                continue
        keys = _keys(board, action)
        if slip_to_come and action.kind is ActionKind.FINISH and action.to_station == "salts":
            slip_to_come = False
            keys = ["space", "u", "space"]
        for key in keys:
            clock.advance(1000)
            await pilot.press(key)
            pressed.append(key)
        await app.workers.wait_for_complete()
        await pilot.pause()
    return pressed


async def test_six_parts_by_space_digits_and_one_undo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six fittings go through hot salts, from the first key to the record, by single keys."""
    # Limit the planner by states, not time, so the test is the same on any machine.
    monkeypatch.setattr("benchtimer.bench.advice.advise", partial(advise, nodes=150, seconds=inf))
    clock = ManualClock(MORNING)
    driver = drive(tmp_path / "bench", clock)
    name = driver.set_up(new_run(RecipeFiles(), "hot-black", list(FITTINGS[:6])))
    app = BenchApp(driver, name, guard_s=0)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        pressed = await _work_off(app, pilot, clock)
    bench = driver.state(name).bench
    assert bench.phase is RunPhase.COMPLETE
    assert bench.phase in OVER
    assert [part.phase for part in bench.parts.values()] == [PartPhase.DONE] * 6
    assert set(pressed) <= {"space", "u", *"0123456789"}
    assert pressed.count("u") == 1
    record = driver.record(name)
    assert not [d for d in record.deviations if d.what == "overrun"]
    assert sum("taken back" in line.text for line in record.lines) == 1
    driver.close()
