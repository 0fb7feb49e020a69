"""The simple model, short form; ``python -m tests.faults model`` is the long form."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.event_builder import Pen
from benchtimer.run.run_state import Bench, Part, RunState, TakenBack
from tests.faults import model


def test_the_program_does_what_a_simple_model_does() -> None:
    """Any presses at any times agree with the model, with kills, jumps and restarts between."""
    before = model.Shop.steps
    model.play(12 * model.STEP_COUNT, 1)
    assert model.Shop.steps > before


def _forgetful(state: RunState, _event: e.Undone) -> RunState:
    """An undo that restores nothing."""
    back = TakenBack(state.past[-1], state.bench)
    return replace(state, past=state.past[:-1], future=(*state.future, back))


def _late(pen: Pen, part: Part) -> None:
    """A pull that forgets the part's time so far."""
    step = pen.bench.step_of(part)
    pen.write(e.TakenOut, part=part.name, step=step.id, station=part.station, dwelt_ms=0)


def _any_size(*_: object) -> None:
    """A tank that is never full."""


def _alone(_: object, bench: Bench) -> Bench:
    """A run that ignores the others."""
    return bench


def _undo(shop: model.Shop) -> None:
    shop.set_up(ahead=[(0, "bolster")])
    shop.correct(run=0, command=c.Undo())


def _look(shop: model.Shop) -> None:
    shop.set_up(ahead=[(0, "bolster")] * 3)
    shop.look_at_and_put_back(run=0, name="bolster", dwelt_ms=60_000, out_ms=1000)


def _crowd(shop: model.Shop) -> None:
    shop.set_up(ahead=[(0, "bolster")] * 3 + [(1, "ferrule")] * 3)


CASES = [("evolve._take_back", _forgetful, _undo), ("decide.lift", _late, _look),
         ("decide._room", _any_size, _crowd),
         ("surroundings.Surroundings.over", _alone, _crowd)]  # fmt: skip


def _played(presses: Callable[[model.Shop], None]) -> None:
    shop = model.Shop()
    try:
        presses(shop)
        shop.the_program_agrees_with_the_model()
    finally:
        shop.teardown()


@pytest.mark.parametrize("closed", ["tank", "rack"])
@pytest.mark.parametrize("step", ["look", "hang", "judge"])
def test_a_part_that_skips_the_tank_needs_only_the_places_still_ahead(
    step: str, closed: str
) -> None:
    """A part not begun that skips the tank can begin while the tank is out of service."""

    def presses(shop: model.Shop) -> None:
        shop.set_up(ahead=[(0, "bolster")])
        for command in (c.Skip("ferrule", step, "late"), c.CloseStation(closed)):
            shop.press(run=0, command=command, after_ms=1000)
        taken = shop.model.takes(c.Begin("ferrule", anyway=True), shop.now_ms)
        assert taken == (closed == "tank" or step == "judge")
        shop.press(run=0, command=c.Begin("ferrule", anyway=True), after_ms=1000)

    _played(presses)


@pytest.mark.parametrize(("name", "instead", "presses"), CASES, ids=[case[0] for case in CASES])
def test_a_faulty_program_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    instead: Callable[..., Any],
    presses: Callable[[model.Shop], None],
) -> None:
    """The model finds a faulty undo, pull, tank size and lone run."""
    _played(presses)
    monkeypatch.setattr(f"benchtimer.run.{name}", instead)
    with pytest.raises(AssertionError):
        _played(presses)
