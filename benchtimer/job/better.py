"""Better plans: runs the policy again with shifted latest starts, and compares lateness, then end.

Each try shifts how urgent each part is, in the first plan or in the best one so far. The shifts
depend on the number of the try, so the same jobs always give the same plan; ``job plan``,
``tonight`` and the trials all use it.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from benchtimer.job.policy import Draws, play
from benchtimer.job.promise import jobs_in
from benchtimer.job.sessions import JobsPlan, plan_jobs
from benchtimer.job.shop_work import ShopWork
from benchtimer.job.workload import Workload
from benchtimer.values import replace

TRIES = 60
"""In three test shops, the last improvement came within 45 of 300 tries."""

SHIFTS_S = (6 * 3600, 86_400, 3 * 86_400)
"""Standard deviations of the shifts: within a day, by a day, past a weekend."""

Worth = tuple[int, int]
"""The total lateness of all jobs, and the sum of their ends, in seconds; less is better."""


def worth(load: Workload, ends: list[float]) -> Worth:
    """The score of a plan, from the ends of its pieces."""
    done = {job: max(ends[k] for k in pieces) for job, pieces in jobs_in(load.shop).items()}
    due_s, far_s = load.due_s, 1e12
    late_s = sum(min(far_s, max(0.0, end - due_s[job])) for job, end in done.items())
    return round(late_s), round(sum(min(far_s, end) for end in done.values()))


def better(load: Workload, *, from_s: float = 0, tries: int = TRIES) -> Iterator[JobsPlan]:
    """Yields the first plan, then the best one so far after each try; stop any time.

    Args:
        load: the shop and its jobs.
        from_s: nothing begins before this.
        tries: how many tries.
    """
    best = plan_jobs(load, from_s=from_s)
    least = worth(load, best.played.ends)
    yield best
    if len(load.shop.pieces) < 2:
        return
    for number in range(tries):
        rng = Random(number)
        shop = _shifted((load if number % 2 else best.load).shop, rng)
        found = worth(load, play(shop, Draws(), from_s=from_s).ends)
        if found < least:
            best, least = plan_jobs(replace(load, shop=shop), from_s=from_s), found
        yield best


def best_plan(load: Workload) -> JobsPlan:
    """The best plan after all tries."""
    *_, best = better(load)
    return best


def _shifted(shop: ShopWork, rng: Random) -> ShopWork:
    spread_s = rng.choice(SHIFTS_S)
    pieces = []
    for piece in shop.pieces:
        shift_s = rng.gauss(0, spread_s)
        latest = {step: at_s + shift_s for step, at_s in piece.latest.items()}
        pieces.append(replace(piece, latest=latest))
    return replace(shop, pieces=pieces)
