"""The planner against OR-tools CP-SAT, same problems: ``python -m tests.benchmarks.planner``.

CP-SAT gets the strong model of ``tests/plan/reference.py`` (a Boolean for the order of each
pair of moves) and runs two workers; the planner is one thread of plain Python. In the rows
marked "told", CP-SAT also knows that equal parts keep their order through hands and slots, as
the planner does; without equal parts the two are the same. Each ratio is CP-SAT's time to the
proof over the planner's; the search for times near the targets comes after it. If a side runs out
of time, the ratio is a limit, and the row has the gap between its plan and its bound.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from benchtimer.plan.cadence import cadence
from benchtimer.plan.earliest import Earliest
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.risk import assess
from benchtimer.plan.search_limits import SearchLimits
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, Pair, alternate
from tests.plan.build import any_order, equal_parts, mixed, tight
from tests.plan.cyclic import phillips_unger, reference_cadence, seeded
from tests.plan.generate import cut_at
from tests.plan.reference import solve_reference

CASES: dict[str, Callable[[], Problem]] = {
    "12 equal parts, capacities 3-2-3": lambda: equal_parts(12, 3, 2, 3),
    "12 equal parts, capacities 4-3-4": lambda: equal_parts(12, 4, 3, 4),
    "12 equal parts, capacities 6-4-6": lambda: equal_parts(12, 6, 4, 6),
} | {
    f"{kind}, {count} parts, draw {draw}": partial(make, count, draw)
    for kind, make, counts, draws in (
        ("tight windows", tight, (6, 7, 8), (1, 2)),
        ("mixed recipes", mixed, (8, 12), (1, 3)),
        ("tanks in any order", any_order, (8, 12), (1, 2)),
    )
    for count in counts
    for draw in draws
}

LIMIT_S = 10.0
"""Time limit of each for its proof."""

ENOUGH_S = 6.0
"""No further round once a case has taken this long."""


@dataclass(frozen=True, slots=True)
class Try:
    """One solver's result: its time, whether it has a proof, and its gap."""

    ms: float
    proven: bool
    end_s: int | None
    bound_s: float

    @property
    def gap(self) -> float:
        """The gap between plan and bound, as a share of the plan."""
        return (self.end_s - self.bound_s) / self.end_s if self.end_s else 1.0


def measure(asked: Asked) -> Iterator[Figure]:
    """Plans, new plans in mid-run, trials and intervals."""
    for name, make in list(CASES.items())[:: asked.rounds(1, 6)]:
        yield from _case(name, make(), 1.0 if asked.quick else LIMIT_S, asked.rounds(5))
    for count, cuts in ((6, 10), (12, 6))[: asked.rounds(2, 1)]:
        yield _replans(count, asked.rounds(cuts))
    yield _draws(asked.rounds(9))
    yield from _cadences(asked.rounds(5, 1), asked.rounds(30, 2))


def _case(name: str, problem: Problem, limit_s: float, rounds: int) -> Iterator[Figure]:
    """One problem against CP-SAT with and without the order of equal parts."""
    tried: list[tuple[Try, Try, Try]] = []
    begun = time.monotonic()
    while len(tried) < rounds and time.monotonic() - begun < ENOUGH_S:
        strong, result = (_reference(problem, limit_s, queues=x) for x in (False, True))
        tried.append((_ours(problem, limit_s), strong, result))
    for at, other in ((1, "CP-SAT"), (2, "CP-SAT, told")):
        yield compared(name, other, [(x[0], x[at]) for x in tried])


def compared(name: str, other: str, tried: list[tuple[Try, Try]]) -> Figure:
    """A figure from both results in each round."""
    sides = zip(*tried, strict=True)
    open_ours, open_other = (not all(x.proven for x in side) for side in sides)
    words = {(True, True): "both", (True, False): "ours", (False, True): "other"}
    last = zip(("ours", other), tried[-1], strict=True)
    notes = [f"{who} open at {one.gap:.1%}" for who, one in last if not one.proven]
    notes += ["DIFFERENT PLANS"] if any(_differ(*both) for both in tried) else []
    pairs: tuple[Pair, ...] = tuple((ours.ms, theirs.ms) for ours, theirs in tried)
    return Figure(
        f"plan, {name}", other, pairs, "ms", aim=1.0, faster=True,
        open=words.get((open_ours, open_other), ""), note=", ".join(notes),
    )  # fmt: skip


def _differ(ours: Try, theirs: Try) -> bool:
    """Whether two proofs disagree, so one must be wrong."""
    return ours.proven and theirs.proven and ours.end_s != theirs.end_s


def _ours(problem: Problem, limit_s: float, known: Plan | None = None) -> Try:
    limits = SearchLimits(limit_s, time.perf_counter)
    search = Earliest(problem, limits)
    if known is not None:
        search.take_plan(known)
    best = search.run()
    end_s = None if best.turns is None else int(best.end_s)
    return Try(1000 * limits.elapsed_s, best.is_closed, end_s, best.bound_s)


def _reference(problem: Problem, limit_s: float, *, queues: bool) -> Try:
    found = solve_reference(problem, limit_s, queues=queues)
    return Try(1000 * found.seconds, found.proven, found.end_s, found.bound_s)


def _replans(count: int, cuts: int) -> Figure:
    """New plans at random moments of a mixed day."""
    problem = mixed(count, 1)
    plan = solve(problem, seconds=LIMIT_S, clock=time.perf_counter).plan
    assert plan is not None
    assert plan.end_s is not None
    rng = random.Random(count)
    tried = []
    for _ in range(cuts):
        cut = cut_at(problem, plan, rng.randrange(1, plan.end_s), rng.choice([0, 0, 5, 15]))
        tried.append((_ours(cut, LIMIT_S, plan), _reference(cut, LIMIT_S, queues=True)))
    return compared(f"again in the middle of a run, {count} mixed parts", "CP-SAT, told", tried)


def _ms(work: Callable[[], object]) -> Callable[[], float]:
    def timed() -> float:
        begun = time.perf_counter()
        work()
        return 1000 * (time.perf_counter() - begun)

    return timed


def _draws(rounds: int) -> Figure:
    """1,000 trials of a plan of six parts."""
    problem = equal_parts(6)
    plan = solve(problem).plan
    assert plan is not None
    pairs = alternate(rounds, _ms(lambda: assess(problem, plan)), _ms(lambda: solve(problem)))
    return Figure("1,000 draws of the hands-on times, 6 parts", "planning them", pairs, "ms")


def _cadences(rounds: int, lines: int) -> Iterator[Figure]:
    """The published line and random ones."""
    line, _ = phillips_unger()
    pairs = alternate(rounds, _ms(lambda: cadence(*line)), _ms(lambda: reference_cadence(line)))
    name = "cadence, the line of Phillips and Unger"
    yield Figure(name, "CP-SAT", pairs, "ms", aim=1.0, faster=True)
    drawn = [seeded(seed) for seed in range(lines)]
    pairs = tuple(
        (_ms(lambda: cadence(*x))(), _ms(lambda: reference_cadence(x))())  # noqa: B023
        for x in drawn
    )
    yield Figure(f"cadence, {lines} drawn lines", "CP-SAT", pairs, "ms", aim=1.0, faster=True)


if __name__ == "__main__":
    sys.exit(alone(__file__))
