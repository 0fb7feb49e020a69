"""Checks whether promised dates are kept: jobs in many worlds against the earlier promise.

    python -m tests.job.campaign [JOBS [SHOPS [SEED]]]

prints the tables of ``README.md`` in this folder. A worker follows the policy in a world of known
rates, paces and lost sessions; the promise knows only its inputs. Worker and promise share the
policy and its tables, so this shows whether the figures are right for a shop that follows the
advice, not whether the engine would refuse a press.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from random import Random
from statistics import fmean, stdev

from scipy.stats import ks_2samp, kstest

from benchtimer.job.chain import Chain
from benchtimer.job.known import LOST_EXPECTED, KnownChances, Sessions
from benchtimer.job.luck import Assumed, Luck, draw_group, worked_hours
from benchtimer.job.policy import play
from benchtimer.job.promise import GROUP, Trials, quantile
from benchtimer.job.shop_work import ShopWork
from benchtimer.learn.estimates import Estimates, RateEstimate
from benchtimer.learn.learned import Learned
from benchtimer.learn.posterior import rate_posterior
from tests.job.shops import knives

JOB = "knife 1"
SHARES = (0.5, 0.8, 0.9)
WORLD = 10_000_019
"""Far from the seeds of the promises, so the two never overlap."""

SPREAD = 0.25
SESSIONS = 40
"""How many sessions the records contain."""

SHOP_TRIALS = 200
"""Trials of each shop's promise."""


@dataclass(frozen=True, slots=True)
class World:
    """How a world differs from the recipes.

    Attributes:
        rates: whether each job has its own failure rates, drawn around the recipes'.
        lost: share of sessions not worked.
        late_s: how late each session begins.
    """

    rates: bool = False
    lost: float = 0
    late_s: float = 0


class Counting(Luck):
    """Luck that counts its checks, as the records would."""

    def __init__(self, shop: ShopWork, *rest: object) -> None:
        super().__init__(shop, *rest)  # type: ignore[arg-type]
        self.looks: dict[str, int] = {}
        self.sends: dict[str, int] = {}

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The answer, counted."""
        found = super().sent(piece, chain, index, visit)
        looks = chain.links[index].looks
        for number, look in enumerate(looks):
            self.looks[look.key] = self.looks.get(look.key, 0) + 1
            if found is not None and number == found[0]:
                key = look.answers[found[1]].key
                self.sends[key] = self.sends.get(key, 0) + 1
                break
        return found


def _assumed(world: World, seed: int) -> Assumed:
    late = (world.late_s,) if world.late_s else ()
    known = KnownChances(sessions=Sessions(late_s=late))
    return Assumed(known=known, sure=not world.rates and not late, lost=world.lost, seed=seed)


def worked(shop: ShopWork, world: World, count: int, seed: int = WORLD) -> list[float]:
    """When each job is ready in a world; each job has its own world."""
    finishes = []
    for number in range(count):
        assumed = _assumed(world, seed + number)
        group = draw_group(shop, assumed, 0)
        if not world.rates:
            group = replace(draw_group(shop, replace(assumed, sure=True), 0), lost=world.lost)
        key = Random(seed * 7 + number).getrandbits(60)
        luck = Luck(shop, group, assumed.known.learned.spread, key)
        hours = worked_hours(shop, assumed, group, key)
        finishes.append(max(play(shop, luck, worked=hours).ends))
    return finishes


def promised(
    shop: ShopWork, assumed: Assumed, count: int = 1000, group: int = GROUP
) -> list[float]:
    """The finishes of the promise's trials; without groups they are independent."""
    trials = Trials(shop, assumed, group)
    trials.more(count)
    return trials.finishes[JOB]


def kept(finishes: Sequence[float], promise: Sequence[float]) -> list[float]:
    """The shares of jobs ready by the promised 50, 80 and 90 % dates."""
    by = [quantile(promise, share) for share in SHARES]
    return [sum(finish <= date for finish in finishes) / len(finishes) for date in by]


def row(name: str, finishes: Sequence[float], promise: Sequence[float]) -> str:
    """One row of the table."""
    limit = 1.36 * sqrt(1 / len(finishes) + 1 / len(promise))
    distance = ks_2samp(finishes, promise).statistic
    result = " / ".join(f"{100 * share:.0f}" for share in kept(finishes, promise))
    return f"| {name} | {result} | {distance:.3f} | {limit:.3f} |"


def _learned(shop: ShopWork, looks: dict[str, int], sends: dict[str, int], runs: int) -> Learned:
    """What the records would contain after that many answers to each check."""
    rates: dict[str, list[RateEstimate]] = {}
    every = {x.key: x for chain in shop.chains for link in chain.links for x in link.looks}
    for look in every.values():
        for answer, chance in zip(look.answers, look.chances, strict=True):
            recipe, step, check, name = answer.key.split("/", 3)
            seen, hits = looks.get(look.key, 0), sends.get(answer.key, 0)
            rate = rate_posterior(hits, seen, chance)
            row = RateEstimate(step, check, name, chance, seen, hits, rate)
            rates.setdefault(recipe, []).append(row)
    return Learned({r: Estimates(r, "", runs, rates=tuple(rows)) for r, rows in rates.items()})


def drawn_sessions(rng: Random, lost: float) -> Sessions:
    """What the records say about sessions when a share of all is lost."""
    return Sessions(SESSIONS, sum(rng.random() < lost for _ in range(SESSIONS)))


