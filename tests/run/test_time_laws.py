"""Laws of time at the bench: backdating, undo, and presses at any moment."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.quantity import parse
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.decide import Now, decide
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import Refused, TimeConflict
from benchtimer.run.run_state import PartPhase
from tests.run.test_laws import COMMANDS, PRESSES, _played
from tests.run.test_transitions import EXAMPLES
from tests.support import MINUTE, Hands, kinds

Presses = list[tuple[c.Command, int]]


@given(PRESSES, COMMANDS, st.integers(1, 600), st.integers(1, 600))
def test_a_back_dated_press_equals_one_made_on_time(
    presses: Presses, command: c.Command, after_s: int, late_s: int
) -> None:
    """A late press that is backdated gives the bench of a press in time.

    Backdating moves what a press caused and causes nothing more. If a reading expired meanwhile,
    the late press did not begin the next step, and backdating does not begin it either.
    """
    hands = _played(presses)
    assume(not isinstance(command, c.Undo | c.Redo | c.BackDate))
    before, real_ms = hands.state, hands.now_ms + 1000 * after_s
    with suppress(Refused):
        caused = decide(before, command, Now(real_ms))
        pressed = decide(before, command, Now(real_ms + 1000 * late_s))
        late = fold(pressed, before)
        outcome = decide(late, c.BackDate(1000 * late_s), Now(late.last_ms))
        assert kinds(outcome)[-len(pressed) :] == kinds(pressed)
        if kinds(caused) == kinds(pressed):
            assert fold(outcome, late).bench == fold(caused, before).bench


@given(PRESSES, st.integers(1, 10**6))
def test_back_dating_is_undone_like_any_press(presses: Presses, ago_ms: int) -> None:
    """Undo after backdating restores the pressed time."""
    hands = _played(presses)
    before = hands.state.bench
    with suppress(Refused):
        hands(c.BackDate(ago_ms))
        hands(c.Undo())
    assert hands.state.bench == before


@given(PRESSES)
def test_the_stated_limit_of_back_dating_is_the_limit(presses: Presses) -> None:
    """Backdating up to the limit in the message works; one second more never does."""
    hands = _played(presses)
    assume(hands.state.past)
    now = Now(hands.now_ms)
    with pytest.raises(TimeConflict) as refused:
        decide(hands.state, c.BackDate(10**10), now)
    max_s = round(parse(refused.value.way_out.removeprefix("The limit is "), "time").base)
    assert not max_s or decide(hands.state, c.BackDate(1000 * max_s), now)
    with pytest.raises(TimeConflict):
        decide(hands.state, c.BackDate(1000 * (max_s + 1)), now)


@given(PRESSES, st.integers(1, 8))
def test_undo_and_redo_walk_the_same_way(presses: Presses, steps: int) -> None:
    """The same number of undos and redos passes the same benches in reverse."""
    hands = _played(presses)
    passed = [hands.state.bench]
    for _ in range(min(steps, len(hands.state.past))):
        hands(c.Undo())
        passed.append(hands.state.bench)
    for bench in reversed(passed):
        assert hands.state.bench == bench
        if hands.state.future:
            hands(c.Redo())


@pytest.mark.parametrize("kind", [k for k in EXAMPLES if k not in (c.Undo, c.Redo, c.BackDate)])
def test_a_refused_press_leaves_no_trace(kind: type[c.Command]) -> None:
    """Any press before the last entry is refused for its time alone."""
    hands = Hands()
    with pytest.raises(TimeConflict, match="before the last entry"):
        decide(hands.state, EXAMPLES[kind], Now(hands.now_ms - 1))


def test_a_dwell_put_back_is_judged_with_all_its_time() -> None:
    """Three minutes in, out, and three more count as six: in the window."""
    hands = Hands()
    hands.to_tank()
    for _ in range(2):
        hands(c.TakeOut("bolster"), 2 * MINUTE)
        hands(c.PutBack("bolster"), 7 * MINUTE)
    events = hands(c.Begin("bolster"), 2 * MINUTE)
    (out,) = [x for x in events if isinstance(x, e.TakenOut)]
    assert out.dwelt_ms == 6 * MINUTE
    assert not any(isinstance(x, e.Deviated) for x in events)


@pytest.mark.parametrize(
    ("dwelt_ms", "what", "found"),
    [(239_999, "early", "4 min"), (240_000, None, ""), (480_000, None, ""),
     (480_001, "overrun", "8 min"), (481_000, "overrun", "8 min 1 s")],
)  # fmt: skip
def test_a_window_is_kept_to_the_millisecond(dwelt_ms: int, what: str | None, found: str) -> None:
    """Min and max belong to the window; one millisecond outside is recorded."""
    hands = Hands()
    hands.to_tank()
    result = [x for x in hands(c.Begin("bolster"), dwelt_ms) if isinstance(x, e.Deviated)]
    assert [(x.what, x.found) for x in result] == ([(what, found)] if what else [])


def test_the_events_of_a_press_know_who_pressed() -> None:
    """A backdated press belongs to whoever backdates it, and the first entry keeps its maker."""
    hands = Hands()
    hands(c.Begin("bolster"))
    outcome = decide(hands.state, c.BackDate(500), Now(hands.now_ms + 1000, "anna"))
    assert {event.by for event in outcome} == {"anna"}
    assert hands.events[-1].by == "maker"


def test_presses_of_a_part_do_not_touch_the_others() -> None:
    """Presses for one part leave every other part as it was."""
    hands = Hands()
    others = {n: p for n, p in hands.state.bench.parts.items() if n != "bolster"}
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False))
    hands(c.Judge("bolster", "rework"))
    hands(c.Scrap("bolster"))
    assert {n: p for n, p in hands.state.bench.parts.items() if n != "bolster"} == others
    assert replace(hands.part(), touched_ms=0).phase is PartPhase.SCRAPPED
