"""One agenda for all: the driver publishes the plan, and watchers read it."""

from __future__ import annotations

from contextlib import closing, suppress
from pathlib import Path
from random import Random

import pytest

from benchtimer.bench.advice import advise
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.plans import FILE_NAME, NO_ADVICE, Advice, Plans
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.refusals import Refused
from benchtimer.shop.shop_agenda import shop_agenda
from tests.support import small_recipe, start, table

PARTS = ("bolster", "ferrule", "butt cap")


def _two_runs(driver: OpenBench) -> list[str]:
    new = NewRun("Test", {"small": table(small_recipe())}, [(name, "small") for name in PARTS])
    names = [driver.set_up(new), driver.set_up(new)]
    for name in names:
        start(driver, name)
    return names


def _plan(driver: OpenBench) -> None:
    """Ask the planner as the board does."""
    moment = driver.moment()
    driver.plans.keep(advise(moment.shop, moment.now_ms, nodes=100))
    driver.plans.publish()


def _work(driver: OpenBench, draws: Random) -> None:
    """Do what the agenda says, with good readings and answers."""
    moment = driver.moment()
    action = moment.first
    if action is None or action.blocked is not None:
        return
    with suppress(Refused):
        if action.kind is ActionKind.READING:
            driver.press(action.run, c.Read(action.to_station or "", "65 C"))
        elif action.check is not None and action.part is not None:
            known = moment.bench_of(action).parts[action.part].properties
            answer = action.check.simulate(draws, known)
            driver.press(action.run, c.Answer(action.part, action.check.id, answer))
        elif action.command is not None and moment.now_ms >= action.earliest_ms:
            driver.press(action.run, action.command)


@pytest.mark.parametrize("seed", range(4))
def test_board_and_watcher_share_one_agenda(tmp_path: Path, seed: int) -> None:
    """With two runs, all agree at every moment on what comes next, to the ms."""
    clock, draws, differs = ManualClock(1_770_000_000_000), Random(seed), 0
    with closing(drive(tmp_path, clock)) as driver:
        _two_runs(driver)
        with closing(look_on(tmp_path, clock)) as watcher:
            for _ in range(60):
                clock.advance(draws.choice((1000, 20_000, 60_000, 240_000)))
                _work(driver, draws)
                _plan(driver)
                watcher.refresh()
                seen, stamp = driver.moment(), driver.stamp()
                assert watcher.moment(stamp).actions == seen.actions
                differs += seen.actions != shop_agenda(seen.shop, seen.now_ms)
    assert differs > 5  # the plan must move something, or the agreement means nothing


def test_the_plan_survives_a_restart(tmp_path: Path) -> None:
    """A reopened bench shows the same plan."""
    clock = ManualClock(1_770_000_000_000)
    with closing(drive(tmp_path, clock)) as driver:
        name, _ = _two_runs(driver)
        _plan(driver)
        before = driver.plans.advice
        assert before.begin_ms
    with closing(drive(tmp_path, clock)) as driver:
        after = driver.plans.advice
        assert (after.begin_ms, after.latest_ms) == (before.begin_ms, before.latest_ms)
        bench = driver.state(name).bench
        assert after.times(name, bench) == before.times(name, bench)


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"runs": {"x": 1}}', b"\xff\x00"])
def test_a_damaged_file_only_means_no_plan(tmp_path: Path, content: bytes) -> None:
    """A damaged plan file is ignored, whatever it holds."""
    (tmp_path / FILE_NAME).write_bytes(content)
    assert Plans(tmp_path).advice is NO_ADVICE


def test_only_the_newest_answer_is_published(tmp_path: Path) -> None:
    """The file holds the last answer, for anyone who looks again."""
    plans, looking_on = Plans(tmp_path), Plans(tmp_path)
    for end_ms in (1, 2):
        plans.keep(Advice(end_ms=end_ms))
        plans.publish()
        looking_on.refresh()
        assert looking_on.advice.end_ms == end_ms
