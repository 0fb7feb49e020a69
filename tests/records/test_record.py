"""The record: plan, events and corrections."""

from __future__ import annotations

import json
import tomllib

import pytest

from benchtimer.records.export import as_json, as_table, as_text, as_toml
from benchtimer.records.record import Record, local_time, make_record
from benchtimer.records.sentences import sentence
from benchtimer.run import commands as c
from benchtimer.run.events import (
    KINDS,
    AlarmSilenced,
    ClockJumped,
    Event,
    Reopened,
    WrittenLate,
)
from benchtimer.store.log import LogEntry, Stamp
from benchtimer.store.standing import standing
from tests.support import MINUTE, Hands

ZERO_WALL = 1_770_000_000_000


def _entries(hands: Hands) -> list[LogEntry]:
    """The events as log entries, written when pressed, one hour east."""
    entries = []
    noted = 0
    for seq, event in enumerate(hands.events, start=1):
        noted = max(noted, event.t_ms)
        wall = ZERO_WALL + noted - 1_000_000
        entries.append(LogEntry(seq, "2026-01-05-1", event, Stamp(noted, "b", noted, wall, 3600)))
    return entries


def _record(hands: Hands) -> Record:
    return make_record(_entries(hands))


def _worked() -> Hands:
    """One part through a failed check and a late press that was backdated."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 9 * MINUTE)
    hands(c.BackDate(2 * MINUTE))
    hands(c.Answer("bolster", "even", False))
    hands(c.Note("the tank looked cloudy", "bolster"))
    hands.to_tank()
    hands(c.Begin("bolster"), 3 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    hands(c.Undo())
    return hands


def test_dwells_are_listed_with_their_windows() -> None:
    """Each visit has real and planned times, and its verdict."""
    visits = _record(_worked()).parts[0].visits
    dips = [v for v in visits if v.step == "dip"]
    assert [(v.repeat, v.dwell_s, v.verdict) for v in dips] == [
        (0, 7 * 60.0, "within"),
        (1, 3 * 60.0, "early"),
    ]
    assert (dips[0].min_s, dips[0].target_s, dips[0].max_s) == (240, 300, 480)
    assert [v.hands_s for v in visits if v.step == "prepare"] == [60.0, 60.0]


def test_undone_presses_stay_in_the_log() -> None:
    """The log has every entry, and entries that no longer count are marked."""
    record = _record(_worked())
    gone = [line.text for line in record.lines if not line.counts]
    assert "OVERRUN: bolster had 9 min in Tank, wanted at most 8 min" in gone
    assert "bolster: Is it even? yes" in gone
    assert len(record.lines) == len(_worked().events)
    assert record.answers == [a for a in record.answers if a.no is True]


def test_corrections_name_the_first_entry_and_its_replacement() -> None:
    """A correction lists the sentences it removed and those that replaced them."""
    retimed, undone = _record(_worked()).corrections
    assert retimed.what.startswith("backdated by 2 min")
    assert any("(9 min)" in said for said in retimed.first_said)
    assert any("(7 min)" in said for said in retimed.now)
    assert undone.first_said[0] == "bolster: Is it even? yes"


def test_a_redone_press_counts_again() -> None:
    """After undo and redo the entries of the press count again."""
    hands = _worked()
    hands(c.Redo())
    entries = _entries(hands)
    answers = [x.seq for x in entries if type(x.event).__name__ == "Answered"]
    assert set(answers) <= standing(entries)


def test_times_are_local_and_to_the_second() -> None:
    """Times of day carry their offset, and a backdated entry shows when it was written."""
    record = _record(_worked())
    assert record.created == local_time(ZERO_WALL, 3600)
    late = [line for line in record.lines if line.at != line.noted_at]
    assert late
    assert all(line.at < line.noted_at for line in late)


@pytest.mark.parametrize(
    ("wall_ms", "offset", "text"),
    [
        (0, 0, "1970-01-01T00:00:00+00:00"),
        (1_774_746_000_000, 3600, "2026-03-29T02:00:00+01:00"),
        (1_774_746_000_000, 7200, "2026-03-29T03:00:00+02:00"),
        (10**18, 0, "out of the calendar"),
    ],
)
def test_local_times_across_clock_changes(wall_ms: int, offset: int, text: str) -> None:
    """A moment shows in the offset of its day, and an impossible clock is reported."""
    assert local_time(wall_ms, offset) == text


def test_the_exports_hold_the_same_record() -> None:
    """JSON and TOML read back to the same table."""
    record = _record(_worked())
    table = json.loads(as_json(record))
    assert table == json.loads(json.dumps(as_table(record)))
    assert tomllib.loads(as_toml(record)) == table
    assert table["format"] == 2


def test_the_text_has_every_step() -> None:
    """The readable form has the parts, the deviations, the notes and the corrections."""
    text = as_text(_record(_worked()))
    for piece in (
        "#1 bolster: in hand, sent back once",
        "Dip (repeat 1)",
        "CUT SHORT",
        "the tank looked cloudy",
        "Corrections",
        "[bolster: Is it even? yes]",
        "(written at ",
    ):
        assert piece in text


def test_practice_is_marked_first() -> None:
    """A practice record says so before anything else."""
    record = _record(_worked())
    record.speed = 30
    assert as_text(record).startswith("PRACTICE")


def test_every_kind_of_event_has_its_sentence() -> None:
    """Every event has a sentence, and none shows its Python name."""
    from benchtimer.records.sentences import _SAY, Words

    assert set(_SAY) == set(KINDS.values())
    words = Words({}, {})
    bystanders: list[Event] = [
        ClockJumped(press=0, t_ms=0, by="benchtimer", by_ms=-86_400_000),
        Reopened(press=0, t_ms=0, by="benchtimer", elapsed_from="wall clock", away_ms=5000),
        Reopened(press=0, t_ms=0, by="benchtimer", elapsed_from="nothing", away_ms=0),
        Reopened(press=0, t_ms=0, by="x", elapsed_from="wall clock set since", away_ms=5000),
        WrittenLate(press=0, t_ms=0, by="benchtimer", entries=1, late_ms=5000, why="disk full"),
        WrittenLate(press=0, t_ms=0, by="benchtimer", entries=2, late_ms=5000, why="disk full"),
        AlarmSilenced(press=0, t_ms=0, by="maker", for_ms=60_000, due="NOW PULL bolster"),
    ]
    said = [sentence(event, words) for event in bystanders]
    assert said == [
        "the wall clock was set back by 1 d; no timer changed",
        "reopened after 5 s; time away by the wall clock",
        "reopened; the wall clock was wrong, so the time away is unknown",
        "the wall clock was corrected: 5 s more time away; the timers include it",
        "the entry before this was saved 5 s late, with its own time: disk full",
        "2 entries before this were saved up to 5 s late, with their own times: disk full",
        "alarm silenced for 1 min: NOW PULL bolster",
    ]


def test_a_log_without_its_beginning_makes_no_record() -> None:
    """A record needs the entry that set the run up."""
    with pytest.raises(ValueError, match="begins with its setup"):
        make_record(_entries(_worked())[1:])


def test_holding_the_run_is_not_hands_on_time() -> None:
    """Time on hold of the whole run doesn't count as work on the part in hand."""
    hands = Hands(names=("bolster",))
    hands(c.Begin("bolster"))
    hands(c.Hold(None), 10_000)
    hands(c.Resume(None), 60 * MINUTE)
    hands(c.Finish("bolster"), 10_000)
    assert _record(hands).parts[0].visits[0].hands_s == 20.0


def test_a_reading_above_its_ceiling_is_reported_as_such() -> None:
    """A reading over the ceiling is worded as such and counts as a deviation."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    hands(c.Answer("bolster", "heat", "60 C"))
    found = _record(hands)
    assert found.answers[-1].above_ceiling
    assert found.deviations[-1].what == "ceiling"
    assert found.deviations[-1].limit == "never above 50 C"


def test_a_note_of_several_lines_forges_no_entry() -> None:
    """Further lines of a note are marked, so none can pass for a log entry."""
    hands = Hands(names=("bolster",))
    hands(c.Note("hello\n  2026-11-25T10:00:00+00:00  bolster done"))
    text = as_text(_record(hands))
    assert not [x for x in text.splitlines() if x.startswith("  2026-11-25")]
    assert "        |   2026-11-25T10:00:00+00:00  bolster done" in text
