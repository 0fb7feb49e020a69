"""A bench on a disk that can't be written continues, says so, and loses nothing."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.bath.bath_decide import MixBath
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.rescue import LINES_NAME
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.events import Noted
from benchtimer.run.run_state import RunPhase
from benchtimer.store.errors import Overtaken, StoreError
from benchtimer.store.log import FILE_NAME, EventLog, LogEntry
from benchtimer.store.log_transfer import restore
from tests.support import GEARED, MINUTE, small_recipe, table

NOON = 1_770_000_000_000
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])


class Bench:
    """A driver with a run, and its clock."""

    def __init__(self, place: Path) -> None:
        self.folder = place / "bench"
        self.aside = place / "aside"
        self.aside.mkdir()
        self.clock = ManualClock(NOON)
        self.driver = drive(self.folder, self.clock, rescue_to=[place / "none", self.aside])
        self.name = self.driver.set_up(NEW)
        for command in GEARED:
            self.press(command)

    def press(self, command: c.Command) -> None:
        """Press after a minute."""
        self.clock.advance(MINUTE)
        self.driver.press(self.name, command)

    def disk(self, *, works: bool) -> None:
        """Make writing fail or work again."""
        self.driver._log._db.execute(f"PRAGMA query_only = {'OFF' if works else 'ON'}")

    def notes(self) -> list[str]:
        """The notes that another program finds on the disk."""
        with closing(EventLog(self.folder, read_only=True)) as log:
            return _notes(log.entries_after(0))


def _notes(entries: list[LogEntry]) -> list[str]:
    return [entry.event.text for entry in entries if isinstance(entry.event, Noted)]


@pytest.fixture(name="bench")
def _bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench that closes after the test."""
    bench = Bench(tmp_path)
    yield bench
    bench.driver.close()


def test_work_goes_on_without_the_disk(bench: Bench) -> None:
    """Notes, undo, another run, the bath book and the end of a run all work in memory."""
    bench.disk(works=False)
    bench.press(c.Note("one"))
    bench.press(c.Note("two"))
    bench.press(c.Undo())
    second = bench.driver.set_up(NEW)
    bench.driver.write_bath("brew 1", MixBath("Brew"))
    bench.press(c.Abort("enough"))
    assert bench.driver.names == [bench.name, second]
    assert [line.name for line in bench.driver.recent()] == [second, bench.name]
    assert list(bench.driver.writer.baths.baths(NOON)) == ["brew 1"]
    assert bench.driver.record(bench.name).phase == "aborted"
    assert bench.driver.unsaved.startswith("NOT SAVED: 5 presses since ")
    assert bench.notes() == []
    bench.disk(works=True)
    bench.driver.writer.notice_clock()
    assert bench.driver.unsaved == ""
    assert bench.notes() == ["one", "two"]
    with closing(EventLog(bench.folder, read_only=True)) as log:
        assert [(line.name, line.phase) for line in log.runs()] == [
            (second, "idle"),
            (bench.name, "aborted"),
        ]
        assert [entry.seq for entry in log.entries_after(0)] == list(range(1, log.last_seq() + 1))
    assert (bench.folder / "records" / f"{bench.name}.toml").exists()


def test_a_press_written_after_all_is_not_written_twice(bench: Bench) -> None:
    """If the disk fails just after it wrote a press, the press is on it once."""
    whole = bench.driver._log._db

    class Breaking:
        """Raises an error after the write succeeded."""

        def execute(self, statement: str, *values: tuple[int, ...]) -> sqlite3.Cursor:
            done = whole.execute(statement, *values)
            if statement == "COMMIT":
                raise sqlite3.OperationalError("disk I/O error")
            return done

        def __getattr__(self, name: str) -> object:
            return getattr(whole, name)

    bench.driver._log._db = Breaking()  # type: ignore[assignment]
    bench.press(c.Note("once"))
    assert "NOT SAVED: 1 press" in bench.driver.unsaved
    bench.driver._log._db = whole
    bench.driver.writer.notice_clock()
    assert bench.driver.unsaved == ""
    assert bench.notes() == ["once"]


def test_nothing_is_written_behind_another_program(bench: Bench) -> None:
    """If another program wrote meanwhile, the unsaved presses go into a file of their own."""
    bench.disk(works=False)
    bench.press(c.Note("mine"))
    with closing(EventLog(bench.folder)) as other:
        note = Noted(press=3, t_ms=NOON, by="x", part=None, text="theirs")
        other.append(bench.name, [note], bench.driver.stamp())
    bench.disk(works=True)
    bench.driver.writer.notice_clock()
    assert "another program wrote" in bench.driver.unsaved
    bench.press(c.Note("mine too"))
    assert bench.notes() == ["theirs"]
    bench.driver.close()
    text = bench.aside / "benchtimer-rescue-1" / LINES_NAME
    assert str(text) in bench.driver.writer.parting
    found = [json.loads(line) for line in text.read_text(encoding="utf-8").splitlines()]
    assert [line["body"]["text"] for line in found] == ["mine", "mine too"]


