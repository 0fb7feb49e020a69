"""The scenario: a petty knife whose darkening fails twice and holds on the third try.

The cause is set here: the blade was cleaned with dish soap only, and the third time with
solvent and an alkaline cleaner. Everything else varies as in a shop: the etchant's strength
and temperature, the soak time, the hands-on time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.record import Record
from benchtimer.run import commands as c
from tests.records.maker import Answers, Maker

MORNING = 1_774_594_800_000
"""2026-03-27 07:00 UTC, two days before clocks change in Europe."""

PART = "petty knife"


def knife_answers(one: int) -> Answers:
    """The maker's answers in each try."""
    held = one == 3
    return {
        "grit": "P800",
        "strength": {1: "14.5 Be", 2: "14 Be", 3: "15 Be"}[one],
        "warmth": {1: "21 C", 2: "19.5 C", 3: "20.5 C"}[one],
        "age": "fresh",
        "cleaner": "solvent, then alkaline" if held else "dish soap",
        "depth": "pick catches",
        "acid": "7 pH",
        "cloth": "P3000",
        "seen": "even black" if held else "grey patches near the tang",
        "blacks": "yes, black" if held else "flat or gone: etch again",
        "kept": "oil",
    }


@dataclass
class Knife:
    """The scenario's bench after the run."""

    folder: Path
    clock: ManualClock
    driver: OpenBench
    name: str

    @property
    def record(self) -> Record:
        """The record of the run."""
        return self.driver.record(self.name)


def work_on_the_knife(folder: Path) -> Knife:
    """Work through the scenario; the caller closes the driver."""
    clock = ManualClock(MORNING, offset_s=3600)
    driver = drive(folder, clock, by="maker")
    changes = ["hang.target=6 h 40 min"]
    name = driver.set_up(new_run(RecipeFiles(), "etch-darken", [PART], changes))
    maker = Maker(
        driver,
        clock,
        name,
        answers=knife_answers,
        late_s=lambda one: {"hang": {1: 300, 2: -600, 3: 0}[one], "etch": 20 * one},
        temperatures={"etch": "21 C"},
        hands_s=lambda one: {"degrease": {1: 170, 2: 190, 3: 200}[one]},
        loop="ready",
    )
    maker.work()
    maker.press(c.Note("photo: photos/petty-knife-left.jpg", PART))
    maker.press(c.Judge(PART, "accepted", 4))
    return Knife(folder, clock, driver, name)


@pytest.fixture(name="knife", scope="session")
def _knife(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Knife]:
    """The scenario, worked once; tests only read it."""
    knife = work_on_the_knife(tmp_path_factory.mktemp("knife") / "bench")
    yield knife
    knife.driver.close()
