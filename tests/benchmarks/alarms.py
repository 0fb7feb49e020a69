"""How often a rehearsed run calls somebody, beside the guidance of EEMUA 191.

    python -m tests.benchmarks.alarms [--parts 6] [--seed 1]

Simulated hands work a run of shipped recipe with the planner's advice; the bell listens
once a second. Whoever is called takes ``REACTION_S`` to come. "busy" is the time to the last
call of the first ``BUSY_S``, before all parts lie in their long soak. Guidance (EEMUA Publication
191, as public summaries of it give the figures): about one call in ten minutes is
manageable in steady work, more than ten in ten minutes is a flood.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, field

from benchtimer.advice import rehearsing
from benchtimer.clock import ManualClock
from benchtimer.orders import new_run
from benchtimer.recipe.shelf import Shelf
from benchtimer.rehearsal import START_WALL_MS, Rehearsal
from benchtimer.run import commands as c
from benchtimer.run.agenda import Action, agenda
from benchtimer.tui.alarm import OVERDUE, Bell, alarms_of
from tests.tui.scenes import FITTINGS

REACTION_S = 10
"""Somebody who is called puts the file down and walks over; invented, no source."""

WINDOW_S = 600

BUSY_S = 4 * 3600


class _Ticking(ManualClock):
    """A clock that is listened to each second."""

    listen: Callable[[], None] = staticmethod(lambda: None)

    def advance(self, ms: int) -> None:
        """Pass second by second."""
        while ms > 0:
            step = min(ms, 1000)
            super().advance(step)
            ms -= step
            self.listen()


@dataclass(slots=True)
class Listening(Rehearsal):
    """Simulated hands that are called by the bell."""

    calls_s: list[float] = field(default_factory=list)
    repeats: int = 0
    overdue: int = 0
    presses: int = 0
    told: dict[str, int] = field(default_factory=dict)
    bell: Bell = field(init=False)

    def listen(self) -> None:
        """Once a second: does anything call?"""
        if not self.state.bench.parts:
            return
        actions = agenda(self.state.bench, self.now_ms, self.told)
        alarms = alarms_of("run", self.state.bench, self.now_ms, actions)
        call = self.bell.heed(alarms)
        if call is not None and call.outside:
            self.calls_s.append(self.now_ms / 1000)
            self.overdue += call.level == OVERDUE
        self.repeats += call is not None and not call.outside

    def _press(self, command: c.Command) -> None:
        Rehearsal._press(self, command)
        self.presses += 1
        self.bell.attend()
        self.told = self.advice(self.state.bench, self.now_ms) if self.advice else {}

    def _do(self, action: Action) -> None:
        if action.due_ms == self.now_ms:  # waited for, not met on the way
            self.clock.advance(REACTION_S * 1000)
        Rehearsal._do(self, action)


def listened(parts: int, seed: int, recipe: str = "hot-black") -> Listening:
    """A run worked to its end with somebody listening."""
    clock = _Ticking(START_WALL_MS)
    run = Listening(
        new_run(Shelf(), recipe, list(FITTINGS[:parts])), seed, advice=rehearsing(60), clock=clock
    )
    run.bell = Bell(lambda: clock.wall_ms / 1000)
    clock.listen = run.listen
    run.run()
    return run


def most_in(window_s: float, times_s: list[float]) -> int:
    """The most calls in any stretch of so many seconds."""
    return max((sum(t <= u < t + window_s for u in times_s) for t in times_s), default=0)


def main() -> int:
    """Print the rates."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--parts", type=int, default=6)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    run = listened(asked.parts, asked.seed)
    begin_s = START_WALL_MS / 1000
    length_s = run.now_ms / 1000 - begin_s
    calls = [t - begin_s for t in run.calls_s]
    busy = [t for t in calls if t < BUSY_S]
    busy_s = max(busy, default=1.0)
    sys.stdout.write(
        f"{asked.parts} parts, seed {asked.seed}: {run.presses} presses, {length_s / 3600:.1f} h\n"
        f"calls: {len(calls)}, of them overdue: {run.overdue}; repeats: {run.repeats}\n"
        f"whole run: one call in {length_s / 60 / max(1, len(calls)):.1f} min\n"
        f"busy {busy_s / 60:.0f} min: one call in {busy_s / 60 / max(1, len(busy)):.1f} min\n"
        f"most in any 10 min: {most_in(WINDOW_S, calls)}\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
