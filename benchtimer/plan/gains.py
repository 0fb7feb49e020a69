"""What would make a day end earlier: one more slot or one more pair of hands."""

from __future__ import annotations

from benchtimer.plan.changes import more_hands, with_slot
from benchtimer.plan.outcome import Outcome, ProblemChange
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.times import duration
from benchtimer.values import dataclass

TRY_NODES = 3000
"""The most nodes (see ``SearchLimits``) for one trial."""


@dataclass(frozen=True, slots=True)
class Gain:
    """A change, and how much earlier the last move would end with it.

    ``sure`` says that, provably, no plan without the change ends as early.
    """

    change: ProblemChange
    saves_s: int
    sure: bool = True

    @property
    def words(self) -> str:
        """A sentence for the maker."""
        doubt = "" if self.sure else " (some of it may be possible without that)"
        return f"{self.change.words}: {duration(self.saves_s)} earlier{doubt}"


@dataclass(frozen=True, slots=True)
class Helps:
    """What ends a plan earlier, the greatest gain first.

    ``all_tried`` says that, provably, no other change ends it earlier.
    """

    gains: tuple[Gain, ...] = ()
    all_tried: bool = False

    @property
    def words(self) -> list[str]:
        """A line for each gain, or one about what is known if there are none."""
        if self.gains:
            return [gain.words for gain in self.gains]
        if self.all_tried:
            return ["neither one more slot nor one more pair of hands"]
        return ["nothing found; more slots and hands are not ruled out"]


def what_helps(
    problem: Problem, outcome: Outcome, limits: SearchLimits | None = None, *, hurry: bool = False
) -> Helps:
    """Look for changes that end the plan earlier.

    Each has been planned completely. A gain is what the plan for the change saves; a longer search
    might save more.

    Args:
        problem: the planned problem.
        outcome: its answer.
        limits: the budget for all changes together.
        hurry: whether dwells may end at their min.
    """
    end_s = None if outcome.plan is None else outcome.plan.end_s
    if end_s is None:
        return Helps()
    limits = limits or SearchLimits()
    gains, all_tried = [], True
    for change in _changes(problem):
        if limits.over():
            all_tried = False
            break
        tried = solve(
            change.problem, seconds=limits.left_s, clock=limits.clock, stop=limits.stop,
            nodes=TRY_NODES, hurry=hurry,
        )  # fmt: skip
        tried_s = None if tried.plan is None else tried.plan.end_s
        if tried_s is not None and tried_s < end_s:
            gains.append(Gain(change, end_s - tried_s, tried_s < (outcome.bound_s or 0)))
        elif (tried.bound_s or 0) < end_s:
            all_tried = False
    gains.sort(key=lambda gain: -gain.saves_s)
    return Helps(tuple(gains), all_tried)


def _changes(problem: Problem) -> list[ProblemChange]:
    used = {dwell.station for part in problem.parts for dwell in part.route.dwells}
    changes = [
        ProblemChange(
            f"one more slot in {station.name} ({station.holds + 1})",
            with_slot(problem, station.name),
        )
        for station in problem.stations
        if station.name in used
    ]
    more = more_hands(problem)
    return [*changes, ProblemChange(f"one more pair of hands ({more.hands})", more)]
