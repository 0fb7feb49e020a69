"""The agenda of realistic benches, and its laws on any bench."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind, PlanTimes
from benchtimer.run.agenda import action_for, agenda
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.run.upkeep import reading_due_ms
from tests.run.scenes import bench_of, cases
from tests.run.test_laws import PRESSES, _played

CASES = cases("agenda")


def rows(case: dict[str, Any]) -> list[list[Any]]:
    """The agenda of a case, in the form of its file."""
    hands = bench_of(case)
    now_ms = hands.now_ms
    begin = {name: now_ms + s * 1000 for name, s in case.get("advice", {}).items()}
    put_off = {name: now_ms + s * 1000 for name, s in case.get("put_off", {}).items()}
    plan = PlanTimes(begin, put_off)
    return [_row(action, now_ms) for action in agenda(hands.state.bench, now_ms, plan)]


def _row(action: Action, now_ms: int) -> list[Any]:
    late = "" if action.latest_ms is None else (action.latest_ms - now_ms) // 1000
    who = action.part or action.to_station or "run"
    return [
        action.kind.value, who, (action.due_ms - now_ms) // 1000, late, action.blocked or ""
    ]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_agenda_has_the_expected_order(case: dict[str, Any]) -> None:
    """Each bench has the agenda of its case, in order and with its times."""
    assert rows(case) == case["agenda"]


@given(PRESSES, st.integers(0, 3_600_000))
def test_every_due_reading_is_on_the_agenda(presses: list[Any], later_ms: int) -> None:
    """A due reading of a bath with parts is on the agenda and is never blocked."""
    hands = _played(presses)
    bench, now_ms = hands.state.bench, hands.now_ms + later_ms
    if bench.phase is not RunPhase.RUNNING:
        return
    asked = {a.to_station for a in agenda(bench, now_ms) if a.is_due(now_ms) and a.check is None}
    for name, place in bench.places.items():
        inside = bench.inside(name)
        if (
            inside
            and reading_due_ms(bench, place, now_ms) <= now_ms
            and any(not p.is_out for p in inside)
        ):
            assert name in asked


@given(PRESSES, st.integers(0, 3_600_000))
def test_every_part_in_a_tank_is_on_the_agenda(presses: list[Any], later_ms: int) -> None:
    """A part in a tank always has its pull on the agenda, with the end of its window."""
    hands = _played(presses)
    bench, now_ms = hands.state.bench, hands.now_ms + later_ms
    if bench.phase not in (RunPhase.RUNNING, RunPhase.HELD):
        return
    actions = agenda(bench, now_ms)
    for part in bench.parts.values():
        dwell = bench.step_of(part).dwell
        if part.phase is PartPhase.DWELLING and dwell is not None and dwell.max_s is not None:
            (own,) = [a for a in actions if a.part == part.name]
            assert own.latest_ms == part.since_ms + dwell.max_s * 1000
            assert own.is_late(now_ms) == (now_ms > own.latest_ms)


@given(PRESSES, st.integers(0, 600_000), st.integers(0, 600_000))
def test_a_due_action_stays_due_until_done(presses: list[Any], first_ms: int, then_ms: int) -> None:
    """Without a press, work that is due now is still due later."""
    hands = _played(presses)
    bench, now_ms = hands.state.bench, hands.now_ms + first_ms
    begun = {part.name for part in bench.parts.values() if part.began_ms is not None}
    due = {a.part for a in agenda(bench, now_ms) if a.is_due(now_ms)} & begun
    later = [a for a in agenda(bench, now_ms + then_ms) if a.is_due(now_ms + then_ms)]
    stations = {a.to_station for a in later if a.kind is ActionKind.READING}
    for _ in due - {a.part for a in later}:
        assert stations  # one reading serves another part's work too


@given(PRESSES)
def test_a_picked_part_has_one_action(presses: list[Any]) -> None:
    """A part picked while the run continues has one action.

    That action is a reading only where the engine refuses the work without it.
    """
    hands = _played(presses)
    bench = hands.state.bench
    for part in bench.parts.values():
        action = action_for(bench, part, hands.now_ms)
        open_part = bench.phase is RunPhase.RUNNING and not part.is_out
        assert (action is not None) == open_part
        assert action is None or action.part == part.name
        if action is not None and action.kind is ActionKind.READING:
            hands.reads = False
            with pytest.raises(Refused):
                hands(c.Begin(part.name), 0)


def test_a_reading_counts_until_it_expires() -> None:
    """A picked part begins up to the end of its reading's ten minutes; after that it is read."""
    hands = bench_of({"before": [["Read", "tank", "65 C"]]})
    ends_ms = hands.now_ms + 600_000
    kinds = []
    for t_ms in (ends_ms, ends_ms + 1):
        action = action_for(hands.state.bench, hands.part(), t_ms)
        assert action is not None
        kinds.append(action.kind)
    assert kinds == [ActionKind.BEGIN, ActionKind.READING]


COMMANDS = {
    ActionKind.START: (c.Start,),
    ActionKind.RESUME: (c.Resume,),
    ActionKind.HAZARD: (c.Acknowledge,),
    ActionKind.BEGIN: (c.Begin, c.TakeOut),
    ActionKind.COOL: (c.Prepare,),
    ActionKind.FINISH: (c.Finish,),
    ActionKind.COMPLETE: (c.Complete,),
}


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_confirming_an_action_does_what_it_says(case: dict[str, Any]) -> None:
    """Each action has its command, unless it needs a typed answer."""
    hands = bench_of(case)
    for action in agenda(hands.state.bench, hands.now_ms):
        assert isinstance(action.command, COMMANDS.get(action.kind, type(None)))
        assert (action.check is not None) == (action.kind is ActionKind.ANSWER)
        assert (action.hazard is not None) == (action.kind is ActionKind.HAZARD)


@pytest.mark.parametrize("blocked", [None, "Tank is full: ferrule"])
@pytest.mark.parametrize(
    ("now_ms", "due", "late"),
    [(99, False, False), (100, True, False), (200, True, False), (201, True, True)],
)
def test_an_action_is_due_from_its_time_and_late_after_its_window(
    now_ms: int, due: bool, late: bool, blocked: str | None
) -> None:
    """Work is due from its due time, late only after its window, and never while blocked."""
    action = Action(ActionKind.BEGIN, 100, "bolster", latest_ms=200, blocked=blocked)
    assert action.is_due(now_ms) == (due and blocked is None)
    assert action.is_late(now_ms) == late
    assert not Action(ActionKind.BEGIN, 100, "bolster").is_late(10**15)
