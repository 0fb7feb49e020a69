"""The driver and the watcher: every press is on the disk and survives any stop."""

from __future__ import annotations

import tomllib
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.bath.bath_decide import MixBath
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.events import ClockJumped, Event, Reopened, WrittenLate
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import RunPhase
from benchtimer.store.lease import FILE_NAME as LEASE_NAME
from benchtimer.store.lease import LeaseTaken
from benchtimer.store.log import EventLog, LogEntry, StoreError
from benchtimer.store.place import data_folder
from tests.support import MINUTE, READY, small_recipe, start, table

NOON = 1_770_000_000_000
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small"), ("ferrule", "small")])


def _at_work(folder: Path, clock: ManualClock) -> tuple[OpenBench, str]:
    driver = drive(folder, clock, by="anna")
    name = driver.set_up(NEW)
    for command in (*READY, c.Begin("bolster"), c.Finish("bolster")):
        clock.advance(20_000)
        driver.press(name, command)
    return driver, name


def test_reopening_restores_the_same_state(tmp_path: Path) -> None:
    """A reopened bench is as it was, with the time away in the log."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    before = driver.state(name)
    driver.close()
    clock.advance(5 * MINUTE)
    again = drive(tmp_path, clock)
    assert again.names == [name]
    assert again.state(name).bench == before.bench
    assert again.state(name).past == before.past
    assert again.stamp().noted_ms == before.last_ms + 5 * MINUTE
    assert again.record(name).lines[-1].text == (
        "reopened after 5 min; time away by the counting clock"
    )
    again.close()


def test_every_press_names_who_made_it(tmp_path: Path) -> None:
    """The log names the person for each press and the program for its own entries."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    clock.set_wall(NOON + 86_400_000)
    driver.press(name, c.Finish("bolster"))
    by = {line.text.split(":")[0]: line.by for line in driver.record(name).lines}
    assert by["started"] == "anna"
    assert (
        by["the wall clock was set forward by 23 h 58 min 20 s; no timer changed"] == "benchtimer"
    )
    driver.close()


def test_a_second_driver_is_refused(tmp_path: Path) -> None:
    """Only one process can drive; once it lets go, the next one can."""
    clock = ManualClock(NOON)
    driver = drive(tmp_path, clock)
    with pytest.raises(LeaseTaken):
        drive(tmp_path, clock)
    driver.close()
    drive(tmp_path, clock).close()


def test_a_watcher_sees_every_press(tmp_path: Path) -> None:
    """A watcher shows the same state, press by press, and new runs as they come."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    watcher = look_on(tmp_path, clock)
    assert watcher.state(name) == driver.state(name)
    driver.press(name, c.Finish("bolster"))
    assert watcher.state(name) != driver.state(name)
    assert watcher.refresh()
    assert watcher.state(name) == driver.state(name)
    second = driver.set_up(NEW)
    watcher.refresh()
    assert watcher.names == [name, second]
    assert not watcher.refresh()
    watcher.close()
    driver.close()


def test_a_watcher_reads_time_like_the_driver(tmp_path: Path) -> None:
    """Watcher and driver give the same bench time from the same clock."""
    clock = ManualClock(NOON)
    driver, _ = _at_work(tmp_path, clock)
    watcher = look_on(tmp_path, clock)
    clock.advance(77_000)
    assert watcher.stamp() == driver.stamp()
    watcher.close()
    driver.close()


def test_completing_writes_the_record_as_toml(tmp_path: Path) -> None:
    """A finished run leaves a TOML file that reads back, and undo changes it."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    driver.press(name, c.Abort("power cut"))
    file = tmp_path / "records" / f"{name}.toml"
    data = tomllib.loads(file.read_text(encoding="utf-8"))
    assert (data["run"], data["phase"]) == (name, "aborted")
    assert data["recipes"]["small"]["step"][0]["id"] == "prepare"
    driver.press(name, c.Undo())
    assert driver.state(name).bench.phase is RunPhase.RUNNING
    driver.press(name, c.Abort("really"))
    assert tomllib.loads(file.read_text(encoding="utf-8"))["lines"][-1]["text"] == "aborted: really"
    driver.close()


