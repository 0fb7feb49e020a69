"""The register has what closed runs teach, and drops it when a run reopens."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.learn.sums import IMPORTED, OWN, PRACTICE, Group
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from benchtimer.store.index import index_all
from benchtimer.store.log import EventLog
from benchtimer.store.log_transfer import carry_in, read_run, run_lines
from tests.support import READY, small_recipe

START_MS = 1_790_000_000_000


def _work(folder: Path, prepare_s: int = 90, speed: float = 1) -> tuple[OpenBench, str]:
    """A run in progress with its first step done."""
    clock = ManualClock(START_MS)
    driver = drive(folder, clock, speed=speed)
    table = recipe_table(small_recipe())
    name = driver.set_up(NewRun("learning", {"small": table}, [("bolster", "small")]))
    for command in (*READY, c.Begin("bolster")):
        driver.press(name, command)
    clock.advance(round(prepare_s * 1000 / speed))
    driver.press(name, c.Finish("bolster"))
    return driver, name


def _learned(folder: Path) -> dict[str, Group]:
    log = EventLog(folder, read_only=True)
    try:
        return log.learned("small")
    finally:
        log.close()


def _times(groups: dict[str, Group]) -> dict[str, int]:
    return {who.partition("\t")[0]: group["hands/prepare"][0] for who, group in groups.items()
            if "hands/prepare" in group}  # fmt: skip


def test_a_run_is_learned_when_it_ends(tmp_path: Path) -> None:
    """A run teaches nothing while open, its times once closed, and nothing again after an undo."""
    driver, name = _work(tmp_path)
    assert _learned(tmp_path) == {}
    driver.press(name, c.Abort("enough"))
    over = _learned(tmp_path)
    assert _times(over) == {OWN: 1}
    driver.press(name, c.Undo())
    assert _learned(tmp_path) == {}
    driver.press(name, c.Redo())
    assert _learned(tmp_path) == over
    driver.close()


def test_runs_add_up_and_can_be_relearned(tmp_path: Path) -> None:
    """Two runs add up, and a rebuild from the entries gives the same sums."""
    for _ in range(2):
        driver, name = _work(tmp_path)
        driver.press(name, c.Abort("enough"))
        driver.close()
    learned = _learned(tmp_path)
    assert _times(learned) == {OWN: 2}
    log = EventLog(tmp_path)
    log._register.set_sums("small", '{"own\\tmaker":{"hands/prepare":[9,9,9,9]}}')
    log._register.set_sums("gone", '{"own\\tmaker":{"hands/prepare":[9,9,9,9]}}')
    index_all(log._db)
    assert log.learned("gone") == {}
    log.close()
    assert _learned(tmp_path) == learned


def test_practice_is_kept_apart(tmp_path: Path) -> None:
    """A run at another speed is marked as practice."""
    driver, name = _work(tmp_path, speed=30)
    driver.press(name, c.Abort("enough"))
    driver.close()
    assert _times(_learned(tmp_path)) == {PRACTICE: 1}


def test_imported_runs_are_kept_apart(tmp_path: Path) -> None:
    """A run imported from another log is marked as imported."""
    driver, name = _work(tmp_path / "there")
    driver.press(name, c.Abort("enough"))
    lines = list(run_lines(driver._log.entries(name)))
    driver.close()
    path = tmp_path / "run.jsonl"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    log = EventLog(tmp_path / "here")
    carry_in(log, path, read_run(path), START_MS)
    log.close()
    assert _times(_learned(tmp_path / "here")) == {IMPORTED: 1}


@pytest.mark.parametrize("recipe", ["", "other"])
def test_a_recipe_without_runs_has_nothing_learned(tmp_path: Path, recipe: str) -> None:
    """A recipe that was never run has no sums."""
    EventLog(tmp_path).close()
    log = EventLog(tmp_path, read_only=True)
    assert log.learned(recipe) == {}
    log.close()
