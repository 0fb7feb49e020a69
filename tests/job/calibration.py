"""Checks whether jobs worked through the engine, press by press, keep their promised dates.

    nice -n 10 python -m tests.job.calibration [JOBS [JOBS WITH LOST SESSIONS [SHOPS [SEED]]]]

prints the tables of ``README.md`` in this folder. Hands with known times and failure rates work a
petty knife in evenings and weekends (``tests.job.hands``). Every press goes through the engine,
which refuses invalid presses and records each missed window. The engine's events show when the job
is ready. The random stream is separate from that of the earlier promise.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf
from random import Random

from benchtimer.job.known import KnownChances
from benchtimer.job.luck import Assumed, draw_group
from benchtimer.job.promise import quantile
from benchtimer.job.shop_work import ShopWork
from benchtimer.job.worktime import WorkTime
from benchtimer.learn.estimates import estimate
from benchtimer.learn.learned import Learned
from benchtimer.learn.observe import observed
from benchtimer.learn.sums import OWN, Group, add_up, change
from benchtimer.run.events import Deviated, Event, PartDone
from tests.job.campaign import (
    JOB,
    SESSIONS,
    SHOP_TRIALS,
    SPREAD,
    WORLD,
    drawn_sessions,
    place,
    places_row,
    promised,
    row,
)
from tests.job.hands import AtBench, Memory, OwnLuck
from tests.job.orders import petty_knife
from tests.job.shops import FRIDAY, knives, shelf, shop_of

FORMER = (2, 5, 20)
PROMISES = 900_000_007
"""Far from the seeds of the worlds, so the two never overlap."""
NOW_MS = round(1000 * FRIDAY.timestamp())
Chances = Callable[[str, float], float]


@dataclass(frozen=True, slots=True)
class Worked:
    """A finished job.

    Attributes:
        done_s: when its last part was done, by the engine's events.
        lost: windows the engine reports as missed.
        logged: the events of each of its runs.
    """

    done_s: float
    lost: int
    presses: int
    logged: list[list[Event]]


def work(seed: int, lost: float = 0, chances: Chances | None = None) -> Worked:
    """Work one job to its end.

    Args:
        seed: same seed, same luck.
        lost: share of the sessions not worked.
        chances: the true chance of an answer, by its key and the recipe's; the recipe's if None.
    """
    rng = Random(f"engine {seed}")
    shop, bench = knives(1).shop, Memory()
    spans = [
        s for s in zip(shop.hours.opens, shop.hours.closes, strict=True) if rng.random() >= lost
    ]
    worked = AtBench(shop, OwnLuck(rng, SPREAD, chances), bench, WorkTime(spans))
    worked.run(0, inf)
    result = list(bench.logged.values())
    events = [event for run in result for event in run]
    done = {name for run in bench.over.values() for name in run.jobs.values()}
    assert f"{JOB}/knife" in done, "the knife was never assembled"
    ends = [event.t_ms for event in events if isinstance(event, PartDone)]
    missed = sum(isinstance(x, Deviated) and x.what in ("early", "overrun") for x in events)
    return Worked(max(ends) / 1000, missed, worked.presses, result)


def jobs_worked(count: int, lost: float = 0, seed: int = WORLD) -> list[Worked]:
    """Several jobs, each with its own luck."""
    return [work(seed + number, lost) for number in range(count)]


@dataclass
class Records:
    """What the runs of earlier jobs taught, by recipe id."""

    sums: dict[str, dict[str, Group]] = field(default_factory=dict)

    def add(self, job: Worked) -> None:
        """Learn from the runs of a job."""
        for events in job.logged:
            for recipe, groups in add_up(observed(events), NOW_MS, OWN).items():
                self.sums[recipe] = change(self.sums.get(recipe, {}), {}, groups)

    def learned(self) -> Learned:
        """The estimates a plan would use."""
        names = [name for name in shelf() if name in self.sums]
        return Learned({n: estimate(shelf()[n], self.sums[n], NOW_MS, "") for n in names})


def own_rates(shop: ShopWork, seed: int) -> Chances:
    """The failure rates of a random shop: around the recipe's, as certain as after eight tries."""
    group = draw_group(shop, Assumed(seed=seed), 0)
    true: dict[str, float] = {}
    for chain, rows in zip(shop.chains, group.chances, strict=True):
        for link, odds in zip(chain.links, rows, strict=True):
            for look, totals in zip(link.looks, odds, strict=True):
                steps = [(0.0, -1), *totals]
                for (low, _), (high, answer) in pairwise(steps):
                    true[look.answers[answer].key] = (high - low) / 65_536
    return lambda key, chance: true.get(key, chance)