def test_a_failed_record_file_loses_no_press(tmp_path: Path) -> None:
    """If the record's file fails, the press still counts and the error names the file."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    (tmp_path / "records").write_text("a file where a folder should be")
    driver.press(name, c.Abort("power cut"))
    assert driver.state(name).bench.phase is RunPhase.ABORTED
    assert driver.complaint is not None
    assert "records" in driver.complaint
    driver.close()


def test_a_press_that_cannot_be_written_is_kept_and_written_later(tmp_path: Path) -> None:
    """When the log refuses a write, the run continues, says so, and is written later."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    _unwritable(driver, yes=True)
    clock.advance(1000)
    driver.press(name, c.Finish("bolster"))
    driver.press(name, c.Note("in the dark"))
    assert driver.unsaved.startswith("NOT SAVED: 2 presses since ")
    pressed_ms = driver.state(name).last_ms
    clock.advance(5 * MINUTE)
    with closing(EventLog(tmp_path, read_only=True)) as log:
        assert pressed_ms not in [entry.event.t_ms for entry in log.entries(name)]
    _unwritable(driver, yes=False)
    driver.writer.notice_clock()
    assert driver.unsaved == ""
    with closing(EventLog(tmp_path, read_only=True)) as log:
        entries = log.entries(name)
    assert [x.stamp.noted_ms for x in entries if x.event.t_ms == pressed_ms][-1] == pressed_ms
    late = entries[-1].event
    assert isinstance(late, WrittenLate)
    assert late.late_ms == 5 * MINUTE
    assert late.entries == sum(x.stamp.noted_ms == pressed_ms for x in entries)
    driver.close()


def test_a_refusal_writes_nothing(tmp_path: Path) -> None:
    """A refused press leaves no trace in the log."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    length = len(driver.record(name).lines)
    with pytest.raises(Refused):
        driver.press(name, c.Begin("bolster"))
    assert len(driver.record(name).lines) == length
    driver.close()


def test_several_runs_can_be_open(tmp_path: Path) -> None:
    """Yesterday's cure and today's fittings are both on the reopened bench."""
    clock = ManualClock(NOON)
    driver, first = _at_work(tmp_path, clock)
    second = driver.set_up(NEW)
    driver.press(first, c.Abort("done with it"))
    third = driver.set_up(NEW)
    driver.close()
    again = drive(tmp_path, clock)
    assert again.names == [second, third]
    assert len({first, second, third}) == 3
    again.close()


def test_practice_has_its_own_log(tmp_path: Path) -> None:
    """Practice never mixes with real work, and its record says so."""
    clock = ManualClock(NOON)
    driver = drive(data_folder(tmp_path, 30), clock, speed=30)
    name = driver.set_up(NEW)
    start(driver, name)
    before = driver.stamp()
    clock.advance(1000)
    assert driver.stamp().noted_ms - before.noted_ms == 30_000
    driver.close()
    again = drive(data_folder(tmp_path, 30), clock, speed=30)
    record = again.record(name)
    assert record.practice
    assert "the wall clock was set" not in record.lines[-1].text
    again.close()
    assert not (tmp_path / "bench.sqlite3").exists()


@pytest.mark.parametrize("presses", range(1, 8))
def test_a_crash_after_any_press_loses_nothing(tmp_path: Path, presses: int) -> None:
    """If the process dies after any press, the next one finds every press."""
    clock = ManualClock(NOON)
    driver = drive(tmp_path, clock)
    name = driver.set_up(NEW)
    commands = [*READY, c.Begin("bolster"), c.Finish("bolster")]
    commands += [c.Finish("bolster"), c.Begin("ferrule")]
    for command in commands[:presses]:
        clock.advance(20_000)
        driver.press(name, command)
    before = driver.state(name)
    driver.writer._lease.release()  # a dead process lets go of the lease and nothing else
    again = drive(tmp_path, clock)
    assert again.state(name).bench == before.bench
    again.close()
    driver._log.close()


def _unwritable(driver: OpenBench, *, yes: bool) -> None:
    driver._log._db.execute(f"PRAGMA query_only = {'ON' if yes else 'OFF'}")


def _count(driver: OpenBench, name: str, kind: type[Event]) -> int:
    return sum(isinstance(entry.event, kind) for entry in driver._log.entries(name))


def test_a_clock_jump_that_could_not_be_written_is_written_later(tmp_path: Path) -> None:
    """A clock jump on a full disk is kept in memory and later written once to each open run."""
    clock = ManualClock(NOON)
    driver, first = _at_work(tmp_path, clock)
    second = driver.set_up(NEW)
    start(driver, second)
    clock.set_wall(NOON + 60 * MINUTE)
    _unwritable(driver, yes=True)
    assert [driver.writer.notice_clock() > 0 for _ in range(3)] == [True, False, False]
    assert driver.unsaved.startswith("NOT SAVED: 2 entries since ")
    _unwritable(driver, yes=False)
    assert driver.writer.notice_clock() == 0
    assert driver.unsaved == ""
    assert [_count(driver, name, ClockJumped) for name in (first, second)] == [1, 1]
    driver.close()


def test_a_bench_opens_when_nothing_can_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a full disk the bench opens, reports the trouble, and writes the time away later."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    driver.close()
    clock.advance(5 * MINUTE)
    opened = EventLog.__init__

    def on_full_disk(log: EventLog, folder: Path, *, read_only: bool = False) -> None:
        opened(log, folder, read_only=read_only)
        log._db.execute("PRAGMA query_only = ON")

    with monkeypatch.context() as patch:
        patch.setattr(EventLog, "__init__", on_full_disk)
        again = drive(tmp_path, clock)
    assert again.names == [name]
    assert "readonly" in again.unsaved
    clock.advance(MINUTE)
    _unwritable(again, yes=False)
    again.press(name, c.Finish("bolster"))
    assert again.unsaved == ""
    assert _count(again, name, Reopened) == 1
    found = [line for line in again.record(name).lines if line.text.startswith("reopened")]
    assert "reopened after 5 min;" in found[0].text
    again.close()


def test_a_deleted_lock_lets_no_second_writer_in(tmp_path: Path) -> None:
    """A deleted lock file opens no second driver, or else only one of them writes."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    before = driver.state(name)
    (tmp_path / LEASE_NAME).unlink()
    with pytest.raises(LeaseTaken):
        drive(tmp_path, clock)
    driver.writer._lease.release()  # as on a disk that locks no folders
    second = drive(tmp_path, clock)
    with pytest.raises(StoreError, match="another program wrote"):
        driver.press(name, c.Finish("bolster"))
    with pytest.raises(StoreError, match="another program wrote"):
        driver.write_bath("brew 1", MixBath("Brew"))
    assert driver.state(name) == before
    second.write_bath("brew 1", MixBath("Brew"))
    second.press(name, c.Finish("bolster"))
    driver.close()
    second.close()
    again = drive(tmp_path, clock)
    assert again.state(name).bench == second.state(name).bench
    again.close()


