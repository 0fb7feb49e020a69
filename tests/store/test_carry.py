"""Moving the log: backup, restore, runs as files."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.atomic_file import WRITING
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.records.record_lookup import record_of
from benchtimer.run import commands as c
from benchtimer.store.backups import make_backup, way_back
from benchtimer.store.index import Query
from benchtimer.store.log import FILE_NAME, EventLog, StoreError
from benchtimer.store.log_transfer import NotCarried, backup, carry_in, read_run, restore, run_lines
from tests.behind import behind
from tests.support import GEARED, small_recipe, start, table

NOON = 1_770_000_000_000
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])


@pytest.fixture(name="driver")
def _driver(tmp_path: Path) -> Iterator[OpenBench]:
    """A bench with one closed run, with undone presses."""
    clock = ManualClock(NOON, boot="there", offset_s=3600)
    driver = drive(tmp_path / "there", clock, by="anna")
    name = driver.set_up(NEW)
    for command in (*GEARED, c.Note("cloudy"), c.Undo(), c.Redo(), c.Abort("done for today")):
        clock.advance(60_000)
        driver.press(name, command)
    driver.press(name, c.Judge("bolster", "rework", 2))
    yield driver
    driver.close()


def _file(driver: OpenBench, folder: Path) -> Path:
    name = driver._log.runs()[0].name
    path = folder / f"{name}.jsonl"
    path.write_text("\n".join(run_lines(driver._log.entries(name))) + "\n", encoding="utf-8")
    return path


@pytest.fixture(name="log")
def _log(tmp_path: Path) -> Iterator[EventLog]:
    """The log of another bench."""
    log = EventLog(tmp_path / "here")
    yield log
    log.close()


def test_a_run_is_the_same_after_export_and_import(
    driver: OpenBench, log: EventLog, tmp_path: Path
) -> None:
    """Imported into another log, a run has an equal record and is found by the same words."""
    path = _file(driver, tmp_path)
    name = carry_in(log, path, read_run(path), NOON)
    assert name == "2026-02-02-1"
    there, here = driver.record(name), record_of(log, name)
    for lines in (there.lines, here.lines):
        assert [line.text for line in lines][-1] == "bolster judged: rework, rating 2 of 5"
    assert here.parts == there.parts
    assert here.notes == there.notes
    assert [run.name for run in log.find(Query(words=("cloudy",), verdict="rework"))] == [name]


def test_importing_twice_changes_nothing(driver: OpenBench, log: EventLog, tmp_path: Path) -> None:
    """A run already in the log stays as it is, even if it has grown since."""
    path = _file(driver, tmp_path)
    carry_in(log, path, read_run(path), NOON)
    before = log.last_seq()
    assert carry_in(log, path, read_run(path), NOON) is None
    assert log.last_seq() == before
    driver.press("2026-02-02-1", c.Note("later"))
    assert carry_in(driver._log, path, read_run(path), NOON) is None


def test_a_different_run_with_the_same_id_is_refused(
    driver: OpenBench, log: EventLog, tmp_path: Path
) -> None:
    """A file of a known run with different entries is refused, and the log keeps its own."""
    path = _file(driver, tmp_path)
    carry_in(log, path, read_run(path), NOON)
    path.write_text(path.read_text(encoding="utf-8").replace("cloudy", "clear"), encoding="utf-8")
    with pytest.raises(NotCarried, match="other entries"):
        carry_in(log, path, read_run(path), NOON)


def test_another_run_with_the_same_name_gets_a_letter(
    driver: OpenBench, log: EventLog, tmp_path: Path
) -> None:
    """Two runs of the same name from two benches are both kept."""
    path = _file(driver, tmp_path)
    carry_in(log, path, read_run(path), NOON)
    uid = json.loads(path.read_text(encoding="utf-8").splitlines()[0])["uid"]
    path.write_text(path.read_text(encoding="utf-8").replace(uid, "f" * 32), encoding="utf-8")
    assert carry_in(log, path, read_run(path), NOON) == "2026-02-02-1b"


def test_imported_runs_move_no_clock(driver: OpenBench, tmp_path: Path) -> None:
    """Bench time continues from this machine's last entry, not from another's."""
    path = _file(driver, tmp_path)
    clock = ManualClock(NOON - 10**9, boot="here")
    here = drive(tmp_path / "here", clock)
    name = here.set_up(NEW)
    start(here, name)
    before = here.stamp().noted_ms
    carry_in(here._log, path, read_run(path), NOON)
    here.close()
    clock.advance(5000)
    again = drive(tmp_path / "here", clock)
    assert again.stamp().noted_ms == before + 5000
    again.press(name, c.Note("goes on"))
    again.close()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"benchtimer run"', '"a shopping list"', "not a run of benchtimer"),
        ('"form":1', '"form":9', "form is 9"),
        ('"kind":"started"', '"kind":"levitated"', "levitated"),
        ('"press":1', '"press":"one"', "whole number"),
        ('"run":"2026-02-02-1"', '"run":"../../etc/passwd"', "its name is not one"),
        ('"kind":"aborted"', '"kind":"held"', "missing field part"),
        ("cloudy", "\\ud800", "can't read|can read"),
        ("{", "[", "can read"),
    ],
)
def test_text_that_is_not_a_run_is_refused(
    driver: OpenBench, tmp_path: Path, old: str, new: str, said: str
) -> None:
    """A file this program could not have written is refused with the reason."""
    path = _file(driver, tmp_path)
    path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    with pytest.raises(NotCarried, match=said):
        read_run(path)


def _open_run(driver: OpenBench) -> tuple[str, Path]:
    """A run with a part in the tank, and its file."""
    name = driver.set_up(NEW)
    start(driver, name)
    driver.press(name, c.Read("tank", "65 C"))
    for command in (c.Begin("bolster"), c.Finish("bolster"), c.Finish("bolster")):
        driver.press(name, command)
    return name, _file(driver, driver.folder.parent)


def test_an_open_run_continues_where_it_is_imported(driver: OpenBench, tmp_path: Path) -> None:
    """An imported open run keeps its part in the tank and its timer, and can be finished."""
    name, path = _open_run(driver)
    before = driver.state(name)
    clock = ManualClock(NOON + 600_000, boot="here")
    with closing(EventLog(tmp_path / "here")) as log:
        assert carry_in(log, path, read_run(path), clock.wall_ms) == name
        assert carry_in(log, path, read_run(path), clock.wall_ms) is None
        assert [entry.event for entry in log.entries(name)] == [
            entry.event for entry in driver._log.entries(name)
        ]
    with closing(drive(tmp_path / "here", clock)) as here:
        assert here.names == [name]
        assert here.state(name).bench.parts == before.bench.parts
        assert here.stamp().noted_ms == NOON + 600_000
        here.press(name, c.Begin("bolster"))
        here.press(name, c.Undo())
        here.press(name, c.Abort("moved"))
        assert here.record(name).phase == "aborted"


def test_bench_time_is_never_before_an_imported_run(driver: OpenBench, tmp_path: Path) -> None:
    """A clock set back after an import turns none of the run's timers back."""
    name, path = _open_run(driver)
    with closing(EventLog(tmp_path / "here")) as log:
        carry_in(log, path, read_run(path), NOON + 10**6)
    last_ms = driver.state(name).last_ms
    with closing(drive(tmp_path / "here", ManualClock(NOON - 10**7))) as here:
        assert here.stamp().noted_ms == last_ms
        here.press(name, c.Note("goes on"))
    with closing(look_on(tmp_path / "here", ManualClock(NOON - 10**7))) as watcher:
        assert watcher.stamp().noted_ms >= last_ms


