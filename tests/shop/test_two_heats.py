"""A bath has one temperature, so runs that need two different ones exclude each other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest

from benchtimer.bath.bath_decide import MixBath
from benchtimer.bench.advice import advise, problem_now
from benchtimer.bench.beside import beside
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.refusals import WrongHeat
from benchtimer.view.trouble import trouble_lines
from tests.run.scenes import HOTTER
from tests.run.scenes import TWO_TANKS as WARM
from tests.run.test_setup import BREW
from tests.support import GEARED, MINUTE, READY, small_recipe, table

HOT = HOTTER.replace("holds = 1", "holds = 2")

KEPT = (
    "Tank is kept at 60 to 70 C for run {}; this run needs 85 to 90 C. "
    "Wait until its parts are past Tank, or give each recipe a bath of its own."
)


@pytest.fixture
def clock() -> ManualClock:
    """A clock that the test moves."""
    return ManualClock(1_770_000_000_000)


@pytest.fixture
def driver(tmp_path: Path, clock: ManualClock) -> Iterator[OpenBench]:
    """A bench for the test alone."""
    with closing(drive(tmp_path, clock)) as opened:
        yield opened


def _new(part: str, text: str) -> NewRun:
    return NewRun("Test", {"small": table(small_recipe(text))}, [(part, "small")])


def _press(driver: OpenBench, run: str, *commands: c.Command) -> None:
    for command in commands:
        driver.press(run, command)


def _hang(driver: OpenBench, run: str, part: str, clock: ManualClock) -> None:
    """Bring a new part through the tank and onto the rack."""
    _press(driver, run, c.Begin(part), c.Finish(part), c.Finish(part))
    clock.advance(5 * MINUTE)
    _press(driver, run, c.Begin(part), c.Answer(part, "even", True))
    _press(driver, run, c.Answer(part, "heat", "25 C"), c.Finish(part))


def test_no_run_is_set_up_for_a_bath_in_use_at_another_temperature(
    driver: OpenBench, clock: ManualClock
) -> None:
    """The run is refused, with both temperatures, until the first part is past the tank."""
    first = driver.set_up(_new("pommel", WARM))
    _press(driver, first, *READY)
    with pytest.raises(WrongHeat) as refused:
        driver.set_up(_new("guard", HOT))
    assert str(refused.value) == f"Can't set up Tank: {KEPT.format(first)}"
    assert driver.names == [first]
    _hang(driver, first, "pommel", clock)
    second = driver.set_up(_new("guard", HOT))
    _press(driver, second, *GEARED, c.Read("tank", "87 C"))
    moment = driver.moment()
    assert trouble_lines(moment) == ()  # the first run is done with it, so nothing is too hot
    assert [a.run for a in moment.actions if a.kind is ActionKind.READING] == []


def test_of_two_runs_set_up_one_starts(driver: OpenBench) -> None:
    """A run set up for later blocks nothing; once one runs, the other's start is refused."""
    first = driver.set_up(_new("pommel", WARM))
    second = driver.set_up(_new("guard", HOT))
    _press(driver, first, *GEARED)
    driver.press(second, c.Acknowledge("Hot tank"))
    with pytest.raises(WrongHeat) as refused:
        driver.press(second, c.Start())
    assert str(refused.value) == f"Can't start: {KEPT.format(first)}"
    with pytest.raises(WrongHeat, match="Can't heat Tank: Tank is kept at 60 to 70 C"):
        driver.press(second, c.Heat("tank"))


def test_no_part_goes_in_beside_one_that_needs_another_temperature(
    driver: OpenBench, clock: ManualClock
) -> None:
    """A part sent back stays out of the cooler tank, and the plan keeps the two apart."""
    first = driver.set_up(_new("pommel", HOT))
    _press(driver, first, *GEARED, c.Read("tank", "87 C"))
    _hang(driver, first, "pommel", clock)
    second = driver.set_up(_new("guard", WARM))
    _press(driver, second, *GEARED, c.Read("tank", "65 C"))
    _press(driver, second, c.Begin("guard"), c.Finish("guard"), c.Finish("guard"))
    _press(driver, first, c.SendBack("pommel", "prepare", "streaks"))
    now_ms = driver.stamp().noted_ms
    shop = driver.shop(driver.stamp())
    plan = advise(shop, now_ms, nodes=50).plan
    assert plan is not None
    tank = shop.real[first, "tank"]
    stays = sorted((d.in_s, d.out_s) for d in plan.dwells if d.station == tank)
    assert all(out <= into for (_, out), (into, _) in pairwise(stays))
    _press(driver, first, c.Begin("pommel"), c.Finish("pommel"))
    with pytest.raises(WrongHeat) as refused:
        driver.press(first, c.Finish("pommel"))
    assert str(refused.value) == (
        f"Can't finish pommel: Tank is kept at 60 to 70 C for run {second}; this run needs "
        f"85 to 90 C. Pull guard of run {second} first."
    )
    action = next(a for a in driver.moment().actions if a.part == "pommel")
    assert action.blocked == f"Tank is kept at 60 to 70 C: guard of run {second} is in it"


def test_a_missing_plan_beside_the_bench_says_why(driver: OpenBench) -> None:
    """``plan`` refuses what could not be set up, in the same words."""
    first = driver.set_up(_new("pommel", WARM))
    _press(driver, first, *READY)
    new, now_ms = _new("guard", HOT), driver.stamp().noted_ms
    shop = driver.shop(driver.stamp())
    with pytest.raises(WrongHeat) as refused:
        beside(shop, new, problem_now(shop, now_ms), now_ms, [])
    assert str(refused.value) == f"Can't set up Tank: {KEPT.format(first)}"


def test_no_bath_kept_at_another_temperature_is_chosen(driver: OpenBench) -> None:
    """Two tanks with one bath of the book are one tank, so the second tie is refused."""
    hotter = BREW.replace("60 C", "85 C").replace("70 C", "90 C").replace("80 C", "95 C")
    driver.write_bath("brew 1", MixBath("Brew", mix="brew", recipe="small"))
    first = driver.set_up(_new("pommel", BREW))
    assert driver.state(first).bench.baths == {"tank": "brew 1"}
    other = hotter.replace('title = "Tank"', 'title = "Pot"').replace('"brew"', '"stock"')
    second = driver.set_up(_new("guard", other))
    driver.press(first, c.Acknowledge("Hot tank"))
    driver.press(first, c.Heat("tank"))
    with pytest.raises(WrongHeat, match="60 to 70 C for run"):
        driver.press(second, c.TieBath("tank", "brew 1"))
    assert not driver.state(second).bench.baths
