"""Damage, backups, the way back: an entry is read as written, or not at all."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.store import check
from benchtimer.store.backups import DAYS, NEWEST, backups, make_backup, way_back
from benchtimer.store.errors import Damaged, Gone, StoreError
from benchtimer.store.log import FILE_NAME, EventLog
from benchtimer.store.log_transfer import NotCarried, backup, checked, restore
from benchtimer.store.wal import lost_commits
from tests.behind import behind
from tests.support import small_recipe, table

NOON = 1_770_000_000_000
DAY = 86_400_000
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])


@pytest.fixture(name="bench")
def _bench(tmp_path: Path) -> Path:
    """A closed bench with a run being set up, and one backup."""
    folder = tmp_path / "bench"
    with closing(drive(folder, ManualClock(NOON))) as driver:
        driver.press(driver.set_up(NEW), c.Acknowledge("Hot tank"))
    make_backup(folder)
    return folder


def _change(folder: Path, statement: str) -> None:
    """Change an entry directly in the file."""
    with behind(folder / FILE_NAME) as db:
        db.executescript(statement)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE event SET t_ms = t_ms + 1 WHERE seq = 2", "entry 2: its checksum is wrong"),
        ("UPDATE event SET by = 'me' WHERE seq = 1", "entry 1: its checksum is wrong"),
        ("DELETE FROM event WHERE seq = 1", "entry 1 is missing"),
        ("UPDATE register SET value = 1 WHERE key LIKE 'stream%'", "the register can't be trusted"),
        ("UPDATE register SET seal = 1 WHERE key = 'log'", "the register can't be trusted"),
        ("DELETE FROM register WHERE key LIKE 'name%'", "the register can't be trusted"),
        ("CREATE INDEX more ON event (by)", "index 'more' differs from what benchtimer creates"),
    ],
)
def test_a_change_is_reported_with_its_entry(bench: Path, statement: str, said: str) -> None:
    """A changed figure or a missing entry is refused by its number, and the file stays as it is."""
    _change(bench, statement)
    before = (bench / FILE_NAME).read_bytes()
    with pytest.raises(Damaged, match=said):
        drive(bench, ManualClock(NOON))
    with pytest.raises((NotCarried, Damaged), match=said):
        backup(bench, bench / "copy.sqlite3")
    assert (bench / FILE_NAME).read_bytes() == before


def test_a_table_description_that_is_not_text_is_refused(bench: Path) -> None:
    """Invalid bytes in the table description are reported as damage, not a crash."""
    whole = (bench / FILE_NAME).read_bytes()
    broken = whole.replace(b"CREATE TABLE event", b"CREATE T\x98BLE event")
    assert broken != whole
    (bench / FILE_NAME).write_bytes(broken)
    with pytest.raises(Damaged, match="not text"):
        drive(bench, ManualClock(NOON))
    with pytest.raises(Damaged, match="not text"):
        look_on(bench, ManualClock(NOON))
    with pytest.raises((Damaged, NotCarried)):
        backup(bench, bench / "copy.sqlite3")
    assert (bench / FILE_NAME).read_bytes() == broken


def test_a_large_log_is_checked_as_it_is_read(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where opening checks only the end, an older change is still never read as true."""
    monkeypatch.setattr(check, "SMALL_BYTES", 0)
    monkeypatch.setattr(check, "TAIL", 1)
    _change(bench, "UPDATE event SET by = 'me' WHERE seq = 1")
    with pytest.raises(Damaged, match="entry 1: "):
        EventLog(bench)  # it belongs to an open run
    with (
        closing(EventLog(bench, read_only=True)) as log,
        pytest.raises(Damaged, match="entry 1: "),
    ):
        log.entries_after(0)


