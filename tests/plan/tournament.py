"""The planner against OR-tools CP-SAT: ``python -m tests.plan.tournament --seeds 1-10``.

Both solve the same problem in the same run, one after the other. The planner gets one thread
and a budget of CPU seconds; CP-SAT gets two workers and the strong model of ``reference`` (a
Boolean for the order of each pair of moves, identical parts in order). Both keep every dwell
at its target. An end is a ratio to the earliest end that either proves, or else to the
greatest bound.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from benchtimer.plan.earliest import SEED, Earliest
from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import Optimal, Outcome
from benchtimer.plan.placement import Placer
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import at_target
from tests.plan.families import FAMILIES
from tests.plan.judge import faults
from tests.plan.reference import Answer, solve_reference


@dataclass(frozen=True, slots=True)
class Game:
    """One problem and both results.

    Attributes:
        problem: the problem.
        first_ms: CPU time to the planner's first plan.
        ours: the planner's answer for each budget, smallest first.
        theirs: CP-SAT's answer.
        cpu_s: CPU time of the planner's search for the earliest end, without that for times near
            the targets, and of CP-SAT with all its workers.
    """

    problem: Problem
    first_ms: float
    ours: tuple[Outcome, ...]
    theirs: Answer
    cpu_s: tuple[float, float]

    @property
    def least_s(self) -> float:
        """The proved earliest end from now, or the greatest bound."""
        proved = [self.theirs.end_s] if self.theirs.proven else []
        proved += [end_of(outcome) for outcome in self.ours if isinstance(outcome, Optimal)]
        bounds = [outcome.bound_s or 0 for outcome in self.ours]
        known = [end for end in proved if end is not None]
        return min(known, default=max(self.theirs.bound_s, *bounds)) - self.problem.now_s

    @property
    def faults(self) -> list[str]:
        """The faults of the plans and proofs."""
        found = [f for o in self.ours if o.plan is not None for f in faults(self.problem, o.plan)]
        best = min((end_of(o) or 10**9 for o in self.ours), default=10**9)
        for outcome in self.ours:
            end_s = end_of(outcome)
            if isinstance(outcome, Optimal) and (
                (end_s or 0) > min(best, self.theirs.end_s or 10**9)
                or (self.theirs.proven and end_s != self.theirs.end_s)
            ):
                found.append(f"{end_s} s is not the least end")
            if self.theirs.proven and (self.theirs.end_s or 0) > (end_s or 10**9):
                found.append(f"{end_s} s is before the proved least end")
        return found


def end_of(outcome: Outcome) -> int | None:
    """When the plan ends; None without a plan."""
    return None if outcome.plan is None else outcome.plan.end_s


def play(problem: Problem, budgets: Sequence[float], reference_s: float) -> Game:
    """Solve one problem with both.

    Args:
        problem: the problem.
        budgets: CPU seconds for the planner, smallest first.
        reference_s: seconds for CP-SAT.
    """
    whole = at_target(problem)
    begun = time.process_time()
    Placer(Instance(whole)).first_plan(random.Random(SEED))
    first_ms = 1000 * (time.process_time() - begun)
    ours = tuple(solve(whole, seconds=s, clock=time.process_time) for s in budgets)
    begun = time.process_time()
    theirs = solve_reference(whole, reference_s, queues=True)
    theirs_s = time.process_time() - begun
    limits = SearchLimits(budgets[-1], time.process_time)
    Earliest(whole, limits).run()
    return Game(whole, first_ms, ours, theirs, (limits.elapsed_s, theirs_s))


def line(name: str, games: Sequence[Game]) -> str:
    """One row of the table."""
    found = [_ratios(games, [end_of(g.ours[n]) for g in games]) for n in range(len(games[0].ours))]
    found.append(_ratios(games, [g.theirs.end_s for g in games]))
    ours = [g for g in games if isinstance(g.ours[-1], Optimal)]
    theirs = [g for g in games if g.theirs.proven]
    found.append(f"{len(ours)} : {len(theirs)}")
    if ours and theirs:  # only the same problems can be compared
        ours = theirs = [g for g in ours if g.theirs.proven]
    found.append(f"{_median(g.cpu_s[0] for g in ours)} : {_median(g.cpu_s[1] for g in theirs)}")
    moves = [sum(len(part.route.moves) - part.moves_made for part in g.problem.parts)
             for g in games]  # fmt: skip
    first = f"{median(g.first_ms for g in games):.0f} ({max(g.first_ms for g in games):.0f})"
    return f"| {name} | {min(moves)}-{max(moves)} | {first} | {' | '.join(found)} |"


def _ratios(games: Sequence[Game], ends: Sequence[int | None]) -> str:
    found = [
        (end - game.problem.now_s) / game.least_s
        for end, game in zip(ends, games, strict=True)
        if end is not None and game.least_s > 0
    ]
    missing = sum(end is None for end in ends)
    words = f"{median(found):.3f} ({max(found):.3f})" if found else "-"
    return words + (f", {missing} without" if missing else "")


def _median(seconds: Iterable[float]) -> str:
    found = list(seconds)
    return f"{median(found):.2f}" if found else "-"


def head(budgets: Sequence[float]) -> str:
    """The header of the table."""
    names = ["family", "moves", "first plan ms", *(f"planner, {s:g} s" for s in budgets)]
    names += ["CP-SAT", "proved, ours : CP-SAT", "CPU s to the proof"]
    return f"| {' | '.join(names)} |\n|{'---|' * len(names)}\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Play and print the table; return 1 if a plan breaks a rule or a proof is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("family", nargs="*", help=", ".join(FAMILIES))
    parser.add_argument("--seeds", default="1-10", help="first and last")
    parser.add_argument("--seconds", default="0.2,1,5", help="CPU seconds for the planner")
    parser.add_argument("--reference", type=float, default=15.0, help="seconds for CP-SAT")
    asked = parser.parse_args(arguments)
    first, _, last = asked.seeds.partition("-")
    budgets = [float(word) for word in asked.seconds.split(",")]
    wrong = False
    sys.stdout.write(head(budgets))
    for name in asked.family or FAMILIES:
        games = [
            play(FAMILIES[name](seed), budgets, asked.reference)
            for seed in range(int(first), int(last or first) + 1)
        ]
        sys.stdout.write(f"{line(name, games)}\n")
        sys.stdout.flush()
        for game in games:
            for fault in game.faults:
                sys.stderr.write(f"WRONG: {name}: {fault}\n")
                wrong = True
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main())
