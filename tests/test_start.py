"""What loads before the first frame, and what loads after it."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

import benchtimer.tui
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.store.backups import backups
from benchtimer.tui.app import LATER
from tests.faults.bench_work import NEW

SCREENS = sorted(path.stem for path in Path(benchtimer.tui.__file__).parent.glob("[!_]*.py"))


def _loaded_by(statement: str) -> set[str]:
    code = f"{statement}\nimport sys\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_the_board_is_drawn_before_planner_and_pages_load() -> None:
    """Bench and board load neither the planner nor a page around a run."""
    loaded = _loaded_by("import benchtimer.bench.writer, benchtimer.tui.app")
    spread = "benchtimer.plan.spread"  # a definition and its default, which ``learn`` shares
    assert not {x for x in loaded if x.startswith("benchtimer.plan.")} - {spread}
    assert not {f"benchtimer.{name}" for name in LATER} & loaded


def test_soon_afterwards_everything_is_loaded() -> None:
    """The rest loads soon, before an update can replace the files of a long run."""
    loaded = _loaded_by("from benchtimer.tui.app import load_the_rest; load_the_rest()")
    apart = {"telling", "keyboard"}  # watching without a screen; loaded with a terminal's app
    assert {f"benchtimer.tui.{name}" for name in SCREENS if name not in apart} <= loaded
    assert {f"benchtimer.{name}" for name in ("bench.advice", "plan.planner", *LATER)} <= loaded


def test_the_opening_backup_waits_for_the_screen(tmp_path: Path) -> None:
    """An opened bench makes its backup later, or at once when you leave."""
    driver = drive(tmp_path, ManualClock(1_770_000_000_000))
    driver.set_up(NEW)
    driver.close()
    before = len(backups(tmp_path))
    driver = drive(tmp_path, ManualClock(1_770_000_100_000))
    (waiting,) = [x for x in threading.enumerate() if x.name == "backup"]
    assert waiting.is_alive()
    assert len(backups(tmp_path)) == before
    driver.close()
    assert not waiting.is_alive()
    assert len(backups(tmp_path)) == before + 1
