"""A run set up again: same recipes, parts and settings, new names."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun, new_names, twin_of
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.job.job_decide import OpenJob
from benchtimer.job.order import Order, OrderPart
from benchtimer.records.record_lookup import NoSuchRun
from benchtimer.run import commands as c
from benchtimer.run.layout import EntersAt
from benchtimer.run.refusals import Refused
from tests.support import TEMPERED, small_recipe, table

RUN = NewRun(
    "Dip and look", {"small": table(small_recipe(TEMPERED))},
    [("bolster", "small"), ("pins 2", "small")],
    properties={name: {"temper": "200 C"} for name in ("bolster", "pins 2")},
    away=("22:00-07:00",), adjustments=("small: dip.target = 6 min",), hands=2,
    enters={"bolster": EntersAt("hang", "dipped last week")}, counts={"pins 2": 6},
)  # fmt: skip


@pytest.fixture
def driver(tmp_path: Path) -> Iterator[OpenBench]:
    """A bench for the test alone."""
    opened = drive(tmp_path, ManualClock(1_770_000_000_000))
    yield opened
    opened.close()


def test_a_run_is_set_up_again_with_new_names(driver: OpenBench) -> None:
    """Recipes, properties, hands, hours, changes, counts and entry steps are the same."""
    name = driver.set_up(RUN)
    again = driver.again(name)
    assert again.parts == [("bolster 2", "small"), ("pins 3", "small")]
    assert again.recipes == RUN.recipes
    same = ("title", "away", "adjustments", "hands")
    assert all(getattr(again, key) == getattr(RUN, key) for key in same)
    assert again.properties == {n: {"temper": "200 C"} for n in ("bolster 2", "pins 3")}
    assert again.counts == {"pins 3": 6}
    assert again.enters == {"bolster 2": EntersAt("hang")}, "of the new part nothing is said"
    other = driver.set_up(again)
    assert driver.again("last").parts == [("bolster 3", "small"), ("pins 4", "small")]
    assert driver.state(other).bench.parts["pins 3"].count == 6


def test_a_part_that_joined_is_set_up_again_too(driver: OpenBench) -> None:
    """The new run has the old run's final parts, under the given names."""
    name = driver.set_up(RUN)
    driver.press(name, c.AddPart("cap", "small", properties={"temper": "190 C"}))
    again = driver.again(name, ["a", "b", "c"])
    assert [part for part, _ in again.parts] == ["a", "b", "c"]
    assert again.properties["c"] == {"temper": "190 C"}
    with pytest.raises(Refused, match=r"2 names for 3 parts \(bolster, pins 2, cap\)"):
        driver.again(name, ["a", "b"])
    with pytest.raises(NoSuchRun):
        driver.again("2020-01-01-1")


def test_new_names_are_not_in_use() -> None:
    """A new name is the next number that is free among the old names and the bench."""
    assert new_names(["bolster", "cap 2", "pin 9"]) == ["bolster 2", "cap 3", "pin 10"]
    assert new_names(["bolster", "bolster 2"]) == ["bolster 3", "bolster 4"]
    assert new_names(["bolster"], ["bolster 2", "bolster 3"]) == ["bolster 4"]


def test_the_same_parts_on_the_bench_are_found(driver: OpenBench) -> None:
    """A run with the same parts and recipes is a twin until it is over."""
    states = {name: driver.state(name) for name in [driver.set_up(RUN)]}
    (name,) = states
    assert twin_of(RUN, states) == name
    assert twin_of(driver.again(name), states) is None
    driver.press(name, c.Abort())
    assert twin_of(RUN, {name: driver.state(name)}) is None


def test_parts_of_two_jobs_are_no_twins(driver: OpenBench) -> None:
    """A ferrule of another job is another part; the same ferrule is refused and its run named."""
    recipe = RUN.parts[0][1]
    for job in ("pen", "box"):
        parts = (OrderPart("ferrule", (recipe,)),)
        driver.write_job(job, OpenJob(Order(date(2099, 1, 1), parts)), [recipe])

    def new(job: str) -> NewRun:
        return NewRun(
            "Dip",
            RUN.recipes,
            [("ferrule", recipe)],
            properties={"ferrule": {"temper": "200 C"}},
            jobs={"ferrule": f"{job}/ferrule"},
        )

    name = driver.set_up(new("pen"))
    states = {name: driver.state(name)}
    assert twin_of(new("pen"), states) == name
    assert twin_of(new("box"), states) is None
    with pytest.raises(Refused, match=f"run {name} has it for {recipe} already"):
        driver.set_up(new("pen"))
    driver.set_up(new("box"))


def test_a_part_out_of_turn_is_set_up_with_a_warning(driver: OpenBench) -> None:
    """A part that waits for others, or is due for another recipe, is named; one in turn is not."""
    parts = (
        OrderPart("handle", ("small",), needs=("ring",)),
        OrderPart("ring", ("first", "small")),
        OrderPart("cap", ("small",)),
    )
    driver.write_job("pen", OpenJob(Order(date(2099, 1, 1), parts)), ["small", "first"])

    def warnings(part: str) -> list[str]:
        called = {part: f"pen/{part}"}
        properties = {part: {"temper": "200 C"}}
        new = NewRun("Dip", RUN.recipes, [(part, "small")], properties=properties, jobs=called)
        return [line for line in driver.notices[driver.set_up(new)] if line.startswith("pen/")]

    assert warnings("handle") == ["pen/handle is waiting for ring; this run is small."]
    assert warnings("ring") == ["pen/ring is ready for first; this run is small."]
    assert warnings("cap") == []
