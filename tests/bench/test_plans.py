"""One agenda for everybody: who drives publishes the plan, who looks on reads it."""

from __future__ import annotations

from contextlib import closing, suppress
from pathlib import Path
from random import Random

import pytest

from benchtimer.bench.advice import advise
from benchtimer.bench.advised import Advice
from benchtimer.bench.driver import Driver
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.plans import FILE_NAME, Plans
from benchtimer.bench.watcher import Watcher
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.refusals import Refused
from benchtimer.run.state import OVER
from tests.support import small_recipe, start, table

PARTS = ("bolster", "ferrule", "butt cap")


def _two_runs(driver: Driver) -> list[str]:
    new = NewRun("Test", {"small": table(small_recipe())}, [(name, "small") for name in PARTS])
    names = [driver.lay_out(new), driver.lay_out(new)]
    for name in names:
        start(driver, name)
    return names


def _plan(driver: Driver, name: str) -> None:
    """Ask the planner as the board does."""
    bench, now_ms = driver.state(name).bench, driver.stamp().noted_ms
    driver.plans.heed(name, advise(bench, now_ms, nodes=100), driver.names)
    driver.plans.publish()


def _work(driver: Driver, name: str, draws: Random) -> None:
    """Do what the agenda says in one run; a reading and an answer are good ones."""
    action = next(iter(driver.agenda(name, driver.stamp())), None)
    if action is None or action.blocked is not None:
        return
    if action.kind is ActionKind.READING:
        driver.press(name, c.Read(action.to_station or "", "65 C"))
    elif action.check is not None and action.part is not None:
        bench = driver.state(name).bench
        answer = action.check.simulate(draws, bench.parts[action.part].properties)
        driver.press(name, c.Answer(action.part, action.check.id, answer))
    elif action.command is not None and driver.stamp().noted_ms >= action.earliest_ms:
        with suppress(Refused):  # the hands or the tank hold a part of the other run
            driver.press(name, action.command)


@pytest.mark.parametrize("seed", range(4))
def test_board_and_watch_have_one_agenda(tmp_path: Path, seed: int) -> None:
    """In every moment of two runs at once all agree on what comes next, and when, to the ms."""
    clock, draws, differs = ManualClock(1_770_000_000_000), Random(seed), 0
    with closing(Driver(tmp_path, clock)) as driver:
        names = _two_runs(driver)
        with closing(Watcher(tmp_path, clock)) as watcher:
            for _ in range(60):
                clock.advance(draws.choice((1000, 20_000, 60_000, 240_000)))
                name = draws.choice(names)
                if driver.state(name).bench.phase not in OVER:
                    _work(driver, name, draws)
                    _plan(driver, name)
                watcher.refresh()
                stamp = driver.stamp()
                for each in (n for n in names if n in driver.names):
                    seen = driver.agenda(each, stamp)
                    assert watcher.agenda(each, stamp) == seen
                    differs += seen != agenda(driver.state(each).bench, stamp.noted_ms)
    assert differs > 5  # the plan does move something, so that the agreement means something


def test_the_plan_is_there_again_after_a_restart(tmp_path: Path) -> None:
    """Closed and opened again, the bench says what it said."""
    clock = ManualClock(1_770_000_000_000)
    with closing(Driver(tmp_path, clock)) as driver:
        name, _ = _two_runs(driver)
        _plan(driver, name)
        before = driver.plans.of(name)
        assert before.begin_ms
    with closing(Driver(tmp_path, clock)) as driver:
        after = driver.plans.of(name)
        assert (after.begin_ms, after.latest_ms) == (before.begin_ms, before.latest_ms)
        assert after.times(driver.state(name).bench) == before.times(driver.state(name).bench)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"runs": {"x": 1}}', b"\xff\x00"])
def test_a_damaged_file_only_means_no_plan(tmp_path: Path, content: bytes) -> None:
    """It is advice: whatever the file holds, nothing fails and nothing is made of it."""
    (tmp_path / FILE_NAME).write_bytes(content)
    assert Plans(tmp_path).of("x") == Advice()


def test_closed_runs_are_forgotten(tmp_path: Path) -> None:
    """The file holds open runs only."""
    plans = Plans(tmp_path)
    for run in ("one", "two"):
        plans.heed(run, Advice(end_ms=1), ("one", "two"))
    plans.heed("two", Advice(end_ms=2), ("two",))
    plans.publish()
    again = Plans(tmp_path)
    assert (again.of("one").end_ms, again.of("two").end_ms) == (None, 2)
