"""When to ask the planner about the bench, and what to ask."""

from __future__ import annotations

import time
from collections.abc import Callable

from benchtimer.bench.moment import Moment
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.plans import NO_ADVICE, Advice
from benchtimer.bench.wallclock import day_and_time
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.commands import Begin
from benchtimer.run.decide import Now
from benchtimer.run.evolve import fold
from benchtimer.run.guards import is_safe
from benchtimer.run.run_state import RunPhase
from benchtimer.shop.hours import ALWAYS, Hours
from benchtimer.shop.shop_decide import decide_in_shop
from benchtimer.shop.shop_state import Shop
from benchtimer.values import replace

ADVICE_S = 10.0
"""The planner rests at least this long if nothing was pressed: time passing changes the problem,
too.
"""

REST_SHARE, LONGEST_REST_S, LATE_REST_S = 1000, 120.0, 600.0
"""It rests this many times as long as its last answer took, up to a limit.

The limit is longer while no plan keeps every limit: a hard question, such as a bench where
everything is late, must not keep the laptop busy. A press, or a limit of the plan that has passed,
is always a new question.
"""

PLANNED = (RunPhase.IDLE, RunPhase.RUNNING)

Stop = Callable[[], bool]
"""Asked now and then whether to give up."""

Question = Callable[[Stop], Advice]


EARLY_S = 5
"""A part begun sooner than its plan by less than this changes no plan (the program's own guess)."""


def begins_later_ms(moment: Moment, action: Action) -> int | None:
    """When the plan begins a part that can wait, if a press would begin it sooner; else None."""
    bench = moment.bench_of(action)
    part, command = bench.parts.get(action.part or ""), action.command
    if action.kind is not ActionKind.BEGIN or not isinstance(command, Begin) or part is None:
        return None
    begin_ms = moment.times(action.run).begin_ms.get(part.name)
    if begin_ms is None or moment.now_ms >= begin_ms - EARLY_S * 1000:
        return None
    return begin_ms if is_safe(bench, part) else None


class Asking:
    """Asks the planner about everything on the bench.

    Args:
        bench: the bench.
        monotonic: a clock in seconds that never goes back.
        hours: when you work.
    """

    def __init__(
        self,
        bench: OpenBench,
        monotonic: Callable[[], float] = time.monotonic,
        hours: Hours = ALWAYS,
    ) -> None:
        self._bench = bench
        self._monotonic = monotonic
        self._hours = hours
        self._asked_presses: dict[str, int] | None = None
        self._asked_at = float("-inf")
        self._asked_ms = 0
        self.thought_s = 0.0

    def presses(self) -> dict[str, int]:
        """The presses in each run: a new press makes a new question."""
        bench = self._bench
        return {name: bench.state(name).presses for name in bench.open_runs()}

    def is_due(self, moment: Moment) -> bool:
        """Whether to ask the planner now. A watcher never asks."""
        shop = moment.shop
        planned = any(shop.bench(run).phase in PLANNED for run in shop.runs)
        if self._bench.read_only or not planned:
            return False
        longest_s = LATE_REST_S if moment.advice.warnings else LONGEST_REST_S
        rest_s = min(max(ADVICE_S, REST_SHARE * self.thought_s), longest_s)
        old = self._monotonic() - self._asked_at > rest_s
        passed = any(
            self._asked_ms < t_ms <= moment.now_ms for t_ms in moment.advice.latest_ms.values()
        )
        return old or self.presses() != self._asked_presses or passed

    def question(self, moment: Moment) -> Question:
        """The question for the planner, to ask in a thread with a stop flag."""
        self._asked_presses = self.presses()
        self._asked_at = self._monotonic()
        self._asked_ms = moment.now_ms
        return self._ask(moment, self._bench.planned_with(moment.shop))

    def begun_now(self, moment: Moment, run: str, command: Begin) -> Callable[[Stop], str]:
        """The question what is lost if a part is begun now that the plan begins later.

        It is answered in words, empty if every window is kept that the plan keeps otherwise.

        Args:
            moment: the bench now.
            run: the part's run.
            command: what begins it.

        Raises:
            Refused: it can't be begun.
        """
        shop = self._bench.shop(moment.stamp)
        events = decide_in_shop(shop, run, command, Now(moment.now_ms))
        states = {name: fold(events.get(name, ()), state) for name, state in shop.states.items()}
        begun = self._bench.planned_with(replace(shop, states=states))
        ask = self._ask(replace(moment, advice=NO_ADVICE), begun)

        def lost(stop: Stop) -> str:
            from benchtimer.bench.advice import lost_by

            return lost_by(shop, moment.advice, ask(stop))

        return lost

    def _ask(self, moment: Moment, shop: Shop) -> Question:
        def ask(stop: Stop) -> Advice:
            # Draw the first frame before the planner is loaded.
            from benchtimer.bench.advice import advise, away_of, away_windows

            now_ms, stamp = moment.now_ms, moment.stamp
            away = away_windows(away_of(shop), stamp, self._hours)

            def say(seconds: int) -> str:
                return day_and_time(now_ms + seconds * 1000, stamp)

            begun_s = time.thread_time()
            advice = advise(
                shop, now_ms, away, moment.advice, clock=time.monotonic, stop=stop, say=say
            )
            self.thought_s = time.thread_time() - begun_s
            return advice

        return ask
