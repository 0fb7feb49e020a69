"""Rehearsals: the same engine in fast time, with the same record for the same seed."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.bench.advice import rehearsing
from benchtimer.bench.newrun import NewRun
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.records.export import as_json
from benchtimer.rehearsal import Rehearsal, RehearsalError, rehearse, tally
from benchtimer.run.events import Held, PutIn, Resumed, WorkBegan
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase
from tests.support import SMALL, small_recipe, table

SHIPPED = list(RecipeFiles().paths())


def _run(*parts: str, recipe: str = SMALL, hands: int = 1) -> NewRun:
    table_text = table(small_recipe(recipe))
    return NewRun("Test", {"small": table_text}, [(name, "small") for name in parts], hands=hands)


def test_a_rehearsal_ends_with_every_part_done() -> None:
    """Simulated hands bring all parts through and close the run."""
    record = rehearse(_run("bolster", "ferrule", "butt cap"), 1)
    assert record.phase == "complete"
    assert [part.outcome for part in record.parts] == ["done"] * 3


def test_the_same_seed_gives_the_same_record() -> None:
    """Two rehearsals with one seed are identical, and another seed differs."""
    first, again, other = (as_json(rehearse(_run("a", "b"), seed)) for seed in (7, 7, 8))
    assert first == again != other


@pytest.mark.parametrize("seed", [4, 5, 22])
def test_cold_baths_are_reheated_before_a_part_returns(seed: int) -> None:
    """Heat is ready when the plan brings a part back, so the rehearsal ends."""
    new = new_run(RecipeFiles(), "hot-black", ["bolster", "ferrule"])
    assert rehearse(new, seed, advice=rehearsing(200)).phase == "complete"


@given(st.integers(0, 10_000), st.integers(1, 5))
def test_one_pair_of_hands_does_one_thing_at_a_time(seed: int, count: int) -> None:
    """With one pair of hands, no two pieces of hands-on work overlap."""
    record = rehearse(_run(*(f"part {i}" for i in range(count))), seed)
    # A part held in the middle of its work is put down, so its work has two pieces.
    assume(not any(visit.held_s for part in record.parts for visit in part.visits))
    work = sorted(
        (visit.began_s or 0, round((visit.began_s or 0) + (visit.hands_s or 0), 3))
        for part in record.parts
        for visit in part.visits
    )
    assert all(end <= start for (_, end), (start, _) in pairwise(work))


def test_expected_failures_happen_about_as_often_as_expected() -> None:
    """A check that expects half a send-back for each part gets about that over many seeds."""
    records = [rehearse(_run("bolster"), seed) for seed in range(200)]
    sent = sum(part.sent_back for record in records for part in record.parts)
    assert 60 < sent < 140


def test_a_recipe_that_cannot_go_on_is_reported() -> None:
    """When parts block each other for good, the rehearsal says which ones."""
    with pytest.raises(RehearsalError, match="nothing more can be done"):
        rehearse(_deadlocked(), 1)


def _deadlocked() -> NewRun:
    """The part in the tank needs the rack, and the one on the rack needs the tank."""
    again = """
[[step]]
id = "again"
title = "Into the tank again"
at = "tank"
hands = "20 s"
dwell = { min = "4 min", target = "5 min" }

