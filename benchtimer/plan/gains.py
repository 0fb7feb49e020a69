"""What would make a day end earlier: one more slot, one more pair of hands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from benchtimer.plan.changes import with_slot
from benchtimer.plan.outcome import Change, Outcome
from benchtimer.plan.planner import never, no_clock, solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.words import span

TRY_NODES = 3000
"""States opened at most for one trial."""


@dataclass(frozen=True, slots=True)
class Gain:
    """A change, and how much earlier the last move would end with it."""

    change: Change
    saves_s: int

    @property
    def words(self) -> str:
        """A sentence for the maker."""
        return f"{self.change.words}: {span(self.saves_s)} earlier"


def what_helps(
    problem: Problem,
    outcome: Outcome,
    *,
    seconds: float = inf,
    clock: Callable[[], float] = no_clock,
    stop: Callable[[], bool] = never,
) -> list[Gain]:
    """The changes that end the plan earlier, the greatest gain first.

    Each has been planned through. A gain is what the plan found for the change saves; a
    longer search might save more. ``seconds`` is the budget for all trials together.
    """
    end_s = None if outcome.plan is None else outcome.plan.end_s
    if end_s is None:
        return []
    began = clock()
    gains = []
    for change in _changes(problem):
        left = seconds - (clock() - began)
        if left <= 0 or stop():
            break
        tried = solve(change.problem, seconds=left, clock=clock, stop=stop, nodes=TRY_NODES)
        tried_s = None if tried.plan is None else tried.plan.end_s
        if tried_s is not None and tried_s < end_s:
            gains.append(Gain(change, end_s - tried_s))
    return sorted(gains, key=lambda gain: -gain.saves_s)


def _changes(problem: Problem) -> list[Change]:
    used = {dwell.station for part in problem.parts for dwell in part.route.dwells}
    changes = [
        Change(
            f"one more slot in {station.name} ({station.holds + 1})",
            with_slot(problem, station.name),
        )
        for station in problem.stations
        if station.name in used
    ]
    more = replace(problem, hands=problem.hands + 1, hands_at=None)
    return [*changes, Change(f"one more pair of hands ({more.hands})", more)]
