"""Kills, short form; ``python -m tests.faults kills`` is the long form."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from benchtimer.atomic_file import WRITING
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.store import log_transfer
from benchtimer.store.log import FILE_NAME
from tests.faults import kills
from tests.faults.screen_kills import kill_programs
from tests.faults.victim import NOON, work_on
from tests.support import small_recipe, start, table
from tests.terminal import Terminal

# These tests fork on purpose; a child uses nothing of the parent's threads.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])


def test_kills_between_the_steps_of_a_press_lose_nothing() -> None:
    """After a kill before, inside or after a write, every acknowledged press is in the log."""
    tally = kills.kill_presses(20, 1)
    assert (tally.lost, tally.first) == (0, "")
    assert tally.tried >= 20


def test_kills_in_copies_leave_whole_files() -> None:
    """A killed backup or restore leaves a whole log and no half copy."""
    tally = kills.kill_copies(8, 1)
    assert (tally.lost, tally.first) == (0, "")


def test_the_program_killed_at_its_screen_loses_nothing() -> None:
    """Every effect shown on the screen is there when the program opens again."""
    tally = kill_programs(5, 1, Terminal)
    assert (tally.tried, tally.lost, tally.first) == (5, 0, "")


def _forgetful(
    folder: Path, name: str, presses: list[tuple[int, c.Command]], number: int
) -> Callable[[Callable[[str], None]], None]:
    """A bench that claims a press is written before it is."""

    def work(acknowledge: Callable[[str], None]) -> None:
        acknowledge("press")
        work_on(folder, name, presses, number)(acknowledge)

    return work


def test_a_bench_that_forgets_a_press_is_found_out() -> None:
    """The campaign counts an acknowledged press that is not in the log."""
    tally = kills.kill_presses(20, 1, _forgetful)
    assert tally.lost
    assert "acknowledged" in tally.first


def test_a_log_with_a_changed_entry_is_found_out() -> None:
    """The campaign finds an entry that differs from the press."""
    store = kills.Store()
    gear = c.Acknowledge("Hot tank")
    presses: list[tuple[int, c.Command]] = [(NOON + 1000, gear), (NOON + 2000, c.Note("a"))]
    clock = ManualClock(NOON, boot="victim")
    driver = drive(store.folder, clock)
    for t_ms, command in ((NOON + 1000, gear), (NOON + 2000, c.Note("b"))):
        clock.advance(t_ms - clock.wall_ms)
        driver.press(store.name, command)
    driver.close()
    assert store.check(presses, 2) == "the entries are not those that were pressed"
    shutil.rmtree(store.folder)


def test_a_record_that_a_kill_left_out_is_made_when_the_bench_opens(tmp_path: Path) -> None:
    """A closed run whose last press is in the log gets its record, and no half file remains."""
    driver = drive(tmp_path, ManualClock(NOON))
    name = driver.set_up(NEW)
    start(driver, name)
    driver.press(name, c.Abort("enough"))
    driver.close()
    file = tmp_path / "records" / f"{name}.toml"
    whole = file.read_text(encoding="utf-8")
    file.unlink()
    (tmp_path / "records" / f"{WRITING}abc").write_text(whole[:50], encoding="utf-8")
    drive(tmp_path, ManualClock(NOON + 1000)).close()
    assert [path.name for path in file.parent.iterdir()] == [file.name]
    assert file.read_text(encoding="utf-8") == whole


def test_half_a_record_file_does_not_block_the_bench(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bench opens in a read-only folder, whatever a killed process left there."""
    drive(tmp_path, ManualClock(NOON)).close()
    (tmp_path / "records").mkdir()
    (tmp_path / "records" / f"{WRITING}abc").write_text("half", encoding="utf-8")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "unlink", refuse)
    drive(tmp_path, ManualClock(NOON + 1000)).close()


def test_leftovers_of_a_killed_restore_are_removed(tmp_path: Path) -> None:
    """The next restore deletes the working folder of a killed one."""
    drive(tmp_path, ManualClock(NOON)).close()
    log_transfer.backup(tmp_path, tmp_path / "copy")
    (tmp_path / f"{log_transfer.SCRATCH}x").mkdir()
    (tmp_path / f"{log_transfer.SCRATCH}x" / FILE_NAME).write_bytes(b"half")
    log_transfer.restore(tmp_path, tmp_path / "copy")
    assert not list(tmp_path.glob(f"{log_transfer.SCRATCH}*"))
