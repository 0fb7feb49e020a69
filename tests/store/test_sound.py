"""A restored log may only contain what this program could have written, whatever its seals."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given

from benchtimer.run import commands as c
from benchtimer.run.events import Created, Event, Noted
from benchtimer.store.index import Query
from benchtimer.store.log import FILE_NAME, EventLog, RunLine
from benchtimer.store.log_transfer import NotCarried, backup, restore
from benchtimer.store.log_validity import check_order, check_texts, checked_run
from benchtimer.store.register import Register
from tests.store.histories import DISK, NOON, histories, stamp_at, terms, write
from tests.support import Hands

RUN = "2026-02-02-1"


@given(histories())
@DISK
def test_any_bench_can_be_restored(hands: Hands) -> None:
    """A copy of any history is accepted, and the log made of it has the same entries and index."""
    with TemporaryDirectory() as place:
        here, there = Path(place) / "here", Path(place) / "there"
        with closing(EventLog(here)) as log:
            write(log, hands, RUN)
        backup(here, Path(place) / "copy.sqlite3")
        there.mkdir()
        assert restore(there, Path(place) / "copy.sqlite3") is None
        with closing(EventLog(there, read_only=True)) as log:
            assert [entry.event for entry in log.entries(RUN)] == hands.events
            assert [line.name for line in log.runs()] == [RUN]
        assert terms(there) == terms(here)
        assert [path.name for path in there.glob(".restoring-*")] == []


def test_the_register_of_a_copy_is_not_trusted(tmp_path: Path) -> None:
    """The register's data about a run is rebuilt from its entries."""
    with closing(EventLog(tmp_path / "here")) as log:
        write(log, Hands(), RUN)
    copy = tmp_path / "copy.sqlite3"
    backup(tmp_path / "here", copy)
    with closing(sqlite3.connect(copy, isolation_level=None)) as db:
        register = Register(db)
        lie = RunLine(RUN, "complete", "Lies", ("x",), NOON, 3600)
        register.set_line(lie)
        register.set_terms(lie, [])
    restore(tmp_path / "here", copy)
    with closing(EventLog(tmp_path / "here", read_only=True)) as log:
        (line,) = log.runs()
        assert (line.phase, line.title) == ("running", "Test")
        assert line.parts == ("bolster", "ferrule", "butt cap")
        assert [found.name for found in log.find(Query(part="bolster"))] == [RUN]


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TRIGGER helpful AFTER INSERT ON event BEGIN DELETE FROM register; END",
        "DROP TRIGGER event_stays",
        "CREATE TABLE more (x)",
        "CREATE INDEX more ON event (by)",
    ],
)
def test_tables_of_a_copy_must_be_the_programs_own(tmp_path: Path, statement: str) -> None:
    """A missing or extra trigger, table or index is refused by its name."""
    with closing(EventLog(tmp_path / "here")) as log:
        write(log, Hands(), RUN)
    copy = tmp_path / "copy.sqlite3"
    backup(tmp_path / "here", copy)
    before = (tmp_path / "here" / FILE_NAME).read_bytes()
    with closing(sqlite3.connect(copy)) as db:
        db.execute(statement)
    with pytest.raises(NotCarried, match="differs from what benchtimer creates"):
        restore(tmp_path / "here", copy)
    assert (tmp_path / "here" / FILE_NAME).read_bytes() == before


Change = Callable[[list[Event]], list[Event]]


def _with_first(**fields: object) -> Change:
    return lambda events: [replace(events[0], **fields), *events[1:]]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda events: events[1:], "does not begin with its setup"),
        (lambda events: [events[0], *events], "or does so twice"),
        (_with_first(parts=(("bolster", "none"),), numbers=()), "none"),
        (_with_first(numbers=(1, 2)), "each part a number of its own"),
        (_with_first(numbers=(1, 2, 2)), "each part a number of its own"),
        (_with_first(recipes={}), "small"),
    ],
    ids=[
        "no beginning",
        "two beginnings",
        "no such recipe",
        "few numbers",
        "same number",
        "no recipe at all",
    ],
)
def test_an_impossible_history_is_refused(change: Change, said: str) -> None:
    """A run that could not have happened is refused, however well sealed."""
    with pytest.raises((ValueError, KeyError, LookupError), match=said):
        checked_run(RUN, change(Hands().events))


@pytest.mark.parametrize("name", ["", "2026-02-02", "../2026-02-02-1", "2026-02-02-1\n", "run 1"])
def test_a_name_that_leaves_the_folder_is_refused(name: str) -> None:
    """Only names of the program's own form are names of runs."""
    assert checked_run(RUN, Hands().events).presses > 0
    with pytest.raises(ValueError, match="its name is not one"):
        checked_run(name, Hands().events)


@pytest.mark.parametrize(
    ("times_ms", "good"),
    [
        ([], True),
        ([(1, 1), (2, 2), (2, 2)], True),
        ([(1, 1), (1, 2)], True),
        ([(2, 2), (1, 1)], False),
        ([(2, 1)], False),
        ([(1, 1), (3, 2)], False),
    ],
)
def test_time_goes_forward_in_a_log(times_ms: list[tuple[int, int]], good: bool) -> None:
    """Entries are in order of time, and none is written before it happened."""
    if good:
        check_order(times_ms)
        return
    with pytest.raises(ValueError, match="not in the order of time"):
        check_order(times_ms)


@pytest.mark.parametrize("bad", ["\x1b[2J", "\u202e", "\x07"])
def test_no_text_in_a_log_reaches_the_screen_raw(bad: str) -> None:
    """Escape codes and direction marks are refused in any text."""
    note = Noted(press=1, t_ms=0, by="maker", part=None, text="line one\nline two")
    check_texts(note)
    for event in (replace(note, text=f"a{bad}"), replace(note, by=bad)):
        with pytest.raises(ValueError, match="could disturb the screen"):
            check_texts(event)
    first = Hands().events[0]
    assert isinstance(first, Created)
    with pytest.raises(ValueError, match="could disturb the screen"):
        check_texts(replace(first, recipes={"small": {"title": [bad]}}))


def test_an_open_run_must_be_workable(tmp_path: Path) -> None:
    """An open run whose entries go back in time is refused by its entry."""
    hands = Hands()
    with closing(EventLog(tmp_path / "here")) as log:
        write(log, hands, RUN)
        late = Noted(press=9, t_ms=hands.now_ms, by="maker", part=None, text="x")
        log.append(RUN, [late], stamp_at(hands.now_ms - 60_000))
    backup(tmp_path / "here", tmp_path / "copy.sqlite3")
    hands(c.Note("the good one"))
    with pytest.raises(NotCarried, match=f"entry {len(hands.events)}: .*order of time"):
        restore(tmp_path / "here", tmp_path / "copy.sqlite3")
