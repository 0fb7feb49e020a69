"""Time in hand and time in a station, computed a second time from the bench."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given

from benchtimer.records.record import make_record
from benchtimer.records.worked import worked_in
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.run_state import PartPhase
from benchtimer.store.log import LogEntry
from tests.records.conftest import PART, Knife
from tests.records.golden import entries_of
from tests.records.laws import PRESSES, Presses, log_of, stretches
from tests.support import MINUTE, Hands


def _worked_s(entries: Sequence[LogEntry]) -> dict[str, float]:
    """Seconds each part was worked on: in hand, with neither part nor run on hold."""
    done: dict[str, float] = defaultdict(float)
    open_ms: dict[str, int] = defaultdict(int)
    for bench, since_ms, until_ms, event in stretches(entries):
        for part in bench.parts.values():
            if part.phase is PartPhase.IN_HAND and part.held is None and bench.held is None:
                open_ms[part.name] += until_ms - since_ms
        if isinstance(event, e.WorkFinished | e.Sent | e.Skipped):
            done[event.part] += open_ms.pop(event.part, 0) / 1000
    return done


@given(PRESSES)
def test_hands_on_time_is_time_in_hand_without_the_holds(presses: Presses) -> None:
    """With any holds, undos and backdating, hands-on time is the time the part was worked on."""
    entries = log_of(presses)
    worked = _worked_s(entries)
    record = make_record(entries)
    for part in record.parts:
        assert part.hands_s == pytest.approx(worked[part.name], abs=0.01)
    assert record.hands_s == pytest.approx(sum(worked.values()), abs=0.02)


def test_work_ended_by_a_skip_counts() -> None:
    """Skipping steps in the middle of a step ends its work, and the time in hand stays counted."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Skip("bolster", "judge", "no time"), 3000)
    (part,) = make_record(entries_of(hands)).parts
    assert part.visits[-1].step == "look"
    assert part.visits[-1].hands_s == 3.0


@pytest.mark.parametrize(
    "holds",
    [
        (c.Hold("bolster"), c.Hold(None), c.Resume(None), c.Resume("bolster")),
        (c.Hold("bolster"), c.Hold(None), c.Resume("bolster"), c.Resume(None)),
        (c.Hold(None), c.Hold("bolster"), c.Resume(None), c.Resume("bolster")),
    ],
)
def test_a_hold_within_a_hold_counts_once(holds: tuple[c.Command, ...]) -> None:
    """A part on hold during a hold of the run loses that time once, not twice."""
    hands = Hands(names=("bolster",))
    hands(c.Begin("bolster"))
    for command in holds:
        hands(command, 10_000)
    hands(c.Finish("bolster"), 10_000)
    assert make_record(entries_of(hands)).parts[0].visits[0].hands_s == 20.0


def test_a_part_held_to_the_end_was_not_worked_on() -> None:
    """A part sent back during two holds was worked on until the first."""
    hands = Hands(names=("bolster",))
    hands(c.Begin("bolster"))
    hands(c.Hold("bolster"), 10_000)
    hands(c.Hold(None), 10_000)
    hands(c.Resume(None), 10_000)
    hands(c.SendBack("bolster", "prepare"), 60_000)
    assert make_record(entries_of(hands)).parts[0].visits[0].hands_s == 10.0


def test_a_hold_in_the_tank_does_not_shorten_the_dwell() -> None:
    """The dwell of a held part is as long as it was in the tank, since chemistry continues."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Hold(None), MINUTE)
    hands(c.Resume(None), 5 * MINUTE)
    hands(c.Begin("bolster"), MINUTE)
    dip = make_record(entries_of(hands)).parts[0].visits[1]
    assert (dip.dwell_s, dip.hands_s, dip.verdict) == (420.0, 20.0, "within")


def test_the_time_of_a_part_counts_for_its_job(knife: Knife) -> None:
    """Hands-on time counts for the job of its part, or for no job."""
    of_job = replace(knife.record, jobs={PART: "petty knife/blade"})
    [worked] = worked_in([of_job])
    [alone] = worked_in([knife.record])
    assert (worked.job, worked.job_part) == ("petty knife", "blade")
    assert (alone.job, alone.job_part) == ("", PART)
    assert worked.hands_s == alone.hands_s > 0
