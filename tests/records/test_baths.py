"""A run's use of its baths, compared with the rest of its record, for random presses."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.records.record import make_record
from benchtimer.records.record_lookup import uses
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.evolve import apply, fold
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import Bench, PartPhase
from benchtimer.store.log import LogEntry, Stamp
from benchtimer.store.standing import standing
from tests.support import SMALL, Hands, small_recipe

BATHS = {"tank": "brew 1", "rack": "oil 1"}
ROOMY = small_recipe(SMALL.replace("holds = 1", "holds = 2"))
PARTS = ("pin", "cap")

# Grouped presses, since single random ones rarely bring a part into a bath.
GROUPS = st.one_of(
    st.sampled_from(PARTS).map(lambda p: (c.Begin(p), c.Finish(p), c.Begin(p), c.Finish(p))),
    st.sampled_from(PARTS).map(lambda p: (c.TakeOut(p),)),
    st.sampled_from(PARTS).map(lambda p: (c.TakeOut(p), c.PutBack(p))),
    st.sampled_from(PARTS).map(lambda p: (c.Begin(p), c.Answer(p, "even", True))),
    st.sampled_from(PARTS).map(lambda p: (c.Answer(p, "heat", "25 C"), c.Finish(p))),
    st.sampled_from(PARTS).map(lambda p: (c.SendBack(p, "prepare"),)),
    st.sampled_from(PARTS).map(lambda p: (c.Scrap(p),)),
    st.integers(1, 3).map(lambda n: (c.Undo(),) * n),
    st.just((c.Redo(),)),
    st.integers(1, 400).map(lambda s: (c.BackDate(1000 * s),)),
)
PRESSES = st.lists(st.tuples(GROUPS, st.integers(1000, 600_000)), min_size=4, max_size=25)


def _entries(drawn: list[tuple[tuple[c.Command, ...], int]]) -> list[LogEntry]:
    """The log of a run with these presses whose two stations have baths."""
    hands = Hands(names=PARTS, recipe=ROOMY)
    for group, after_ms in drawn:
        for command in group:
            with suppress(Refused):
                hands(command, after_ms)
    first, *rest = hands.events
    assert isinstance(first, e.Created)
    events = [replace(first, baths=BATHS), *rest]
    stamp = Stamp(0, None, 0, 0, 0)
    return [LogEntry(seq, "run", event, stamp) for seq, event in enumerate(events, start=1)]


@given(PRESSES)
def test_the_entries_that_count_make_the_bench(
    presses: list[tuple[tuple[c.Command, ...], int]],
) -> None:
    """The entries that count, replayed alone, give the same bench as the whole log."""
    entries = _entries(presses)
    counted = standing(entries)
    bench = Bench()
    for entry in entries:
        if entry.seq in counted and not isinstance(entry.event, (*e.CORRECTIONS, *e.BYSTANDERS)):
            bench = apply(bench, entry.event)
    assert bench == fold(entry.event for entry in entries).bench


@given(PRESSES)
def test_uses_agree_with_the_visits_of_the_record(
    presses: list[tuple[tuple[c.Command, ...], int]],
) -> None:
    """The time in a bath equals the parts' visits to its station."""
    entries = _entries(presses)
    bench = fold(entry.event for entry in entries).bench
    end_ms = max(entry.event.t_ms for entry in entries) + 5000
    visits = [v for part in make_record(entries).parts for v in part.visits]
    found = dict(uses(entries, end_ms))
    for station, bath in BATHS.items():
        done_s = sum(v.dwell_s or 0 for v in visits if v.station == station)
        inside = [p for p in bench.inside(station) if p.phase is PartPhase.DWELLING]
        still_s = sum((end_ms - part.since_ms) / 1000 for part in inside)
        assert found[bath].dwell_ms / 1000 == pytest.approx(done_s + still_s)
        assert set(found[bath].parts) >= {part.name for part in inside}
        assert found[bath].immersions >= len(found[bath].parts)
