"""The bench plans with your own times and says where they come from."""

from __future__ import annotations

from pathlib import Path

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.learn.learned import Learned, hands_set
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from tests.support import READY, small_recipe

START_MS = 1_790_000_000_000


def _order(*adjustments: str) -> NewRun:
    table = recipe_table(small_recipe())
    return NewRun("learning", {"small": table}, [("bolster", "small")], adjustments=adjustments)


def _runs(folder: Path, prepare_s: int, count: int) -> OpenBench:
    """A bench with this many finished runs, each with one step of this length."""
    clock = ManualClock(START_MS)
    driver = drive(folder, clock, by="ada")
    for _ in range(count):
        name = driver.set_up(_order())
        for command in (*READY, c.Begin("bolster")):
            driver.press(name, command)
        clock.advance(prepare_s * 1000)
        driver.press(name, c.Finish("bolster"))
        driver.press(name, c.Abort("enough"))
    return driver


def test_the_planner_sees_your_own_times(tmp_path: Path) -> None:
    """After four runs of 120 s a 60 s step is planned with 85 s; the run is unchanged."""
    driver = _runs(tmp_path, 120, 4)
    name = driver.set_up(_order())
    planned = driver.planned_with(driver.moment().shop).states[name].bench
    assert planned.recipes["small"].step[0].hands_s == 85
    assert driver.state(name).bench.recipes["small"].step[0].hands_s == 60
    found = driver.learned(name)
    assert found.words == "hands-on times and rates of checks from your 4 runs"
    assert found.usual("small", ["prepare"]) == "you: 1 min 25 s"
    assert found.usual("small", ["dip"]) == ""
    driver.close()


def test_a_time_set_by_hand_for_this_run_stays(tmp_path: Path) -> None:
    """A time that you set for one run beats the learned one."""
    driver = _runs(tmp_path, 120, 4)
    name = driver.set_up(_order("small: prepare.hands = 60 s"))
    planned = driver.planned_with(driver.moment().shop).states[name].bench
    assert planned.recipes["small"].step[0].hands_s == 60
    driver.close()


def test_a_run_that_ends_while_another_is_open_is_learned(tmp_path: Path) -> None:
    """An open run learns from one that ends beside it."""
    clock = ManualClock(START_MS)
    driver = drive(tmp_path, clock, by="ada")
    first, second = driver.set_up(_order()), driver.set_up(_order())
    assert not driver.learned(first)
    for command in (*READY, c.Begin("bolster")):
        driver.press(second, command)
    clock.advance(90_000)
    driver.press(second, c.Finish("bolster"))
    assert not driver.learned(first)
    driver.press(second, c.Abort("enough"))
    assert driver.learned(first).words.endswith("from your 1 run")
    driver.close()


def test_adjusted_steps_are_recognized_by_their_text() -> None:
    """Only changes of hands-on times are read, each for its own recipe."""
    found = hands_set(["hot-black: scrub.hands = 2 min", "hot-black: black.target = 12 min"])
    assert found == {"hot-black": {"scrub"}}


def test_nothing_learned_changes_nothing() -> None:
    """Without runs the recipes are unchanged and no source is named."""
    recipe = small_recipe()
    assert Learned().applied({"small": recipe}) == {"small": recipe}
    assert (Learned().words, bool(Learned()), Learned().as_dict()) == ("", False, {})
