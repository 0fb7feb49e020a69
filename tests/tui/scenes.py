"""Benches in the middle of their work, the same each time, for screens.

A simulated maker follows the agenda through the real driver and its log.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.rehearsal import Rehearsal
from benchtimer.run import commands as c
from benchtimer.run.run_state import OVER, Bench, PartPhase
from benchtimer.settings import Settings
from benchtimer.tui.app import BenchApp

FITTINGS = ("bolster", "ferrule", "butt cap", "guard", "pin", "spacer", "bail", "collar")
"""Small steel fittings of invented hunting knives."""

MORNING = 1_767_600_000_000
"""2026-01-05 08:00 UTC, a Monday."""


@dataclass(slots=True)
class Maker(Rehearsal):
    """Simulated hands at a real bench with a log on the disk."""

    driver: OpenBench | None = None
    name: str = ""

    def _set_up(self) -> None:
        self.name = self._bench.set_up(self.new)
        self._follow()
        self.timeline = self._bench.timeline

    @property
    def _bench(self) -> OpenBench:
        assert self.driver is not None
        return self.driver

    def _press(self, command: c.Command) -> None:
        self._bench.press(self.name, command)
        self._follow()

    def _follow(self) -> None:
        """The run as part of the shop, with the limits that other runs set."""
        shop, state = self._bench.shop(self._bench.stamp()), self._bench.state(self.name)
        bench = shop.bench(self.name) if self.name in shop.states else state.bench
        self.state = replace(state, bench=bench)

    def work(self, until: Callable[[Bench], bool]) -> Maker:
        """Set up a run and work until the bench meets a condition."""
        self._set_up()
        while self.state.bench.phase not in OVER and not until(self.state.bench):
            self._do_next()
        return self


@dataclass
class Scene:
    """A bench on the disk, a maker at work, and the screen in front of it."""

    folder: Path
    clock: ManualClock = field(default_factory=lambda: ManualClock(MORNING))
    driver: OpenBench = field(init=False)
    name: str = ""
    watcher: OpenBench | None = None

    def __post_init__(self) -> None:
        self.driver = drive(self.folder, self.clock)

    def work(
        self, recipe: str, parts: Sequence[str], until: Callable[[Bench], bool], seed: int = 1
    ) -> Scene:
        """Set up a run of a shipped recipe and work until the bench meets a condition."""
        new = new_run(RecipeFiles(), recipe, list(parts))
        self.name = Maker(new, seed, clock=self.clock, driver=self.driver).work(until).name
        return self

    def app(self, theme: str = "dim", *, ascii_only: bool = False) -> BenchApp:
        """The screen, with no guard against quick presses."""
        self.driver.notices.clear()
        settings = Settings.model_validate({"screen": {"theme": theme}})
        return BenchApp(
            self.driver,
            self.name or None,
            guard_s=0,
            settings=settings,
            ascii_only=ascii_only,
        )

    def watching(self) -> BenchApp:
        """The screen of a watcher."""
        self.watcher = look_on(self.folder, self.clock)
        return BenchApp(self.watcher, guard_s=0)

    def stop_watching(self) -> None:
        """Stop watching."""
        if self.watcher is not None:
            self.watcher.close()
        self.watcher = None

    def close(self) -> None:
        """Close the bench."""
        self.driver.close()
        self.stop_watching()


def dwelling(count: int) -> Callable[[Bench], bool]:
    """A number of parts are in their stations."""
    return lambda bench: (
        sum(p.phase is PartPhase.DWELLING for p in bench.parts.values()) >= count
        and not any(p.phase is PartPhase.IN_HAND for p in bench.parts.values())
    )


def in_station(name: str) -> Callable[[Bench], bool]:
    """A station holds a part, and the hands are free."""
    return lambda bench: (
        bool(bench.inside(name))
        and not any(p.phase is PartPhase.IN_HAND for p in bench.parts.values())
    )