def test_an_open_run_that_could_not_go_on_is_refused(driver: OpenBench, log: EventLog) -> None:
    """A run ahead of the clock, or at another speed, is refused, and nothing is written."""
    _, path = _open_run(driver)
    carried = read_run(path)
    with pytest.raises(
        NotCarried, match=r"last entry is from 2026.* clock says 2026.*\. Set the clock"
    ):
        carry_in(log, path, carried, NOON - 10**6)
    with pytest.raises(NotCarried, match="runs at 1x real speed, this bench at 10x"):
        carry_in(log, path, carried, NOON + 10**6, speed=10)
    assert log.last_seq() == 0


def test_whatever_export_writes_import_reads(driver: OpenBench, tmp_path: Path) -> None:
    """All runs of a bench, closed and open, import equal to their export."""
    _open_run(driver)
    driver.close()
    assert main(["--data", str(driver.folder), "export", "all", str(tmp_path / "out")]) == 0
    files = sorted((tmp_path / "out").glob("*.jsonl"))
    assert len(files) == 2
    words = ["--data", str(tmp_path / "here"), "import", *map(str, files)]
    assert main(words) == 0
    assert main(["--data", str(tmp_path / "here"), "export", "all", str(tmp_path / "back")]) == 0
    for file in files:
        assert (tmp_path / "back" / file.name).read_bytes() == file.read_bytes()