def place(finish: float, promise: Sequence[float], rng: Random) -> float:
    """A job's place among the trials of its promise, from 0 to 1.

    If job and trials follow the same distribution, all ``m + 1`` ranks among ``m`` trials are
    equally likely. A random offset within the rank's width makes the place uniform.
    """
    before = sum(one < finish for one in promise)
    ties = sum(one == finish for one in promise)
    return (before + rng.random() * (ties + 1)) / (len(promise) + 1)


def own_shops(
    shop: ShopWork,
    count: int,
    *,
    runs: int = 0,
    lost: float | None = 0,
    jobs: int = 1,
    seed: int = WORLD,
) -> list[list[float]]:
    """Jobs of random shops, each with its place among the trials of its own shop's promise.

    A shop's failure rates and paces are drawn around the recipes', as the promise draws them.
    The promise knows only the shop's earlier jobs and, if sessions are lost, the latest ones.

    Args:
        shop: the jobs to do.
        count: how many shops.
        runs: earlier jobs of each.
        lost: share of the sessions lost; None if each shop has its own, drawn as the
            promise draws it.
        jobs: how many jobs of each shop are promised and worked.
        seed: same seed, same shops.
    """
    found = []
    for number in range(seed, seed + 31 * count, 31):
        rng = Random(f"shop {number}")
        share = rate_posterior(0, 0, LOST_EXPECTED).drawn(rng) if lost is None else lost
        truth = draw_group(shop, Assumed(seed=number, lost=share), 0)
        looks: dict[str, int] = {}
        sends: dict[str, int] = {}
        for _ in range(runs):
            former = Counting(shop, truth, SPREAD, rng.getrandbits(60))
            play(shop, former)
            for total, one in ((looks, former.looks), (sends, former.sends)):
                for answer, times in one.items():
                    total[answer] = total.get(answer, 0) + times
        sessions = drawn_sessions(rng, share) if lost is None or lost else Sessions()
        known = KnownChances(_learned(shop, looks, sends, runs), sessions)
        promise = promised(shop, Assumed(known=known, seed=number + 1), SHOP_TRIALS, 1)
        places = []
        for _ in range(jobs):
            key = rng.getrandbits(60)
            luck = Luck(shop, truth, SPREAD, key)
            worked_s = worked_hours(shop, Assumed(), truth, key)
            finish = max(play(shop, luck, worked=worked_s).ends)
            places.append(place(finish, promise, rng))
        found.append(places)
    return found


def places_row(name: str, places: Sequence[float]) -> str:
    """One row of the table: the jobs' places, each in its own promise, should be uniform.

    Each job has its own trials, so the limit is that of one sample against a known distribution,
    without the promises' errors.
    """
    dates = " / ".join(f"{100 * fmean(p <= share for p in places):.0f}" for share in SHARES)
    distance = kstest(places, "uniform").statistic
    limit = 1.36 / sqrt(len(places))
    return f"| {name} | {dates} | {distance:.3f} | {limit:.3f} |"


def tables(jobs: int = 300, shops: int = 100, seed: int = WORLD) -> Iterator[str]:
    """The lines of the tables; each row has its own seeds."""
    shop = knives(1).shop
    yield "| the world | ready by the 50 / 80 / 90 % dates | KS | limit |"
    yield "|---|---|---|---|"
    plain = promised(shop, Assumed(sure=True), 4000)
    for number, lost in enumerate((0.0, 0.1, 0.25)):
        finishes = worked(shop, World(lost=lost), jobs, seed + 100_000 * number)
        if not lost:
            yield row("as promised", finishes, plain)
            continue
        name = f"{100 * lost:.0f} % of the sessions lost"
        yield row(f"{name}, not known", finishes, plain)
        known = promised(shop, Assumed(sure=True, lost=lost), 4000)
        yield row(f"{name}, the share is known", finishes, known)
    finishes = worked(shop, World(rates=True), jobs, seed + 300_000)
    yield row("each job with rates of its own, not known", finishes, plain)
    yield row("each job with rates of its own, drawn", finishes, promised(shop, Assumed(), 4000))
    for number, share in enumerate((None, 0.1, 0.25), start=10):
        found = own_shops(shop, jobs, lost=share, seed=seed + 100_000 * number)
        which = "a share of its own" if share is None else f"{100 * share:.0f} %"
        name = f"rates of its own, {which} lost, {SESSIONS} sessions in the records"
        yield places_row(name, [places[0] for places in found])
    yield f"\n| former jobs | ready by the 50 / 80 / 90 % dates, {shops} shops with 20 jobs each |"
    yield "|---|---|"
    for number, runs in enumerate((0, 2, 5, 20), start=6):
        found = own_shops(shop, shops, runs=runs, jobs=20, seed=seed + 100_000 * number)
        yield f"| {runs} | {_by_shop(found)} |"


def _by_shop(found: Sequence[Sequence[float]]) -> str:
    """The shares ready by the promised dates, with the error from the spread between shops."""
    rows = []
    for share in SHARES:
        each = [fmean(one <= share for one in places) for places in found]
        rows.append(f"{100 * fmean(each):.0f} ± {100 * stdev(each) / sqrt(len(each)):.1f}")
    return " / ".join(rows)


if __name__ == "__main__":
    for line in tables(*(int(word) for word in sys.argv[1:])):
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
