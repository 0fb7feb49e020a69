"""A bath's page: its state as plain values, its history, its line in the list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from benchtimer.bath import bath_decide as c
from benchtimer.bath.bath_events import BathEvent, BathUsed
from benchtimer.bath.bath_wear import WearLimits
from benchtimer.records.bathpage import bath_account, bath_line, bath_sentence, bath_table
from benchtimer.store.log import LogEntry, Stamp
from tests.bath.test_bath_state import MIX, Writer

WALL_MS = 1_770_000_000_000
"""2026-02-02 02:40 UTC, which is bench time 1 000 000 ms here."""

MINUTE = 60_000


def _entries(events: Sequence[BathEvent]) -> list[LogEntry]:
    """The events as log entries, written when they happened, one hour east."""
    return [
        LogEntry(seq, "bath/etch 1", event,
              Stamp(event.t_ms, "b", event.t_ms, WALL_MS + event.t_ms - 1_000_000, 3600))
        for seq, event in enumerate(events, start=1)
    ]  # fmt: skip


def _worked() -> Writer:
    """A bath mixed, topped up, read, used by a run with a reading, and weighed."""
    found = Writer()(MIX, c.TopUp("200 mL of water", "2.1 L"), c.ReadBath("21 C"))
    use = BathUsed(
        press=0, t_ms=found.now_ms + MINUTE, by="benchtimer", run="r1", parts=("pin", "cap"),
        immersions=3, dwell_ms=90 * MINUTE, readings=((found.now_ms + 30_000, "30 C"),),
    )  # fmt: skip
    found.take(use)
    found.now_ms += MINUTE
    return found(c.Wear("3 g"))


def test_the_page_has_everything_that_is_known() -> None:
    """The page has each known figure, wall-clock times of the moment, and all warnings."""
    worked = _worked()
    table: Any = bath_table(
        worked.bath, _entries(worked.events), worked.now_ms, limits=WearLimits(parts=2), busy="r2"
    )
    used_up, words = table.pop("used_up"), table.pop("wear")
    assert table == {
        "format": 1,
        "name": "etch 1",
        "open": True,
        "of": "Etchant",
        "mix": "etchant",
        "recipe": "etch-darken",
        "mixed": "2026-02-02T03:41:00+01:00",
        "age_s": 240,
        "volume": "2.1 L",
        "fecl3_when_fresh": "14 Be",
        "window": ["18 C", "27 C"],
        "in_run": "r2",
        "runs": ["r1"],
        "parts": 2,
        "immersions": 3,
        "dwell_s": 5400,
        "metal_removed_g": 3.0,
        "share_of_limit": 1.0,
        "readings": [
            {"at": "2026-02-02T03:43:00+01:00", "reading": "21 C"},
            {"at": "2026-02-02T03:43:30+01:00", "reading": "30 C", "run": "r1"},
        ],
        "warnings": [
            "spent: 2 parts, this shop's limit is 2",
            "last read 30 C, 1 min 30 s ago: over its window of 18 C to 27 C",
        ],
    }
    assert 0 < used_up < 1
    assert words.startswith("2 parts, 1 h 30 min of dwell; about ")


def test_a_retired_bath_warns_of_nothing() -> None:
    """The page of a retired bath has its disposal and no warnings."""
    found = _worked()(c.Retire("to the collection point"))
    table: Any = bath_table(
        found.bath, _entries(found.events), found.now_ms + 10**9, limits=WearLimits(parts=1)
    )
    assert (table["open"], table["disposed"]) == (False, "to the collection point")
    assert table["retired"] == "2026-02-02T03:46:00+01:00"
    assert table["warnings"] == []
    assert table["age_s"] == 300


def test_unknown_values_are_left_out() -> None:
    """A bath described only in words has no invented figures."""
    found = Writer()(c.MixBath("Brown water"))
    table: Any = bath_table(found.bath, _entries(found.events), found.now_ms)
    absent = {"mix", "recipe", "volume", "fecl3_when_fresh", "window", "in_run", "used_up",
              "metal_removed_g", "share_of_limit", "retired", "disposed"}  # fmt: skip
    assert not absent & set(table)
    assert table["readings"] == table["runs"] == table["warnings"] == []


def test_the_account_marks_undone_entries() -> None:
    """The history keeps every entry with its writer and marks the one undone."""
    found = _worked()(c.ReadBath("99 C"), c.TakeBack())
    rows = bath_account("etch 1", _entries(found.events))
    assert [(row["seq"], row["counts"], row["by"], row["text"]) for row in rows] == [
        (1, True, "anna", "mixed: 2 L of Etchant (mix etchant, recipe etch-darken), "
                          "ferric chloride of 14 Be when fresh"),
        (2, True, "anna", "topped up: 200 mL of water; 2.1 L in the vessel now"),
        (3, True, "anna", "read 21 C"),
        (4, True, "benchtimer", "run r1: pin, cap in 3 immersions, 1 h 30 min of dwell; read 30 C"),
        (5, True, "anna", "3 g of metal dissolved, by weighing the parts"),
        (6, False, "anna", "read 99 C"),
        (7, True, "anna", "taken back: entry 5 made by hand"),
    ]  # fmt: skip
    assert rows[0]["at"] == "2026-02-02T03:41:00+01:00"


def _used(**body: object) -> BathUsed:
    found: dict[str, object] = {"run": "r", "parts": (), "immersions": 0, "dwell_ms": 0, **body}
    return BathUsed(press=0, t_ms=0, by="x", **found)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (_used(), "run r: no parts, 0 s of dwell"),
        (_used(parts=("a",), immersions=1, dwell_ms=600), "run r: a, 1 s of dwell"),
        (_used(parts=("a",), immersions=2), "run r: a in 2 immersions, 0 s of dwell"),
        (
            _used(readings=((1, "65 C"), (2, "66 C"))),
            "run r: no parts, 0 s of dwell; read 65 C, 66 C",
        ),
    ],
)
def test_a_use_has_a_short_line(event: BathUsed, words: str) -> None:
    """A use shows immersions if a part went in more than once, and readings if there are any."""
    assert bath_sentence(event) == words


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"open": True}, "Etchant, 3 d old"),
        ({"open": True, "volume": "2 L"}, "Etchant, 2 L, 3 d old"),
        ({"open": False}, "Etchant, 3 d old  RETIRED"),
        ({"open": True, "in_run": "r2"}, "Etchant, 3 d old  in run r2"),
    ],
)
def test_the_list_has_two_lines_a_bath(more: dict[str, object], words: str) -> None:
    """The list has name, contents, volume, age, and whether the bath is retired or in a run."""
    table = {"name": "etch 1", "of": "Etchant", "age_s": 3 * 86_400, "wear": "2 parts", **more}
    assert bath_line(table).splitlines() == [f"etch 1         {words}", f"{'':15}2 parts"]


def test_times_use_the_nearest_time_stamp() -> None:
    """A reading between two entries uses the clock and zone of the nearer one."""
    found = Writer()(MIX, c.ReadBath("20 C"))
    first, second = _entries(found.events)
    moved = Stamp(second.stamp.noted_ms, "b", 0, second.stamp.wall_ms + 7_200_000, 7200)
    entries = [first, LogEntry(2, second.run, second.event, moved)]
    table: Any = bath_table(found.bath, entries, found.now_ms)
    assert table["mixed"] == "2026-02-02T03:41:00+01:00"
    assert table["readings"][0]["at"] == "2026-02-02T06:42:00+02:00"
