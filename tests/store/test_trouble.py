"""The log in trouble: damaged entries, full disks, other writers, read-only folders."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from benchtimer.bench.bath_book import BathBook
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.events import Noted
from benchtimer.store.log import FILE_NAME, EventLog, RunLine, Stamp, StoreError
from benchtimer.store.schema import APPLICATION_ID, VERSION
from tests.behind import behind
from tests.support import small_recipe, table

NOON = 1_770_000_000_000
STAMP = Stamp(noted_ms=5000, boot="b", count_ms=77, wall_ms=1000, offset_s=3600)
NOTE = Noted(press=1, t_ms=4000, by="maker", part=None, text="one")
NOBODY = 65534


def _line(name: str, created_ms: int = 1000) -> RunLine:
    return RunLine(name, "running", "Test", ("bolster",), created_ms, 3600)


def _laid_out(folder: Path) -> str:
    with closing(drive(folder, ManualClock(NOON))) as driver:
        return driver.set_up(
            NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])
        )


def _damage(folder: Path, body: str) -> None:
    with behind(folder / FILE_NAME) as db:
        db.execute("UPDATE event SET body = ? WHERE seq = 1", (body,))


@pytest.mark.parametrize(
    "body",
    [
        "{}",
        "[]",
        "[" * 100_000,
        "no json",
        '{"uid":"x","title":"t","recipes":{},"parts":[1]}',
        '{"uid":"x","title":"t","recipes":{},"parts":7}',
        '{"uid":"x","title":"t","recipes":{},"parts":[],"baths":[1]}',
        '{"uid":"x","title":"t","recipes":{},"parts":[],"hands":"many"}',
        '{"uid":"x","title":"t","recipes":{"k":{}},"parts":[["a","k"]]}',
        '{"uid":"x","title":"t","recipes":{},"parts":[["a","k"]]}',
    ],
)
def test_a_damaged_entry_is_named_by_number(tmp_path: Path, body: str) -> None:
    """With a damaged entry body, driver, watcher and record all name the entry."""
    name = _laid_out(tmp_path)
    _damage(tmp_path, body)
    with pytest.raises(StoreError, match="entry 1: "):
        drive(tmp_path, ManualClock(NOON))
    with pytest.raises(StoreError, match="entry 1: "):
        look_on(tmp_path, ManualClock(NOON))
    with closing(EventLog(tmp_path, read_only=True)) as log, pytest.raises(StoreError):
        BathBook(log).record(name)


def test_the_first_damaged_entry_is_the_one_named(tmp_path: Path) -> None:
    """Among good entries, the first that can't be replayed is named."""
    name = _laid_out(tmp_path)
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        for _ in range(3):
            driver.press(name, c.Note("good"))
    with behind(tmp_path / FILE_NAME) as db:
        db.execute("""UPDATE event SET kind = 'redone', body = '{"undone":9}' WHERE seq = 3""")
    with pytest.raises(StoreError, match="entry 3: "):
        drive(tmp_path, ManualClock(NOON))


def test_a_full_disk_is_named(tmp_path: Path) -> None:
    """After SQLite's own rollback the message still says the disk is full, and the log recovers."""
    with closing(EventLog(tmp_path)) as log:
        log.append("a", [NOTE], STAMP, _line("a"))
        log._db.execute(
            "CREATE TEMP TRIGGER no_room BEFORE INSERT ON event"
            " BEGIN SELECT RAISE(ROLLBACK, 'database or disk is full'); END"
        )
        with pytest.raises(StoreError, match=r"disk is full.*Nothing was written"):
            log.append("a", [NOTE], STAMP)
        log._db.execute("DROP TRIGGER no_room")
        assert [entry.seq for entry in log.append("a", [NOTE], STAMP)] == [2]


def test_a_second_writer_is_detected(tmp_path: Path) -> None:
    """After another program's entry nothing is written, and the message says so."""
    with closing(EventLog(tmp_path)) as mine, closing(EventLog(tmp_path)) as other:
        mine.append("a", [NOTE], STAMP, _line("a"))
        with pytest.raises(StoreError, match="another program wrote entry 1"):
            other.append("a", [NOTE], STAMP, _line("a"))
        mine.append("bath/brew", [NOTE], STAMP)
        assert [entry.seq for entry in mine.entries_after(0)] == [1, 2]


def test_the_newest_run_is_the_one_set_up_last(tmp_path: Path) -> None:
    """A wall clock set back does not reorder the register."""
    with closing(EventLog(tmp_path)) as log:
        log.append("first", [NOTE], STAMP, _line("first", 2000))
        log.append("second", [NOTE], STAMP, _line("second", 1000))
        log.append("first", [NOTE], STAMP, _line("first", 2000))
        assert [line.name for line in log.runs()] == ["second", "first"]


def test_a_newer_file_in_another_mode_is_untouched(tmp_path: Path) -> None:
    """The version check comes before the journal mode is set."""
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as db:
        db.execute("CREATE TABLE later (mood TEXT)")
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {VERSION + 1}")
        db.commit()
    before = (tmp_path / FILE_NAME).read_bytes()
    with pytest.raises(StoreError, match="nothing was changed"):
        EventLog(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == [FILE_NAME]


@contextmanager
def _as_a_guest(folder: Path, mode: int = 0o555) -> Iterator[None]:
    """A folder with this mode, used without administrator rights, which would override it."""
    user = os.geteuid()
    folder.chmod(mode)
    if user == 0:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(user)
        folder.chmod(0o755)


@pytest.fixture(name="open_folder")
def _open_folder() -> Iterator[Path]:
    """A folder that other users may read."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights of files are of another kind here")
def test_a_read_only_folder_is_read(open_folder: Path) -> None:
    """A cleanly closed log can be read in a read-only folder."""
    name = _laid_out(open_folder)
    (open_folder / FILE_NAME).chmod(0o644)  # its owner lets others read it
    with _as_a_guest(open_folder), closing(EventLog(open_folder, read_only=True)) as log:
        assert [line.name for line in log.runs()] == [name]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights of files are of another kind here")
def test_presses_beside_the_file_are_never_overlooked(open_folder: Path) -> None:
    """A log with presses still outside its file is refused, not read without them."""
    with closing(EventLog(open_folder)) as log:
        log.append("a", [NOTE], STAMP, _line("a"))
        files = {path.name: path.read_bytes() for path in open_folder.iterdir()}
    for kept in (FILE_NAME, f"{FILE_NAME}-wal"):
        (open_folder / kept).write_bytes(files[kept])
    with _as_a_guest(open_folder), pytest.raises(StoreError, match="unable to open"):
        EventLog(open_folder, read_only=True)


@pytest.mark.parametrize("read_only", [True, False])
def test_an_unreadable_folder_is_named(tmp_path: Path, read_only: bool) -> None:
    """A name too long for any folder gets a message, not a traceback."""
    with pytest.raises(StoreError, match=r"name too long.*--data"):
        EventLog(tmp_path / ("x" * 300), read_only=read_only)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights of files are of another kind here")
@pytest.mark.parametrize("read_only", [True, False])
def test_another_users_folder_is_named(open_folder: Path, read_only: bool) -> None:
    """A folder you may not open gets a message, not a traceback."""
    with _as_a_guest(open_folder, 0o000), pytest.raises(StoreError, match=r"denied.*--data"):
        EventLog(open_folder, read_only=read_only)