def test_a_press_overtaken_by_another_program_is_refused(bench: Bench) -> None:
    """With nothing unsaved, a press behind another program's entry is refused."""
    with closing(EventLog(bench.folder)) as other:
        note = Noted(press=3, t_ms=NOON, by="x", part=None, text="theirs")
        other.append(bench.name, [note], bench.driver.stamp())
    before = bench.driver.state(bench.name)
    with pytest.raises(Overtaken):
        bench.press(c.Note("mine"))
    assert bench.driver.state(bench.name) == before


def test_unsaved_presses_are_written_elsewhere(bench: Bench) -> None:
    """On leaving, the whole log is saved elsewhere, private, and restore brings it back."""
    bench.disk(works=False)
    bench.press(c.Note("in the dark"))
    bench.driver.close()
    kept = bench.aside / "benchtimer-rescue-1"
    assert kept.stat().st_mode & 0o777 == 0o700
    command = bench.driver.writer.parting.splitlines()[-1].split()
    assert command[-2:] == ["restore", str(kept / FILE_NAME)]
    assert main(command[1:]) == 0
    assert bench.notes() == ["in the dark"]
    with closing(drive(bench.folder, bench.clock)) as again:
        assert again.state(bench.name).bench.phase is RunPhase.RUNNING


def test_with_nowhere_to_write_a_message_says_so(tmp_path: Path) -> None:
    """If nothing can be written anywhere, the unsaved entries are shown for you to copy."""
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        name = driver.set_up(NEW)
        driver._log._db.execute("PRAGMA query_only = ON")
        driver.press(name, c.Note("in the dark"))
        driver.write_bath("brew 1", MixBath("Brew"))
    assert "note: in the dark" in driver.writer.parting
    assert "Write this down" in driver.writer.parting


def test_a_folder_that_vanishes_is_noticed_at_once(bench: Bench) -> None:
    """The next look at the clock, without a press, says that nothing can be saved."""
    away = bench.folder.with_name("away")
    bench.folder.rename(away)
    bench.driver.writer.notice_clock()
    assert bench.driver.unsaved.startswith("CAN'T BE SAVED NOW: it is no longer there")
    bench.press(c.Note("in the dark"))
    away.rename(bench.folder)
    bench.driver.writer.notice_clock()
    assert bench.driver.unsaved == ""
    assert bench.notes() == ["in the dark"]


def test_another_bench_in_the_same_folder_is_left_alone(bench: Bench, tmp_path: Path) -> None:
    """A log that replaced the open one gets none of its presses."""
    shutil.rmtree(bench.folder)
    with closing(drive(bench.folder, ManualClock(NOON + 1))) as other:
        other.set_up(NEW)
    before = (bench.folder / FILE_NAME).read_bytes()
    bench.press(c.Note("in the dark"))
    bench.driver.writer.notice_clock()
    assert "not the log that was open here" in bench.driver.unsaved
    bench.driver.close()
    assert (bench.folder / FILE_NAME).read_bytes() == before
    restore(tmp_path, bench.aside / "benchtimer-rescue-1" / FILE_NAME)
    with closing(EventLog(tmp_path, read_only=True)) as log:
        assert _notes(log.entries_after(0)) == ["in the dark"]


def test_a_single_command_does_not_wait_for_the_disk(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A command outside the board that can't write is refused, never confirmed."""
    bench.press(c.Abort("x"))
    bench.driver.close()
    opened = EventLog._open

    def unwritable(log: EventLog) -> None:
        opened(log)
        if not log.read_only:
            log._db.execute("PRAGMA query_only = ON")

    monkeypatch.setattr(EventLog, "_open", unwritable)
    data = ["--data", str(bench.folder)]
    assert main([*data, "judge", "last", "bolster", "--verdict", "accepted"]) == 3
    assert main([*data, "bath", "mix", "brew 1", "--of", "Brew"]) == 3
    assert capsys.readouterr().err.count("readonly") == 2


def test_a_record_is_shown_when_the_disk_cannot_be_read(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the disk gone the record so far still shows, from memory."""
    bench.disk(works=False)
    bench.press(c.Note("in the dark"))

    def unreadable(*_: object) -> None:
        raise StoreError(bench.folder, "disk I/O error", "Look at the disk")

    with monkeypatch.context() as patch:
        patch.setattr(EventLog, "_rows", unreadable)
        assert bench.driver.record(bench.name).lines[-1].text == "note: in the dark"
        assert [x.run for x in bench.driver.records_with("bolster")] == [bench.name]
        bench.press(c.Abort("x"))
    assert bench.driver.state(bench.name).bench.phase is RunPhase.ABORTED


def test_a_very_long_run_is_not_held_in_memory(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beyond a number of entries a run is read from the disk, then its unsaved entries."""
    monkeypatch.setattr("benchtimer.bench.unsaved.MOST_AT_HAND", 5)
    for number in range(6):
        bench.press(c.Note(f"saved {number}"))
    assert bench.driver.writer._log._at_hand == {bench.name: None}
    bench.disk(works=False)
    bench.press(c.Note("not saved"))
    found = [line.text for line in bench.driver.record(bench.name).lines]
    assert found[-7:] == [*(f"note: saved {n}" for n in range(6)), "note: not saved"]
    bench.disk(works=True)
    bench.driver.writer.notice_clock()
    assert bench.notes()[-1] == "not saved"
