"""Runs with any history, written to a log press by press, without a bench."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from itertools import groupby
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from benchtimer.run import commands as c
from benchtimer.run.decide import Now, decide
from benchtimer.run.events import Event
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import OVER, RunState
from benchtimer.store.log import EventLog, RunLine, Stamp
from tests import behind
from tests.support import Hands
from tests.tui.benches import Anybody, Choices, press

NOON = 1_770_000_000_000
DISK = settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""For laws that write to disk in every example."""

WORDS = st.sampled_from(["cloudy", "Grey blue", "刃 bright", "cloudy spots", "x" * 60])
CORRECTIONS: tuple[c.Command, ...] = (c.Undo(), c.Undo(), c.Redo(), c.BackDate(500))
SAID = st.one_of(
    st.builds(c.Note, WORDS),
    st.builds(c.Judge, st.sampled_from(["bolster", "pin"]), st.sampled_from(c.VERDICTS)),
    st.sampled_from(CORRECTIONS),
)
CHOICES = st.builds(
    Choices, st.integers(0, 40), st.integers(0, 3), st.sampled_from([1000, 60_000, 300_000])
)


@st.composite
def histories(draw: st.DrawFn, presses: int = 20) -> Anybody:
    """A run of two parts with notes, judgments and corrections among its presses."""
    hands = Anybody(("bolster", "pin"))
    for wish in draw(st.lists(st.one_of(CHOICES, SAID), max_size=presses)):
        if isinstance(wish, Choices):
            hands.now_ms += wish.wait_ms
            press(hands, wish)
        else:
            attempt(hands, wish)
    return hands


def attempt(hands: Hands, command: c.Command) -> None:
    """Press a second later, if the engine accepts it."""
    try:
        decide(hands.state, command, Now(hands.now_ms + 1000))
    except Refused:
        return
    hands(command)


def end(hands: Hands) -> None:
    """Abort the run, unless it is closed."""
    if hands.state.bench.phase not in OVER:
        hands(c.Abort("enough"))


def presses_of(hands: Hands) -> Iterator[list[Event]]:
    """The events, press by press, as a bench writes them."""
    for _, events in groupby(hands.events, key=lambda event: event.press):
        yield list(events)


def write(log: EventLog, hands: Hands, name: str = "2026-02-02-1") -> None:
    """Write a run to a log as a bench would, with its line in the register."""
    state, laid_out = RunState(), stamp_at(hands.events[0].t_ms)
    for events in presses_of(hands):
        state = fold(events, state)
        bench = state.bench
        stamp = stamp_at(state.last_ms)
        line = RunLine(
            name, bench.phase.value, bench.title, tuple(bench.parts), laid_out.wall_ms, 3600
        )
        log.append(name, events, stamp, line)


def stamp_at(t_ms: int) -> Stamp:
    """Clocks in step with bench time."""
    return Stamp(t_ms, "boot", t_ms, NOON + t_ms, 3600)


def terms(folder: Path) -> list[str]:
    """The whole index of a log."""
    with closing(EventLog(folder, read_only=True)) as log:
        return behind.terms(log._db)