[[step]]
id = "judge"
"""
    recipe = SMALL.replace('[[step]]\nid = "judge"\n', again.lstrip()).replace(
        "holds = 4", "holds = 1"
    )
    return _run("a", "b", recipe=recipe)


def test_a_tally_counts_the_overruns() -> None:
    """Overruns of many rehearsals are counted by part and step."""
    tight = SMALL.replace('max = "8 min"', 'max = "5 min"').replace(
        'min = "4 min"', 'min = "1 min"'
    )
    records = [rehearse(_run("a", "b", "c", recipe=tight), seed) for seed in range(20)]
    found = tally(records)
    assert found.trials == 20
    lengths = sorted(record.lines[-1].elapsed_s for record in records)
    assert (found.median_s, found.longest_s) == (sum(lengths[9:11]) / 2, lengths[-1])
    assert found.late == sum(any(d.what == "overrun" for d in r.deviations) for r in records)


STOPS = SMALL.replace(
    'send = { no = { to = "prepare", limit = 2, expect = 0.5 } }',
    'send = { no = { stop = "Cracked: set it aside.", expect = 3, out_of_service = "tank" } }',
)


def test_a_part_stopped_by_its_recipe_goes_no_further() -> None:
    """A cracked part is scrapped, never resumed, and the bath it closed is replaced."""
    names, stopped = [f"part {i}" for i in range(6)], 0
    for seed in range(10):
        hands = Rehearsal(_run(*names, recipe=STOPS), seed)
        assert hands.run().phase == "complete"
        held: set[str] = set()
        for event in (entry.event for entry in hands.entries):
            assert not isinstance(event, Resumed)
            if isinstance(event, PutIn | WorkBegan):
                assert event.part not in held
            if isinstance(event, Held) and event.part is not None:
                held.add(event.part)
        parts = hands.state.bench.parts
        assert {name for name in names if parts[name].phase is PartPhase.SCRAPPED} == held
        stopped += len(held)
    assert 0 < stopped < 60


def test_a_run_without_parts_is_refused() -> None:
    """A rehearsal without parts is refused."""
    with pytest.raises(Refused):
        rehearse(_run(), 1)


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("count", [1, 3])
def test_every_shipped_recipe_can_be_rehearsed(name: str, count: int) -> None:
    """Each shipped recipe ends with one part and with three; one part keeps every window."""
    for seed in (1, 2, 3, 4, 5):
        record = rehearse(_shipped_run(name, count), seed)
        assert record.phase == "complete"
        stopped = {d.part for d in record.deviations if d.what in ("stop", "tries")}
        outcomes = {part.name: part.outcome for part in record.parts}
        assert outcomes == {p: "scrapped" if p in stopped else "done" for p in outcomes}
        lost = [d for d in record.deviations if d.what in ("early", "overrun", "reading")]
        assert count > 1 or lost == []


def _shipped_run(name: str, count: int) -> NewRun:
    """A run of a shipped recipe, with an ordinary temper where one is needed."""
    recipe = RecipeFiles().find(name)
    names = [f"part {i}" for i in range(count)]
    known = {part: {prop.id: "200 C" for prop in recipe.property} for part in names}
    parts = [(part, name) for part in names]
    return NewRun(recipe.title, {name: recipe_table(recipe)}, parts, properties=known)


def test_simulated_hands_begin_at_once_and_rest_at_night() -> None:
    """A day's etch from 8:00 with nights off starts at once, and nothing starts at night."""
    new = replace(_shipped_run("etch-darken", 1), away=("22:00-07:00",))
    for seed in range(1, 4):
        record = rehearse(new, seed, advice=rehearsing())
        begun = [v.began_s for v in record.parts[0].visits if v.began_s is not None]
        assert min(begun) < 600
        assert not [s for s in begun if 14 * 3600 + 600 < s % 86_400 < 23 * 3600]


def test_work_in_hand_is_finished_after_hours() -> None:
    """Work begun before the away hours goes on into them, and no part stays in hand for long."""
    longer = SMALL.replace('hands = "60 s"', 'hands = "20 min"')
    table_text = table(small_recipe(longer))
    new = NewRun("Test", {"small": table_text}, [("bolster", "small")], away=("08:21-20:00",))
    visits = [v for seed in range(20) for v in rehearse(new, seed).parts[0].visits]
    past = [v for v in visits if (v.began_s or 0) < 1260 < (v.began_s or 0) + (v.hands_s or 0)]
    assert past
    assert max(v.hands_s or 0 for v in visits) < 2 * 3600