def _entries(path: Path) -> int:
    db = sqlite3.connect(path)
    count = int(db.execute("SELECT count(*) FROM event").fetchone()[0])
    db.close()
    return count


def test_a_backup_made_during_work_is_whole(driver: OpenBench, tmp_path: Path) -> None:
    """Copies made during presses contain whole presses and are valid."""
    name = driver.set_up(NEW)
    start(driver, name)
    stop = threading.Event()

    def press() -> None:
        while not stop.is_set():
            driver.press(name, c.Note("one"))

    worker = threading.Thread(target=press)
    worker.start()
    try:
        counts = [backup(driver.folder, tmp_path / f"copy-{i}.sqlite3") for i in range(5)]
    finally:
        stop.set()
        worker.join()
    assert counts == sorted(counts)
    assert counts == [_entries(tmp_path / f"copy-{i}.sqlite3") for i in range(5)]


def test_a_backup_is_one_file(driver: OpenBench, tmp_path: Path) -> None:
    """A copy needs no journal file and can be read in a read-only folder."""
    folder = tmp_path / "stick"
    folder.mkdir()
    backup(driver.folder, folder / "copy.sqlite3")
    assert [path.name for path in folder.iterdir()] == ["copy.sqlite3"]
    db = sqlite3.connect(folder / "copy.sqlite3")
    assert db.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    db.close()


def test_a_backup_overwrites_nothing(driver: OpenBench, tmp_path: Path) -> None:
    """A backup never overwrites a file, and a bench without a log gets a message."""
    target = tmp_path / "copy.sqlite3"
    target.write_text("mine", encoding="utf-8")
    with pytest.raises(NotCarried, match="already exists"):
        backup(driver.folder, target)
    assert target.read_text(encoding="utf-8") == "mine"
    with pytest.raises(StoreError, match="no log yet"):
        backup(tmp_path / "nowhere", tmp_path / "other.sqlite3")


def test_restore_keeps_what_was_there(driver: OpenBench, tmp_path: Path) -> None:
    """After a restore, the log it replaced is next to it, whole."""
    copy = tmp_path / "copy.sqlite3"
    count = backup(driver.folder, copy)
    driver.set_up(NEW)
    driver.close()
    kept = restore(driver.folder, copy)
    assert kept == driver.folder / "bench-before-restore-1.sqlite3"
    assert _entries(kept) == count + 1
    assert _entries(driver.folder / FILE_NAME) == count
    again = drive(driver.folder, ManualClock(NOON + 10**7))
    assert [run.phase for run in again.recent()] == ["aborted"]
    again.close()
    assert restore(driver.folder, copy) == driver.folder / "bench-before-restore-2.sqlite3"


