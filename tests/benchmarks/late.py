"""A plan in mid-run, up to five minutes late: ``python -m tests.benchmarks.late``.

Plans of every family are cut at random moments and made 0 to 300 s late, with nothing more done.
The planner plans each state again from the earlier plan, up to the first plan that keeps every
window. CP-SAT with one worker looks for any plan of the same state. ``tests/plan/judge.py`` checks
each plan. The note has the number of states with a plan, those where one side found none, and the
planner's slowest time. Times are CPU time.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from benchtimer.plan.earliest import Best, Earliest
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.targets import TARGET_SHARE, settled
from benchtimer.plan.timing import make_plan
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure
from tests.plan.build import any_order, mixed, tight
from tests.plan.families import breaks, closings, evening_week, joins, two_people
from tests.plan.generate import cut_at
from tests.plan.judge import faults
from tests.plan.reference import solve_reference

FAMILIES: dict[str, Callable[[int], Problem]] = {
    "one break": partial(breaks, 8, 1),
    "five breaks": partial(breaks, 8, 5),
    "two people": partial(two_people, 8),
    "mixed": partial(mixed, 12),
    "any order": partial(any_order, 10),
    "tight": partial(tight, 6),
    "evening week": evening_week,
    "closings": closings,
    "joins": joins,
}
STATES = 56
"""States of each family; 504 in all."""
CUTS = 8
"""States cut from one plan."""
FIRST_SEED = 7001
"""Draws never used to tune the planner."""
LIMIT_S = 4.0
"""CPU seconds for the planner, and seconds for CP-SAT, per state."""
PLAN_NODES = 300
"""Search states for the plan that is cut."""
LATE_S = (0, 300)


@dataclass(frozen=True, slots=True)
class Late:
    """One state and the results; None: no plan."""

    ours_ms: float
    other_ms: float
    ours: bool
    other: bool | None
    wrong: bool


def measure(asked: Asked) -> Iterator[Figure]:
    """One figure a family."""
    for name, make in FAMILIES.items():
        found = [_state(*each) for each in _states(make, asked.rounds(STATES))]
        pairs = tuple((late.ours_ms, late.other_ms) for late in found)
        what = f"first plan in mid-run, up to 5 min late, {name}"
        yield Figure(what, "CP-SAT, 1 worker", pairs, "ms", faster=True, note=_note(found))


def _note(found: list[Late]) -> str:
    slowest = max((late.ours_ms for late in found if late.ours), default=0.0)
    words = [f"{sum(late.ours for late in found)} of {len(found)} have a plan"]
    words.append(f"slowest {slowest:.0f} ms")
    lost = sum(not late.ours and late.other is True for late in found)
    open_ = sum(not late.ours and late.other is None for late in found)
    only = sum(late.ours and late.other is None for late in found)
    wrong = sum(late.wrong for late in found)
    words += [f"**{lost} LOST**"] if lost else []
    words += [f"**{wrong} WRONG**"] if wrong else []
    words += [f"{open_} decided by neither"] if open_ else []
    words += [f"CP-SAT none in {only}"] if only else []
    return ", ".join(words)


def _states(make: Callable[[int], Problem], count: int) -> Iterator[tuple[Problem, Plan]]:
    """Problems in mid-run with the plans they were cut from."""
    seed, given = FIRST_SEED, 0
    while given < count:
        problem, rng = make(seed), random.Random(f"late {seed}")
        plan = solve(problem, nodes=PLAN_NODES).plan
        seed += 1
        if plan is None or plan.end_s is None:
            continue
        for _ in range(min(CUTS, count - given)):
            given += 1
            middle = rng.choice(plan.moves)
            now_s = rng.randint(middle.start_s + 1, max(middle.start_s + 1, middle.end_s))
            yield cut_at(problem, plan, now_s, rng.randint(*LATE_S)), plan


def _state(problem: Problem, plan: Plan) -> Late:
    begun = time.process_time()
    limits = SearchLimits(LIMIT_S, time.process_time)
    found = _any_plan(problem, plan, limits)
    ours_ms = 1000 * (time.process_time() - begun)
    begun = time.process_time()
    other = solve_reference(problem, LIMIT_S, 1, queues=True, first_plan=True)
    other_ms = 1000 * (time.process_time() - begun)
    has_one = None if other.end_s is None and not other.proven else other.end_s is not None
    wrong = _is_wrong(problem, found) or (found.turns is not None and has_one is False)
    return Late(ours_ms, other_ms, found.turns is not None, has_one, wrong)


def _any_plan(problem: Problem, plan: Plan, limits: SearchLimits) -> Best:
    """A plan with every dwell at its target, or else any plan."""
    for least, share in ((settled(problem, {}), TARGET_SHARE), (problem, 1.0)):
        search = Earliest(least, limits.within(share))
        search.take_plan(plan)
        best = search.run(first_plan=True)
        if best.turns is not None:
            break
    return best


def _is_wrong(problem: Problem, best: Best) -> bool:
    """Whether a plan breaks a rule."""
    if best.turns is None or best.starts is None:
        return best.turns is not None
    return bool(faults(problem, make_plan(problem, best.turns, best.starts)))


if __name__ == "__main__":
    sys.exit(alone(__file__))
