"""A bench in a temporary folder, with a clock that tests move."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.recipe.model import Recipe
from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.view.desk import Desk
from tests.support import MINUTE, small_recipe, table

NOON = 1_770_000_000_000


@dataclass
class Shop:
    """A driver, its clock and a run with three parts."""

    folder: Path
    clock: ManualClock = field(default_factory=lambda: ManualClock(NOON))
    driver: OpenBench = field(init=False)
    name: str = ""

    def __post_init__(self) -> None:
        self.driver = drive(self.folder, self.clock)

    def set_up(
        self,
        *names: str,
        recipe: Recipe | None = None,
        started: bool = True,
        properties: dict[str, dict[str, str]] | None = None,
    ) -> Shop:
        """Set up a run of the small recipe, with the gear on."""
        table_text = table(recipe if recipe is not None else small_recipe())
        parts = [(name, "small") for name in names]
        new = NewRun("Test", {"small": table_text}, parts, properties or {})
        self.name = self.driver.set_up(new)
        if started:
            self.press(c.Acknowledge("Hot tank"))
            self.press(c.Start())
        return self

    def press(self, command: c.Command, after_ms: int = 1000) -> None:
        """Press after a while."""
        self.clock.advance(after_ms)
        self.driver.press(self.name, command)

    def to_tank(self, name: str) -> None:
        """Bring a new part to the tank, which has been read."""
        self.press(c.Read("tank", "65 C"))
        self.press(c.Begin(name, anyway=True))
        self.press(c.Finish(name), MINUTE)
        self.press(c.Finish(name), 20_000)

    def desk(self) -> Desk:
        """A desk at the run, with slow presses."""
        return Desk(self.driver, self.name, guard_s=0)

    def app(self) -> BenchApp:
        """The screen."""
        return BenchApp(self.driver, self.name or None, guard_s=0)


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Iterator[Shop]:
    """A bench that closes after the test."""
    shop = Shop(tmp_path / "bench")
    yield shop
    shop.driver.close()


@pytest.fixture(autouse=True)
def _no_tick_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Boards look at the clock when a test says so, not once a second."""
    monkeypatch.setattr("benchtimer.tui.board_screen.TICK_S", 10**6)
