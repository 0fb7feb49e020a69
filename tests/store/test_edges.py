"""The log's small tools at their edges: names, files, times, the lease, foreign files."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.atomic_file import is_alive
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.store.entries import FAR, LogEntry, check_figures, local_time, read_through
from benchtimer.store.errors import Damaged, StoreError
from benchtimer.store.lease import FILE_NAME, Holder, Lease, LeaseTaken, read_holder
from benchtimer.store.log import EventLog
from benchtimer.store.place import (
    free_name,
    has_something,
    identity_of,
    make_empty,
    make_file,
    make_private,
    refuse_remains,
    wal_of,
)
from tests.store.histories import presses_of, stamp_at
from tests.support import Hands

NOON = 1_770_033_600_000


@pytest.mark.parametrize(
    ("wall_ms", "offset_s", "expected"),
    [
        (0, 0, "1970-01-01T00:00:00+00:00"),
        (NOON, 0, "2026-02-02T12:00:00+00:00"),
        (NOON + 999, 3600, "2026-02-02T13:00:00+01:00"),
        (NOON, -16_200, "2026-02-02T07:30:00-04:30"),
        (NOON, 90_000, "2026-02-03T11:59:59+23:59:59"),
        (NOON, -90_000, "2026-02-01T12:00:01-23:59:59"),
        (-1, 0, "1969-12-31T23:59:59+00:00"),
        (10**18, 0, "out of the calendar"),
        (-(10**18), 0, "out of the calendar"),
    ],
)
def test_a_time_of_day_from_any_clock(wall_ms: int, offset_s: int, expected: str) -> None:
    """ISO 8601 to the second with its offset; a time outside the calendar is worded as such."""
    assert local_time(wall_ms, offset_s) == expected


@pytest.mark.parametrize(
    ("press", "t_ms", "good"),
    [(0, 0, True), (FAR, -FAR, True), (-1, 0, False), (FAR + 1, 0, False), (0, FAR + 1, False),
     (0, -FAR - 1, False)],
)  # fmt: skip
def test_numbers_in_an_entry_are_limited(press: int, t_ms: int, good: bool) -> None:
    """Counts and times up to a limit are accepted, and one more is refused."""
    if good:
        check_figures(press, 0, t_ms)
        return
    with pytest.raises(ValueError, match="out of range"):
        check_figures(press, 0, t_ms)


@given(st.integers(1, 30), st.data())
def test_the_first_entry_that_cannot_be_read_is_the_one_named(
    count: int, data: st.DataObject
) -> None:
    """Wherever the damaged entry is, it is found by its number after the good ones."""
    events = [event for events in presses_of(Hands()) for event in events]
    entries = [LogEntry(i, "run", events[0], stamp_at(0)) for i in range(1, count + 1)]
    bad = data.draw(st.integers(1, count))

    def read(some: object) -> int:
        numbers = [entry.seq for entry in some]  # type: ignore[attr-defined]
        if bad in numbers:
            raise ValueError("torn")
        return len(numbers)

    with pytest.raises(StoreError, match=f"entry {bad}: torn"):
        read_through(Path("bench"), entries, read)
    assert read_through(Path("bench"), entries[: bad - 1], read) == bad - 1


def test_free_names_skip_files_and_their_companions(tmp_path: Path) -> None:
    """A name is free if neither the file nor its write-ahead log exists."""
    assert free_name(tmp_path, "kept").name == "kept-1.sqlite3"
    assert free_name(tmp_path, "kept", first="").name == "kept.sqlite3"
    make_empty(tmp_path / "kept-1.sqlite3")
    make_empty(wal_of(tmp_path / "kept-2.sqlite3"))
    make_empty(tmp_path / "kept.sqlite3")
    assert free_name(tmp_path, "kept").name == "kept-3.sqlite3"
    assert free_name(tmp_path, "kept", first="").name == "kept-3.sqlite3"


def test_new_files_are_private_and_overwrite_nothing(tmp_path: Path) -> None:
    """A new file is private to its user; an existing one keeps its contents."""
    path = tmp_path / "a.sqlite3"
    make_file(path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert not has_something(path)
    path.write_text("mine")
    make_file(path)
    assert path.read_text() == "mine"
    assert has_something(path)
    with pytest.raises(FileExistsError):
        make_empty(path)


def test_a_file_is_identified_by_inode_and_not_by_name(tmp_path: Path) -> None:
    """A renamed file is the same file, a copy is another, a deleted one is none."""
    path, other = tmp_path / "a", tmp_path / "b"
    path.write_text("x")
    before = identity_of(path)
    path.rename(other)
    assert identity_of(other) == before
    assert identity_of(path) is None
    path.write_text("x")
    assert identity_of(path) != before


@pytest.mark.parametrize(
    ("there", "said"),
    [
        ({"bench.sqlite3": "x", "bench.sqlite3-wal": "x"}, None),
        ({}, None),
        ({"bench.sqlite3": ""}, None),
        ({"bench.sqlite3": "", "bench.sqlite3-wal": ""}, None),
        ({"bench.sqlite3-wal": "x"}, "it is gone, but bench.sqlite3-wal still exists"),
        ({"bench.sqlite3": "", "bench.sqlite3-wal": "x"}, "it is empty, but"),
        ({"backups/bench-1.sqlite3": "x"}, "it is gone, but bench-1.sqlite3 still exists"),
    ],
)
def test_the_remains_of_a_log_are_not_taken_for_a_new_bench(
    tmp_path: Path, there: dict[str, str], said: str | None
) -> None:
    """Remains of a log without contents are reported, and no new log is begun."""
    (tmp_path / "backups").mkdir()
    for name, text in there.items():
        (tmp_path / name).write_text(text)
    if said is None:
        refuse_remains(tmp_path / "bench.sqlite3")
        return
    with pytest.raises(Damaged, match=said):
        refuse_remains(tmp_path / "bench.sqlite3")


def test_a_folder_under_a_file_is_refused_with_a_way_out(tmp_path: Path) -> None:
    """A data folder that can't be made is named, with how to choose another."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="Choose another folder with --data"):
        make_private(tmp_path / "file" / "bench")
    make_private(tmp_path / "a" / "bench")
    assert (tmp_path / "a" / "bench").stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[]", "null", '{"pid": 1}', '{"pid": "x", "since_wall_ms": 1}', "\x00", "7",
     '{"pid": null, "since_wall_ms": 1}'],
)  # fmt: skip
def test_an_unreadable_holder_counts_as_unknown(tmp_path: Path, text: str) -> None:
    """A lease file with any other content names no one, and the lease can be taken."""
    path = tmp_path / FILE_NAME
    path.write_text(text)
    assert read_holder(path) is None
    Lease(tmp_path, 1).release()
    assert read_holder(tmp_path / "no such file") is None