def own_jobs(count: int, lost: float, seed: int) -> list[float]:
    """Jobs of random shops, each with its place among the trials of its own shop's promise."""
    shop, places = knives(1).shop, []
    for number in range(seed, seed + count):
        done_s = work(number, lost, own_rates(shop, number)).done_s
        rng = Random(f"sessions {number}")
        known = KnownChances(sessions=drawn_sessions(rng, lost))
        promise = promised(shop, Assumed(known=known, seed=PROMISES + number), SHOP_TRIALS, 1)
        places.append(place(done_s, promise, rng))
    return places


def drawn_shops(count: int, jobs: int = 10) -> Iterator[str]:
    """How many jobs keep the 90 % date after 0, 2, 5 and 20 earlier jobs, in random shops."""
    kept: dict[int, list[bool]] = {runs: [] for runs in (0, *FORMER)}
    shop = knives(1).shop
    for number in range(count):
        chances = own_rates(shop, WORLD + 31 * number)
        records, promises = Records(), {0: promised(shop, Assumed(seed=number + 1))}
        for run in range(1, max(FORMER) + 1):
            records.add(work(1_000_000 + 1000 * number + run, chances=chances))
            if run in FORMER:
                known = records.learned()
                load = shop_of({JOB: petty_knife()}, learned=known)
                assumed = Assumed(known=KnownChances(known), seed=number + 1)
                promises[run] = promised(load.shop, assumed)
        done = [work(2_000_000 + 1000 * number + n, chances=chances).done_s for n in range(jobs)]
        for runs, finishes in promises.items():
            date = quantile(finishes, 0.9)
            kept[runs] += [one <= date for one in done]
    yield f"\n| former jobs | 90 % date kept, {count} shops with {jobs} jobs each |\n|---|---|"
    for runs, found in kept.items():
        yield f"| {runs} | {100 * sum(found) / len(found):.0f} % |"


def tables(jobs: int, losing: int, shops: int, seed: int = WORLD) -> Iterator[str]:
    """The lines of the tables; each row has its own seeds."""
    shop = knives(1).shop
    yield "| worked through the engine | ready by the 50 / 80 / 90 % dates | KS | limit |"
    yield "|---|---|---|---|"
    plain = promised(shop, Assumed(sure=True), 4000)
    presses = missed = 0
    for number, lost in enumerate((0.0, 0.1, 0.25)):
        count = losing if lost else jobs
        if not count:
            continue
        done = jobs_worked(count, lost, seed + 100_000 * number)
        presses, missed = presses + sum(x.presses for x in done), missed + sum(x.lost for x in done)
        finishes = [one.done_s for one in done]
        if not lost:
            yield row(f"{count} jobs", finishes, plain)
            continue
        name = f"{count} jobs, {100 * lost:.0f} % of the sessions lost"
        yield row(f"{name}, not known", finishes, plain)
        known = promised(shop, Assumed(sure=True, lost=lost), 4000)
        yield row(f"{name}, the share is known", finishes, known)
        places = own_jobs(count, lost, seed + 100_000 * number + 300_000)
        yield places_row(f"{name}, rates of its own, {SESSIONS} sessions in the records", places)
    yield f"\n{presses} presses, {missed} windows missed."
    if shops:
        yield from drawn_shops(shops)


if __name__ == "__main__":
    asked = [int(word) for word in sys.argv[1:]]
    for line in tables(*(asked + [300, 300, 30][len(asked) :])):
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
