"""Jobs: trials against the policy without draws, and the first plan against better ones."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from unittest.mock import patch

from benchtimer.job.better import better
from benchtimer.job.luck import Assumed
from benchtimer.job.policy import Draws, Play, play
from benchtimer.job.promise import Trials
from benchtimer.job.sessions import plan_jobs
from benchtimer.job.starts import forget_drawn
from benchtimer.job.workload import Workload
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.benchmarks.program import whole_s
from tests.job.orders import petty_knife
from tests.job.shops import knives, shop_of

TRIALS = 200
IMPORT = (sys.executable, "-c", "import textual.app")


def measure(asked: Asked) -> Iterator[Figure]:
    """Trials of one and of three knives; the first plan of two knives."""
    for count in (1, 3):
        for sure in (True, False):
            yield from _trials(asked, count, sure=sure)
    moves = len(plan_jobs(knives(2)).played.acts)
    yield Figure(
        f"first plan of two knives, {moves} moves, from the orders",
        "importing Textual",
        alternate(asked.rounds(9), _timed(_first), lambda: 1000 * whole_s(IMPORT)),
        "ms",
    )
    yield Figure(
        f"all tries for a better plan, {moves} moves",
        "the first plan",
        alternate(asked.rounds(9), _timed(_best), _timed(_first)),
        "ms",
    )


class _Counting(Play):
    """A play that counts its moves."""

    moves = 0

    def _move(self, k: int, first: int, start: float, *, pulled: bool) -> float:
        _Counting.moves += 1
        return super()._move(k, first, start, pulled=pulled)


def _moves(what: Callable[[], None]) -> int:
    """How many moves the plays make: failed checks repeat them."""
    _Counting.moves = 0
    with patch("benchtimer.job.policy.Play", _Counting):
        what()
    return _Counting.moves


def _trials(asked: Asked, count: int, *, sure: bool) -> Iterator[Figure]:
    """Trials against the same number of policy runs without draws, then both per move."""
    load = knives(count)

    def trials() -> None:
        Trials(load.shop, Assumed(sure=sure)).more(TRIALS)

    def plain() -> None:
        for _ in range(TRIALS):
            play(load.shop, Draws())

    pairs = alternate(asked.rounds(9), _timed(trials), _timed(plain))
    what = f"{TRIALS} trials, knives: {count}, rates {'sure' if sure else 'drawn'}"
    yield Figure(what, "runs without draws", pairs, "ms", aim=1.5)
    ours, other = _moves(trials), _moves(plain)
    by_move = tuple((1000 * one / ours, 1000 * two / other) for one, two in pairs)
    note = f"{ours / TRIALS:.0f} moves a trial, {other // TRIALS} without failed checks"
    yield Figure(f"{what}, by the move", "runs without draws", by_move, "us", note=note)


def _orders() -> Workload:
    forget_drawn()
    return shop_of({f"knife {n}": petty_knife() for n in (1, 2)})


def _first() -> None:
    plan_jobs(_orders())


def _best() -> None:
    for _ in better(knives(2)):
        pass


def _timed(what: Callable[[], None]) -> Callable[[], float]:
    def ms() -> float:
        begun = time.process_time()
        what()
        return 1000 * (time.process_time() - begun)

    return ms


if __name__ == "__main__":
    alone("jobs")