def test_the_holder_is_named_only_while_it_holds(tmp_path: Path) -> None:
    """The file names the lease's holder and start, privately, and is empty afterward."""
    lease = Lease(tmp_path / "bench", NOON)
    path = tmp_path / "bench" / FILE_NAME
    assert read_holder(path) == Holder(os.getpid(), NOON)
    assert json.loads(path.read_text()) == {"pid": os.getpid(), "since_wall_ms": NOON}
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700
    lease.release()
    assert path.read_text() == ""
    lease.release()
    Lease(tmp_path / "bench", NOON + 1).release()


@pytest.mark.parametrize(
    ("holder", "expected"),
    [(None, "another benchtimer has this bench open"),
     (Holder(4711, 0), "another benchtimer (process 4711) has this bench open")],
)  # fmt: skip
def test_the_holder_of_the_lease_is_named_if_known(holder: Holder | None, expected: str) -> None:
    """The refusal names the process if it is known."""
    assert str(LeaseTaken(holder)) == expected


def test_only_processes_that_run_are_alive() -> None:
    """This process and the system's count as alive; one that ended does not."""
    with subprocess.Popen([sys.executable, "-c", ""]) as ended:
        pass
    assert is_alive(os.getpid())
    assert is_alive(1)
    assert not is_alive(ended.pid)


def test_facts_of_a_file_are_written_once(tmp_path: Path) -> None:
    """The first value of a fact stays; a reader finds it and writes none."""
    with closing(EventLog(tmp_path)) as log:
        assert log.fact("colour") is None
        assert log.fact("colour", "grey") == "grey"
        assert log.fact("colour", "black") == "grey"
    with closing(EventLog(tmp_path, read_only=True)) as log:
        assert log.fact("colour") == "grey"


@pytest.mark.skipif(os.name != "posix", reason="links are of another kind here")
def test_a_lease_file_that_is_a_link_is_refused(tmp_path: Path) -> None:
    """A linked lease file is refused, its target untouched, and the message says what to remove."""
    target = tmp_path / "letter.txt"
    target.write_text("dear customer")
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / FILE_NAME).symlink_to(target)
    with pytest.raises(OSError, match=r"driver\.lock in it is a link"):
        Lease(tmp_path / "bench", 1)
    with pytest.raises(StoreError, match=r"driver\.lock in it is a link"):
        drive(tmp_path / "bench", ManualClock(NOON))
    assert target.read_text() == "dear customer"


@pytest.mark.skipif(os.name != "posix", reason="links are of another kind here")
def test_a_lease_file_with_a_second_name_is_locked_and_left_as_it_is(tmp_path: Path) -> None:
    """A lease file with hard links is locked and keeps its text."""
    target = tmp_path / "letter.txt"
    target.write_text("dear customer")
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / FILE_NAME).hardlink_to(target)
    lease = Lease(tmp_path / "bench", 1)
    with pytest.raises(LeaseTaken):
        Lease(tmp_path / "bench", 2)
    lease.release()
    Lease(tmp_path / "bench", 3).release()
    assert target.read_text() == "dear customer"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no such pipes here")
def test_a_lease_file_that_is_a_pipe_is_refused(tmp_path: Path) -> None:
    """A lease file that is a pipe is refused without waiting."""
    os.mkfifo(tmp_path / FILE_NAME)
    with pytest.raises(OSError, match="not a regular file"):
        Lease(tmp_path, 1)
    assert read_holder(tmp_path / FILE_NAME) is None