def test_restore_takes_only_a_log(driver: OpenBench, tmp_path: Path) -> None:
    """A file that is not a log, or from a newer program, is refused, and nothing changes."""
    before = driver._log.last_seq()
    bad = tmp_path / "bad.sqlite3"
    bad.write_bytes(b"a shopping list" * 100)
    newer = tmp_path / "newer.sqlite3"
    backup(driver.folder, newer)
    db = sqlite3.connect(newer)
    db.execute("PRAGMA user_version = 99")
    db.close()
    for path, said in (
        (bad, "not a log"),
        (newer, "layout 99"),
        (tmp_path / "none", "no such file"),
    ):
        with pytest.raises(NotCarried, match=said):
            restore(driver.folder, path)
    assert driver._log.last_seq() == before


def test_the_next_backup_removes_leftovers_of_a_killed_one(
    driver: OpenBench, tmp_path: Path
) -> None:
    """The next backup deletes unfinished copies of dead processes, and SQLite's files with them."""
    folder = tmp_path / "stick"
    folder.mkdir()
    with subprocess.Popen([sys.executable, "-c", ""]) as gone:
        pass
    for name in ("copy.sqlite3", "copy.sqlite3-journal"):
        (folder / f"{WRITING}{gone.pid}-{name}").touch()
    at_work = folder / f"{WRITING}{os.getppid()}-copy.sqlite3"
    at_work.touch()
    backup(driver.folder, folder / "other.sqlite3")
    assert sorted(folder.iterdir()) == sorted([at_work, folder / "other.sqlite3"])


def test_a_log_is_repaired_from_its_own_entries(driver: OpenBench) -> None:
    """A damaged index or register is rebuilt from the entries without loss."""
    driver.set_up(NEW)
    entries = driver._log.entries_after(0)
    driver.close()
    path = driver.folder / FILE_NAME
    for statement in (
        "UPDATE register SET value = '9' WHERE key LIKE 'stream%'",
        "DELETE FROM register",
        "DROP TABLE register",
        "DROP INDEX event_run",
    ):
        with closing(sqlite3.connect(path, isolation_level=None)) as db:
            db.execute(statement)
        with pytest.raises(StoreError):
            EventLog(driver.folder)
        damaged = path.read_bytes()
        assert way_back(driver.folder).endswith(f"restore {path}")
        kept = restore(driver.folder, path)
        assert kept is not None
        assert kept.read_bytes() == damaged
        with closing(EventLog(driver.folder)) as log:
            assert log.entries_after(0) == entries
            assert len(log.runs()) == 2
            assert [run.phase for run in log.find(Query(words=("cloudy",)))] == ["aborted"]


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)",
        "DELETE FROM event WHERE seq = 2",
        "UPDATE event SET by = 'me' WHERE seq = 2",
    ],
)
def test_a_log_with_a_missing_entry_is_not_repaired(driver: OpenBench, statement: str) -> None:
    """If an entry is damaged or missing, even the last, the newest backup is the way back."""
    driver.writer._backups.end()
    make_backup(driver.folder)
    driver.close()
    path = driver.folder / FILE_NAME
    with behind(path) as db:
        db.execute(statement)
    assert "backups" in way_back(driver.folder)
    before = path.read_bytes()
    with pytest.raises(NotCarried, match="damaged"):
        restore(driver.folder, path)
    assert path.read_bytes() == before


def test_a_backup_with_more_entries_beats_a_repair(driver: OpenBench, tmp_path: Path) -> None:
    """If a backup has more entries than a damaged file, the backup is the way back."""
    older = tmp_path / "older"
    backup(driver.folder, older)
    driver.press(driver.set_up(NEW), c.Note("later"))
    driver.writer._backups.end()
    make_backup(driver.folder)
    driver.close()
    path = driver.folder / FILE_NAME
    path.write_bytes(older.read_bytes())
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("DELETE FROM register")
    way_back_text = way_back(driver.folder)
    assert "backups" in way_back_text
    restore(driver.folder, Path(way_back_text.split(" restore ")[1]))
    with closing(EventLog(driver.folder)) as log:
        assert len(log.runs()) == 2
