"""The record of a run as a file, and the bench's runs folded from the log."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.bench.openruns import OpenRuns, is_at_work
from benchtimer.bench.recordfile import records_folder, run_without_record, write_record_file
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from benchtimer.store.log import EventLog, StoreError
from tests.store.histories import write
from tests.support import GEARED, Hands

RUN = "2026-02-02-1"


@pytest.fixture(name="log")
def _log(tmp_path: Path) -> Iterator[EventLog]:
    """An empty log."""
    with closing(EventLog(tmp_path)) as log:
        yield log


def _record(log: EventLog, hands: Hands) -> Record:
    write(log, hands, RUN)
    return make_record(log.entries(RUN))


def test_a_record_is_written_once_and_replaced_whole(log: EventLog) -> None:
    """It reads back, is private, is replaced only when changed, and leaves no partial file."""
    folder = log.path.parent
    record = _record(log, Hands())
    path = write_record_file(folder, record)
    assert tomllib.loads(path.read_text("utf-8"))["run"] == RUN
    assert path.stat().st_mode & 0o777 == 0o600
    before = path.stat().st_ino
    write_record_file(folder, record)
    assert path.stat().st_ino == before
    path.write_text("torn")
    write_record_file(folder, record)
    assert tomllib.loads(path.read_text("utf-8"))["run"] == RUN
    assert [found.name for found in path.parent.iterdir()] == [path.name]


def test_a_record_that_cannot_be_written_says_what_to_do(log: EventLog) -> None:
    """A file in place of the folder is refused, and the message says where the log is."""
    records_folder(log.path.parent).write_text("in the way")
    with pytest.raises(StoreError, match="The log has everything: benchtimer record"):
        write_record_file(log.path.parent, _record(log, Hands()))


@pytest.mark.parametrize("over", [False, True])
def test_the_run_that_ended_last_gets_its_record(log: EventLog, over: bool) -> None:
    """Only a run whose last press ended it can lack its record."""
    assert run_without_record(log) is None
    hands = Hands()
    if over:
        hands(c.Abort("enough"))
    write(log, hands, RUN)
    assert run_without_record(log) == (RUN if over else None)


def test_each_entry_is_applied_to_its_run_once(log: EventLog) -> None:
    """A run is folded as entries come, and an entry seen before changes nothing."""
    hands = Hands()
    write(log, hands, RUN)
    entries = log.entries(RUN)
    runs = OpenRuns(log)
    runs.follow(entries[:1])
    runs.follow(entries)
    runs.follow(entries)
    assert runs.names == [RUN]
    assert runs.state(RUN) == hands.state
    line = runs.line(RUN, hands.state)
    assert line == log.run_line(RUN)


def test_an_entry_of_an_unknown_run_loads_the_whole_run(log: EventLog) -> None:
    """An entry of an unknown run loads the run from its beginning."""
    hands = Hands()
    write(log, hands, RUN)
    runs = OpenRuns(log)
    runs.follow(log.entries(RUN)[-1:])
    assert runs.state(RUN) == hands.state
    with pytest.raises(StoreError, match="it has no run 2026-02-02-9"):
        runs.state("2026-02-02-9")


@pytest.mark.parametrize(
    ("presses", "at_work"),
    [
        ([], False),
        ([*GEARED], True),
        ([*GEARED, c.Hold(None)], True),
        ([*GEARED, c.Undo()], True),
        ([*GEARED, c.Abort("x")], False),
    ],
    ids=["laid out", "running", "held", "start taken back", "over"],
)
def test_only_a_run_with_timers_is_at_work(presses: list[c.Command], at_work: bool) -> None:
    """Only a running or held run, or one whose start can be redone, has timers."""
    hands = Hands(started=False)
    for command in presses:
        hands(command)
    assert is_at_work(hands.state) == at_work
