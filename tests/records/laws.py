"""Random runs for the laws of records, and an independent step-by-step account of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import Any

from hypothesis import strategies as st

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.evolve import apply
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import Bench
from benchtimer.store.log import LogEntry
from benchtimer.store.standing import standing
from tests.records.golden import entries_of
from tests.support import SMALL, Hands, small_recipe

PARTS = ("pin", "cap")
ROOMY = small_recipe(SMALL.replace("holds = 1", "holds = 2"))
_ONE = st.sampled_from(PARTS)
_HELD = st.one_of(st.none(), _ONE)

# Grouped presses, since single random ones rarely move a part far.
GROUPS = st.one_of(
    st.just((c.Read("tank", "65 C"),)),
    _ONE.map(lambda p: (c.Begin(p), c.Finish(p), c.Begin(p), c.Finish(p))),
    _ONE.map(lambda p: (c.TakeOut(p), c.PutBack(p))),
    _ONE.map(lambda p: (c.Begin(p), c.Answer(p, "even", True))),
    _ONE.map(lambda p: (c.Begin(p), c.Answer(p, "even", False))),
    _ONE.map(lambda p: (c.Answer(p, "heat", "25 C"), c.Finish(p))),
    _ONE.map(lambda p: (c.Begin(p), c.Answer(p, "colour", "black"), c.Answer(p, "words", "so"))),
    _ONE.map(lambda p: (c.SendBack(p, "prepare"),)),
    _ONE.map(lambda p: (c.Skip(p, "judge", "no time"),)),
    _HELD.map(lambda p: (c.Hold(p),)),
    _HELD.map(lambda p: (c.Resume(p),)),
    st.tuples(_ONE, st.permutations([None, "x"])).map(
        lambda told: (c.Begin(told[0]), *(c.Hold(p and told[0]) for p in told[1]))
    ),
    _HELD.map(lambda p: (c.Note("photo: a.jpg", p),)),
    _ONE.map(lambda p: (c.Judge(p, "accepted", 4),)),
    st.integers(1, 3).map(lambda n: (c.Undo(),) * n),
    st.just((c.Redo(),)),
    st.integers(1, 400).map(lambda s: (c.BackDate(1000 * s),)),
)
PRESSES = st.lists(st.tuples(GROUPS, st.integers(1000, 600_000)), min_size=3, max_size=25)
Presses = Sequence[tuple[tuple[c.Command, ...], int]]


def played(presses: Presses) -> Hands:
    """A bench of two parts after these presses; refused ones are skipped."""
    hands = Hands(names=PARTS, recipe=ROOMY)
    for group, after_ms in presses:
        for command in group:
            with suppress(Refused):
                hands(command, after_ms)
    return hands


def log_of(presses: Presses) -> list[LogEntry]:
    """The log of such a bench."""
    return entries_of(played(presses))


def stretches(entries: Sequence[LogEntry]) -> Iterator[tuple[Bench, int, int, e.Event]]:
    """The bench between each two entries that count: its state, from, to, and the next entry."""
    counted = standing(entries)
    bench, since_ms = Bench(), 0
    for entry in entries:
        event: Any = entry.event
        if entry.seq in counted and not isinstance(event, (*e.CORRECTIONS, *e.BYSTANDERS)):
            yield bench, since_ms, event.t_ms, event
            bench, since_ms = apply(bench, event), event.t_ms
