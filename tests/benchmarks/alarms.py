"""How often a rehearsed run calls, against EEMUA 191: ``python -m tests.benchmarks.alarms``.

Simulated hands work a run of a shipped recipe with the planner's advice; the bell listens
once a second. You take ``REACTION_S`` to answer a call. "busy" is the time to the last call of
the first ``BUSY_S``, before all parts are in their long soak. Guidance (EEMUA Publication 191,
figures from public summaries): about one call in ten minutes is manageable in steady work, more
than ten in ten minutes is a flood.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from benchtimer.bench.advice import rehearsing
from benchtimer.clock import ManualClock
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.rehearsal import START_WALL_MS, Rehearsal
from benchtimer.run import commands as c
from benchtimer.run.actions import NO_PLAN, Action, PlanTimes
from benchtimer.view.alarm import AlarmPacer
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure
from tests.support import alarms_of
from tests.tui.scenes import FITTINGS

REACTION_S = 10
"""Time to put the file down and walk over; invented, no source."""

WINDOW_S = 600

BUSY_S = 4 * 3600

MANAGEABLE, FLOOD = 1.0, 10.0
"""Calls in ten minutes."""

PARTS = 6
START_S = START_WALL_MS / 1000


class _Ticking(ManualClock):
    """A clock that pauses each second for a listener."""

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
    """Simulated hands that the bell calls."""

    calls_s: list[float] = field(default_factory=list)
    told: PlanTimes = NO_PLAN
    bell: AlarmPacer = field(init=False)

    @property
    def after_s(self) -> list[float]:
        """When each call came, in seconds from the beginning of the run."""
        return [t - START_S for t in self.calls_s]

    def listen(self) -> None:
        """Check once a second whether anything calls."""
        if not self.state.bench.parts:
            return
        alarms = alarms_of("run", self.state.bench, self.now_ms, self.told)
        call = self.bell.call_for(alarms)
        if call is not None and call.outside:
            self.calls_s.append(self.now_ms / 1000)

    def _press(self, command: c.Command) -> None:
        Rehearsal._press(self, command)
        self.bell.attend()
        self.told = self.advice(self.state.bench, self.now_ms) if self.advice else NO_PLAN

    def _do(self, action: Action) -> None:
        if action.due_ms == self.now_ms:  # a call you wait for, not one you meet on the way
            self.clock.advance(REACTION_S * 1000)
        Rehearsal._do(self, action)


def listened(parts: int, seed: int, recipe: str = "hot-black") -> Listening:
    """A run worked to its end while listening for calls."""
    clock = _Ticking(START_WALL_MS)
    run = Listening(
        new_run(RecipeFiles(), recipe, list(FITTINGS[:parts])),
        seed,
        advice=rehearsing(60),
        clock=clock,
    )
    run.bell = AlarmPacer(lambda: clock.wall_ms / 1000)
    clock.listen = run.listen
    run.run()
    return run


def most_in(window_s: float, times_s: list[float]) -> int:
    """The most calls in any stretch of ``window_s`` seconds."""
    return max((sum(t <= u < t + window_s for u in times_s) for t in times_s), default=0)


def measure(asked: Asked) -> Iterator[Figure]:
    """The rates of several rehearsals, compared with the manageable rate."""
    parts = asked.rounds(PARTS, 2)
    runs = [listened(parts, seed) for seed in range(1, asked.rounds(5, 1) + 1)]
    for what, rate, limit in (
        ("in the whole run", whole_rate, MANAGEABLE),
        ("while busy", busy_rate, MANAGEABLE),
        ("at most", lambda run: float(most_in(WINDOW_S, run.after_s)), FLOOD),
    ):
        yield Figure(
            f"calls in 10 min {what}, {parts} parts",
            "EEMUA 191: manageable" if limit == MANAGEABLE else "EEMUA 191: a flood",
            tuple((rate(run), limit) for run in runs), "", aim=1.0, note="a seed each round",
        )  # fmt: skip


def whole_rate(run: Listening) -> float:
    """Calls in ten minutes, from the beginning to the end."""
    return WINDOW_S * len(run.after_s) / (run.now_ms / 1000 - START_S)


def busy_rate(run: Listening) -> float:
    """Calls in ten minutes before the long soak."""
    busy = [t for t in run.after_s if t < BUSY_S]
    return WINDOW_S * len(busy) / max(busy, default=1.0)


if __name__ == "__main__":
    sys.exit(alone(__file__))
