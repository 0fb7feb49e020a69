"""Are promised dates kept? Jobs worked in many worlds against the promise made before.

    python -m tests.job.campaign

prints the tables of ``README.md`` beside this file. A worker follows the policy as it is, in a
world of known rates, paces and lost sessions; the promise knows only what it is given. Worker and
promise share the policy and its tables, so this shows whether the figures are right for a shop
that follows the advice, not whether the engine would refuse a press.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from random import Random

from scipy.stats import ks_2samp

from benchtimer.job.chain import Chain
from benchtimer.job.known import KnownChances, Sessions
from benchtimer.job.luck import Assumed, Luck, draw_group, worked_hours
from benchtimer.job.policy import play
from benchtimer.job.promise import Trials, quantile
from benchtimer.job.shop_work import ShopWork
from benchtimer.learn.estimates import Estimates, RateEstimate
from benchtimer.learn.learned import Learned
from benchtimer.learn.posterior import rate_posterior
from tests.job.shops import knives

JOB = "knife 1"
SHARES = (0.5, 0.8, 0.9)
WORLD = 10_000_019
"""Seeds of the worlds are far from those of the promises."""


@dataclass(frozen=True, slots=True)
class World:
    """How a world differs from the recipes.

    Attributes:
        rates: whether each job has failure rates of its own, drawn around the recipes'.
        lost: share of sessions that are not worked.
        late_s: how late each session begins.
    """

    rates: bool = False
    lost: float = 0
    late_s: float = 0


class Counting(Luck):
    """Luck that keeps count of its checks, as the records would."""

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
    """When each of some jobs is ready in a world, each job with a world of its own."""
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


def promised(shop: ShopWork, assumed: Assumed, count: int = 1000) -> list[float]:
    """The finishes of the promise's trials."""
    trials = Trials(shop, assumed)
    trials.more(count)
    return trials.finishes[JOB]


def kept(finishes: Sequence[float], promise: Sequence[float]) -> list[float]:
    """The shares of jobs that were ready by the promised 50, 80 and 90 % dates."""
    by = [quantile(promise, share) for share in SHARES]
    return [sum(finish <= date for finish in finishes) / len(finishes) for date in by]


def row(name: str, finishes: Sequence[float], promise: Sequence[float]) -> str:
    """One line of the table."""
    limit = 1.36 * sqrt(1 / len(finishes) + 1 / len(promise))
    distance = ks_2samp(finishes, promise).statistic
    result = " / ".join(f"{100 * share:.0f}" for share in kept(finishes, promise))
    return f"| {name} | {result} | {distance:.3f} | {limit:.3f} |"


def _learned(shop: ShopWork, looks: dict[str, int], sends: dict[str, int], runs: int) -> Learned:
    """What the records would say after checks were answered so often."""
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


def shops_kept(shop: ShopWork, runs: int, count: int, trials: int = 200) -> float:
    """The share of drawn shops that keep their 90 % date, after a number of former jobs."""
    good = 0
    for number in range(count):
        truth = draw_group(shop, Assumed(seed=WORLD + 31 * number), 0)
        truth.paces = draw_group(shop, Assumed(sure=True), 0).paces
        looks: dict[str, int] = {}
        sends: dict[str, int] = {}
        for run in range(runs):
            luck = Counting(shop, truth, 0.25, Random(number * 977 + run).getrandbits(60))
            play(shop, luck)
            for total, one in ((looks, luck.looks), (sends, luck.sends)):
                for key, times in one.items():
                    total[key] = total.get(key, 0) + times
        known = KnownChances(_learned(shop, looks, sends, runs))
        promise = promised(shop, Assumed(known=known, seed=number + 1), trials)
        last = Luck(shop, truth, 0.25, Random(number * 977 - 1).getrandbits(60))
        good += max(play(shop, last).ends) <= quantile(promise, 0.9)
    return good / count


def tables(jobs: int = 300, shops: int = 100) -> Iterator[str]:
    """The lines of the tables."""
    shop = knives(1).shop
    plain = promised(shop, Assumed(sure=True))
    yield "| the world | ready by the 50 / 80 / 90 % dates | KS | limit |"
    yield "|---|---|---|---|"
    yield row("as promised", worked(shop, World(), jobs), plain)
    for lost in (0.1, 0.25):
        finishes = worked(shop, World(lost=lost), jobs)
        name = f"{100 * lost:.0f} % of the sessions lost"
        yield row(f"{name}, not known", finishes, plain)
        known = KnownChances(sessions=Sessions(40, round(40 * lost)))
        learned = promised(shop, Assumed(known=known))
        yield row(f"{name}, 40 sessions in the records", finishes, learned)
    drawn = promised(shop, Assumed())
    finishes = worked(shop, World(rates=True), jobs)
    yield row("each job with rates of its own, not known", finishes, plain)
    yield row("each job with rates of its own, drawn", finishes, drawn)
    yield "\n| former jobs | 90 % date kept by |\n|---|---|"
    for runs in (0, 2, 5, 20):
        yield f"| {runs} | {100 * shops_kept(shop, runs, shops):.0f} % of {shops} shops |"


if __name__ == "__main__":
    for line in tables(*(int(word) for word in sys.argv[1:])):
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