def test_the_way_to_restore_is_a_command(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A damaged log is refused with the newest intact backup and the command, which then works."""
    _change(bench, "UPDATE event SET by = 'me' WHERE seq = 1")
    damaged = (bench / FILE_NAME).read_bytes()
    words = way_back(bench).splitlines()[-1].split()
    assert words[:1] == ["benchtimer"]
    newest = backups(bench)[0].path
    assert words[1:] == ["--data", str(bench), "restore", str(newest)]
    assert main(["--data", str(bench), "judge", "last", "bolster", "--verdict", "accepted"]) == 3
    assert str(newest) in capsys.readouterr().err
    assert main(words[1:]) == 0
    assert (bench / "bench-damaged-1.sqlite3").read_bytes() == damaged
    with closing(drive(bench, ManualClock(NOON))) as driver:
        assert len(driver.names) == 1


def test_a_missing_backup_is_reported(bench: Path) -> None:
    """Without a copy, the message offers no command."""
    shutil.rmtree(bench / "backups")
    _change(bench, "UPDATE event SET by = 'me' WHERE seq = 1")
    assert "no backup" in way_back(bench)


def test_a_write_ahead_log_without_its_file_is_kept(bench: Path) -> None:
    """A write-ahead log without its file is moved aside, and the message names its new name."""
    (bench / FILE_NAME).rename(bench / f"{FILE_NAME}-wal")
    with pytest.raises(Damaged, match="gone"):
        drive(bench, ManualClock(NOON))
    kept = restore(bench, backups(bench)[0].path)
    assert kept == bench / "bench-damaged-1.sqlite3-wal"
    assert kept.exists()


@pytest.mark.parametrize("left", ["nothing", "empty"])
def test_no_new_bench_starts_where_one_was_lost(bench: Path, left: str) -> None:
    """A missing or empty log with backups next to it is damage, not a new shop."""
    (bench / FILE_NAME).unlink()
    if left == "empty":
        (bench / FILE_NAME).touch()
    with pytest.raises(Damaged, match=left.replace("nothing", "gone")):
        drive(bench, ManualClock(NOON))
    restore(bench, backups(bench)[0].path)
    drive(bench, ManualClock(NOON)).close()


def test_backups_are_thinned_out(tmp_path: Path) -> None:
    """The newest few and the last of each day of a week stay, private and whole."""
    clock = ManualClock(NOON)
    for _ in range(12):
        with closing(drive(tmp_path, clock)) as driver:
            driver.set_up(NEW)
            clock.advance(DAY // 2)
    make_backup(tmp_path)
    kept = backups(tmp_path)
    assert NEWEST < len(kept) <= NEWEST + DAYS
    assert [copy.seq for copy in kept] == sorted((copy.seq for copy in kept), reverse=True)
    assert all(checked(copy.path) == copy.seq for copy in kept)
    assert len({copy.day for copy in kept[NEWEST:]}) == len(kept) - NEWEST
    assert {copy.path.stat().st_mode & 0o777 for copy in kept} == {0o600}
    assert (tmp_path / "backups").stat().st_mode & 0o777 == 0o700
    assert make_backup(tmp_path) is None


def test_a_copy_is_named_for_its_contents(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy made during writing is named for its own number of entries."""
    with closing(drive(bench, ManualClock(NOON + DAY))) as driver:
        driver.writer._backups.end()  # the log's own copy is made first
        driver.press(driver.names[0], c.Note("before"))

        def while_copied(folder: Path, target: Path) -> int:
            driver.press(driver.names[0], c.Note("meanwhile"))
            return backup(folder, target)

        monkeypatch.setattr("benchtimer.store.backups.backup", while_copied)
        made = make_backup(bench)
    newest = backups(bench)[0]
    assert made == newest.path
    assert checked(newest.path) == newest.seq


def test_a_damaged_log_pushes_no_good_copy_out(bench: Path) -> None:
    """A backup of a damaged log is not kept, and the good one stays."""
    with closing(drive(bench, ManualClock(NOON))) as driver:
        driver.press(driver.names[0], c.Note("later"))
    for newer in backups(bench)[:-1]:
        newer.path.unlink()
    before = backups(bench)
    _change(
        bench,
        "UPDATE event SET by = 'me' WHERE seq = 3",
    )
    with pytest.raises((NotCarried, Damaged), match=r"entry 3: .*checksum is wrong"):
        make_backup(bench)
    assert backups(bench) == before
    assert list((bench / "backups").glob(".bench*")) == []


def test_a_driver_backs_up_beside_the_work(tmp_path: Path) -> None:
    """Opening a bench with new entries, and the end of a run, each leave a backup."""
    clock = ManualClock(NOON)
    with closing(drive(tmp_path, clock)) as driver:
        name = driver.set_up(NEW)
        driver.press(name, c.Abort("x"))
    assert [copy.seq for copy in backups(tmp_path)] == [2]
    with closing(drive(tmp_path, clock)) as driver:
        driver.set_up(NEW)
    drive(tmp_path, clock).close()
    assert [copy.seq for copy in backups(tmp_path)] == [3, 2]


def test_a_backup_that_failed_is_tried_again(tmp_path: Path) -> None:
    """The board reports a failed backup until a new try, a minute later, succeeds."""
    clock = ManualClock(NOON)
    (tmp_path / "backups").write_text("a file where a folder should be")
    with closing(drive(tmp_path, clock)) as driver:
        driver.press(driver.set_up(NEW), c.Abort("x"))
        driver.writer._backups.end()
        assert driver.unsaved.startswith("NO BACKUP: ")
        (tmp_path / "backups").unlink()
        clock.advance(61_000)
        driver.writer.notice_clock()
        driver.writer._backups.end()
        assert driver.unsaved == ""
    assert [copy.seq for copy in backups(tmp_path)] == [2]


def test_entries_only_a_backup_has_are_reported(bench: Path) -> None:
    """A log that ends before its newest backup opens, and a message says what is missing."""
    older = bench / "older.sqlite3"
    backup(bench, older)
    with closing(drive(bench, ManualClock(NOON))) as driver:
        name = driver.names[0]
        driver.press(name, c.Note("later"))
    make_backup(bench)
    shutil.copyfile(older, bench / FILE_NAME)
    with closing(drive(bench, ManualClock(NOON))) as driver:
        assert "entries are missing" in driver.notices[name][0]


def test_restoring_an_older_copy_is_accepted(bench: Path) -> None:
    """After you restore an older copy, newer backups are set aside without a message."""
    older = bench / "older.sqlite3"
    backup(bench, older)
    with closing(drive(bench, ManualClock(NOON))) as driver:
        name = driver.names[0]
        driver.press(name, c.Note("later"))
    make_backup(bench)
    assert main(["--data", str(bench), "restore", str(older)]) == 0
    assert list((bench / "backups").glob("set-aside-*"))
    assert [copy.seq for copy in backups(bench)] == [2]
    with closing(drive(bench, ManualClock(NOON))) as driver:
        assert driver.notices == {}


def test_presses_after_damage_are_kept_and_reported(bench: Path) -> None:
    """After damage inside a write-ahead log, the start is read, the rest kept and reported."""
    clock = ManualClock(NOON)
    driver = drive(bench, clock)
    name = driver.names[0]
    sizes = []
    for number in range(5):
        driver.press(name, c.Note(f"{number}"))
        sizes.append((bench / f"{FILE_NAME}-wal").stat().st_size)
    wal = bytearray((bench / f"{FILE_NAME}-wal").read_bytes())
    file = (bench / FILE_NAME).read_bytes()
    driver.close()
    assert lost_commits(bench / "no such file") == 0
    wal[sizes[1] + 100] ^= 1
    (bench / FILE_NAME).write_bytes(file)
    (bench / f"{FILE_NAME}-wal").write_bytes(wal)
    assert lost_commits(bench / f"{FILE_NAME}-wal") == 3
    with closing(drive(bench, clock)) as again:
        assert "presses may be missing" in again.notices[name][0]
        assert sum("note" in line.text for line in again.record(name).lines) == 2
    assert (bench / "bench-found-1.sqlite3-wal").read_bytes() == wal
    with closing(drive(bench, clock)) as again:
        assert not any("presses may be missing" in x for x in again.notices.get(name, []))


def test_a_watcher_is_warned_of_a_replaced_file(bench: Path) -> None:
    """A watcher stops showing a log that was taken away."""
    with closing(look_on(bench, ManualClock(NOON))) as watcher:
        bench.rename(bench.with_name("away"))
        with pytest.raises(Gone, match="no longer there"):
            watcher.refresh()


def test_a_log_without_a_layout_gets_a_message(tmp_path: Path) -> None:
    """Another program's database is refused with a message."""
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as db:
        db.execute("CREATE TABLE event (seq, run, kind)")
        db.execute("PRAGMA user_version = 3")
        db.commit()
    before = (tmp_path / FILE_NAME).read_bytes()
    for read_only in (True, False):
        with pytest.raises(StoreError, match=r"not a log of this benchtimer.*first release"):
            EventLog(tmp_path, read_only=read_only)
    assert main(["--data", str(tmp_path), "record"]) == 3
    assert (tmp_path / FILE_NAME).read_bytes() == before
