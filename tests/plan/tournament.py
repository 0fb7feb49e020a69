"""The planner beside OR-tools CP-SAT: ``python -m tests.plan.tournament --seeds 1-5``.

Both get the same problem and the same CPU seconds in the same run, one after the other: the
planner one thread, CP-SAT two workers (the strong model of ``reference``, a Boolean for the
order of each pair of moves) for half as long. The planner decides here with every dwell at its
target, and so does CP-SAT. ``best`` is the least end that either has, or the proved one.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from benchtimer.plan.earliest import SEED
from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import Optimal
from benchtimer.plan.placement import Placer
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from tests.plan.build import at_target
from tests.plan.families import FAMILIES
from tests.plan.judge import faults
from tests.plan.reference import Answer, solve_reference


@dataclass(frozen=True, slots=True)
class Game:
    """One problem and what both made of it; ends from now on, None without a plan."""

    moves: int
    first_ms: float
    ours_s: int | None
    ours_proved: bool
    theirs: Answer
    fault: str

    @property
    def best_s(self) -> int | None:
        """The least end that either found."""
        return min((s for s in (self.ours_s, self.theirs.end_s) if s is not None), default=None)


def play(problem: Problem, seconds: float) -> Game:
    """One problem for both.

    Args:
        problem: what is asked.
        seconds: CPU seconds for each.
    """
    whole = at_target(problem)
    begun = time.perf_counter()
    Placer(Instance(whole)).first_plan(random.Random(SEED))
    first_ms = 1000 * (time.perf_counter() - begun)
    outcome = solve(whole, seconds=seconds, clock=time.perf_counter)
    plan = outcome.plan
    theirs = solve_reference(whole, seconds / 2)
    told = faults(whole, plan) if plan is not None else []
    moves = sum(len(part.route.moves) for part in problem.parts)
    end_s = None if plan is None else plan.end_s
    return Game(moves, first_ms, end_s, isinstance(outcome, Optimal), theirs, "; ".join(told))


def line(name: str, games: Sequence[Game]) -> str:
    """A row of the table."""

    def ratios(ends: Sequence[int | None]) -> str:
        told = [
            end / game.best_s
            for end, game in zip(ends, games, strict=True)
            if end is not None and game.best_s
        ]
        missing = sum(end is None for end in ends)
        words = f"{median(told):.3f} ({max(told):.3f})" if told else "-"
        return words + (f", {missing} without" if missing else "")

    ours, theirs = [g.ours_s for g in games], [g.theirs.end_s for g in games]
    proved = f"{sum(g.ours_proved for g in games)} / {sum(g.theirs.proven for g in games)}"
    first = f"{median(g.first_ms for g in games):.0f} ({max(g.first_ms for g in games):.0f})"
    moves = f"{min(g.moves for g in games)}-{max(g.moves for g in games)}"
    return f"| {name} | {moves} | {first} | {ratios(ours)} | {ratios(theirs)} | {proved} |"


HEAD = (
    "| family | moves | first plan ms | planner: end / best | CP-SAT: end / best | proved |\n"
    "|---|---|---|---|---|---|\n"
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Play and print the table; 1 if a plan breaks a rule or a proof is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("family", nargs="*", help=", ".join(FAMILIES))
    parser.add_argument("--seeds", default="1-5", help="first and last")
    parser.add_argument("--seconds", type=float, default=4.0, help="CPU seconds for each")
    asked = parser.parse_args(arguments)
    first, _, last = asked.seeds.partition("-")
    wrong = False
    sys.stdout.write(HEAD)
    for name in asked.family or FAMILIES:
        games = [
            play(FAMILIES[name](seed), asked.seconds)
            for seed in range(int(first), int(last or first) + 1)
        ]
        sys.stdout.write(f"{line(name, games)}\n")
        sys.stdout.flush()
        for game in games:
            both = game.ours_proved and game.theirs.proven
            beaten = game.ours_proved and (game.best_s or 0) < (game.ours_s or 0)
            if game.fault or beaten or (both and game.ours_s != game.theirs.end_s):
                sys.stderr.write(f"WRONG: {name}: {game}\n")
                wrong = True
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main())