def test_a_watcher_follows_each_entry_once(tmp_path: Path) -> None:
    """A run that comes back onto the bench is read whole, with no press twice."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    driver.press(name, c.Abort("power cut"))
    watcher = look_on(tmp_path, clock)
    assert watcher.names == []
    for command in (c.Undo(), c.Note("one"), c.Undo(), c.Finish("bolster")):
        driver.press(name, command)
    watcher.refresh()
    assert watcher.state(name) == driver.state(name)
    watcher.close()
    driver.close()


def test_a_watcher_misses_nothing_while_it_opens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A watcher's first look includes what was written while it read the runs."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    last_entry = EventLog.last_entry

    def meanwhile(log: EventLog) -> LogEntry | None:
        driver.press(name, c.Finish("bolster"))
        return last_entry(log)

    with monkeypatch.context() as patch:
        patch.setattr(EventLog, "last_entry", meanwhile)
        watcher = look_on(tmp_path, clock)
    driver.press(name, c.Undo())
    watcher.refresh()
    assert watcher.state(name) == driver.state(name)
    watcher.close()
    driver.close()


def test_undoing_the_end_changes_the_record_file(tmp_path: Path) -> None:
    """A run whose end was undone has no record file that calls it over."""
    clock = ManualClock(NOON)
    driver, name = _at_work(tmp_path, clock)
    file = tmp_path / "records" / f"{name}.toml"
    phases = []
    for command in (c.Abort("power cut"), c.Undo(), c.Redo()):
        driver.press(name, command)
        phases.append(tomllib.loads(file.read_text(encoding="utf-8"))["phase"])
    assert phases == ["aborted", "running", "aborted"]
    driver.close()


def test_rounding_causes_no_jumps_in_fast_practice(tmp_path: Path) -> None:
    """At ten thousand times the speed, rounding of ten seconds is no clock jump."""
    clock = ManualClock(NOON)
    driver = drive(tmp_path, clock, speed=10_000)
    name = driver.set_up(NEW)
    start(driver, name)
    for off_ms in (1, -1, 1, 0):
        clock.advance(50)
        clock.set_wall(clock.wall_ms + off_ms)
        assert driver.writer.notice_clock() == 0
    driver.close()
    clock.set_wall(clock.wall_ms + 1)
    again = drive(tmp_path, clock, speed=10_000)
    assert _count(again, name, ClockJumped) == 0
    clock.set_wall(clock.wall_ms + 60 * MINUTE)
    assert again.writer.notice_clock() == 60 * MINUTE * 10_000
    again.close()
