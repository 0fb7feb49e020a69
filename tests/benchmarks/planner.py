"""The planner beside OR-tools CP-SAT on the same problems, in one run.

    python -m tests.benchmarks.planner [--seconds 60] [--only WORD]

CP-SAT gets the strong model of ``tests/plan/reference.py`` (a Boolean for the order of each
pair of moves) and runs two workers; the planner is one thread of plain Python. "told" is
CP-SAT that is also told that equal parts may keep their order through hands and slots,
which the planner knows by itself; without equal parts the two are the same. Each ratio is
CP-SAT's time to the proof over the planner's.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from statistics import median

from benchtimer.plan.cadence import cadence
from benchtimer.plan.instance import Instance
from benchtimer.plan.planner import replan, solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.risk import assess
from benchtimer.plan.search import Limits, Search
from tests.plan.build import any_order, equal_parts, mixed, tight
from tests.plan.cyclic import phillips_unger, reference_cadence, seeded
from tests.plan.generate import cut_at
from tests.plan.reference import solve_reference

CASES: dict[str, Callable[[], Problem]] = {
    "12 equal, capacities 3-2-3": lambda: equal_parts(12, 3, 2, 3),
    "12 equal, capacities 4-3-4": lambda: equal_parts(12, 4, 3, 4),
    "12 equal, capacities 6-4-6": lambda: equal_parts(12, 6, 4, 6),
    **{f"tight {n}, seed {s}": partial(tight, n, s) for n in (6, 7, 8) for s in (1, 2)},
    **{f"mixed {n}, seed {s}": partial(mixed, n, s) for n in (8, 12) for s in (1, 3)},
    **{f"any order {n}, seed {s}": partial(any_order, n, s) for n in (8, 12) for s in (1, 2)},
}


def _write(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def _timed(work: Callable[[], object]) -> tuple[float, object]:
    begin = time.perf_counter()
    result = work()
    return time.perf_counter() - begin, result


def plans(seconds: float, only: str) -> None:
    """First plan, proof or gap, and CP-SAT's proof or gap."""
    _write(
        f"{'case':28} {'first':>8} {'proof':>8} {'nodes':>6} {'gap':>5}  "
        f"{'CP-SAT':>8} {'ratio':>6}  {'told':>8} {'ratio':>6}"
    )
    for name, make in CASES.items():
        if only not in name:
            continue
        problem = make()
        first_s, _ = _timed(
            lambda p=problem: Search(Instance(p), Limits()).run(first_plan=True)  # type: ignore[misc]
        )
        outcome = solve(problem, seconds=seconds, clock=time.perf_counter)
        end_s = (outcome.plan.end_s if outcome.plan else None) or 0
        gap = (end_s - (outcome.bound_s or 0)) / end_s if end_s else 1.0
        others = ""
        for told in (False, True):
            reference = solve_reference(problem, seconds, queues=told)
            same = "" if reference.end_s == end_s or not reference.proven else " DIFFERENT"
            open_end = "" if reference.proven else "+"
            ratio = reference.seconds / outcome.elapsed_s
            others += f"  {reference.seconds:7.3f}s{open_end:1}{ratio:6.1f}{same}"
        _write(
            f"{name:28} {first_s * 1e3:6.1f}ms {outcome.elapsed_s:7.3f}s {outcome.nodes:6} "
            f"{gap:5.1%}{others}"
        )


def replans(count: int) -> None:
    """Re-plans at every cut of a mixed day."""
    problem = mixed(count, 1)
    plan = solve(problem, seconds=10, clock=time.perf_counter).plan
    assert plan is not None
    assert plan.end_s is not None
    rng = random.Random(count)
    times = []
    for _ in range(40):
        cut = cut_at(problem, plan, rng.randrange(1, plan.end_s), rng.choice([0, 0, 5, 15]))
        spent, _ = _timed(
            lambda c=cut: replan(c, plan, seconds=5, clock=time.perf_counter)  # type: ignore[misc]
        )
        times.append(spent)
    _write(
        f"re-plan, {count} mixed parts: median {median(times) * 1e3:.1f} ms, "
        f"worst {max(times) * 1e3:.1f} ms"
    )


def draws() -> None:
    """1,000 draws through a plan of six parts."""
    problem = equal_parts(6)
    plan = solve(problem).plan
    assert plan is not None
    spent = median(_timed(lambda: assess(problem, plan))[0] for _ in range(9))
    _write(f"1,000 draws, 6 parts, {len(plan.moves)} moves: {spent * 1e3:.1f} ms")


def cadences() -> None:
    """The published line and seeded ones."""
    line, _ = phillips_unger()
    ours, answer = _timed(lambda: cadence(*line))
    theirs, period = _timed(lambda: reference_cadence(line))
    _write(
        f"cadence, Phillips and Unger: {answer.cadence_s} s in {ours * 1e3:.0f} ms, "  # type: ignore[attr-defined]
        f"CP-SAT {period} s in {theirs * 1e3:.0f} ms, ratio {theirs / ours:.1f}"
    )
    ours = sum(_timed(lambda s=s: cadence(*seeded(s)))[0] for s in range(30))  # type: ignore[misc]
    theirs = sum(_timed(lambda s=s: reference_cadence(seeded(s)))[0] for s in range(30))  # type: ignore[misc]
    _write(
        f"cadence, 30 seeded lines: {ours * 1e3:.0f} ms, CP-SAT {theirs * 1e3:.0f} ms, "
        f"ratio {theirs / ours:.1f}"
    )


ALONE = """
import resource
from benchtimer.plan.planner import solve
from tests.plan.build import any_order
import time
solve(any_order(24, 1), seconds=20, clock=time.perf_counter)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)
"""


def memory() -> None:
    """The memory of a process that does nothing but plan 24 mixed parts for 20 seconds."""
    done = subprocess.run([sys.executable, "-c", ALONE], capture_output=True, text=True, check=True)
    _write(f"memory, 24 mixed parts, 20 s: {done.stdout.strip()} MB resident at most")


def main() -> None:
    """Run all measurements."""
    parser = argparse.ArgumentParser(description="The planner beside CP-SAT.")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--only", default="")
    given = parser.parse_args()
    plans(given.seconds, given.only)
    if not given.only:
        replans(6)
        replans(12)
        draws()
        cadences()
        memory()


if __name__ == "__main__":
    main()
