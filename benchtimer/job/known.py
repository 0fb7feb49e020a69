"""What the shop's own records say about its chances, and how they are drawn: never raw rates.

A rate, a pace and the share of sessions not worked are drawn once for each group of trials from
what is known (``learn``), so a figure from only two runs is as uncertain as it should be.
"""

from __future__ import annotations

from functools import cache, cached_property, partial
from math import exp
from random import Random

from benchtimer.job.chain import Chain, Link, SendingCheck
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.learn.posterior import RatePosterior, TimeSums, rate_posterior, time_posterior
from benchtimer.values import dataclass

LOST_EXPECTED = 0.1
"""The assumption before the first session is known: one in ten is skipped.

A guess, no source; it counts as much as a recipe's rate does for a check.
"""


@dataclass(frozen=True, slots=True)
class Sessions:
    """Sessions planned against sessions worked.

    Attributes:
        planned: the number of sessions in which a job had work.
        lost: the ones in which nothing was done.
        late_s: how late work began in each of the others.
    """

    planned: int = 0
    lost: int = 0
    late_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class KnownChances:
    """What the records say.

    Attributes:
        learned: times and rates, by the id of the recipe.
        sessions: sessions planned and worked.
    """

    learned: Learned = NOTHING
    sessions: Sessions = Sessions()

    @cached_property
    def rates(self) -> dict[str, RatePosterior]:
        """The rate of each answer, by ``recipe/step/check/answer``."""
        return {
            f"{recipe}/{row.step}/{row.check}/{row.answer}": row.rate
            for recipe, estimates in self.learned.estimates.items()
            for row in estimates.rates
        }

    def pace_sd(self, link: Link) -> float:
        """The uncertainty of a step's usual hands-on time, as the spread of its logarithm."""
        estimates = self.learned.estimates.get(link.recipe)
        hands = estimates.hands.get(link.step) if estimates is not None else None
        return _UNTIMED_SD if hands is None else hands.time.median_sd


NOTHING_KNOWN = KnownChances()

_UNTIMED_SD = time_posterior(TimeSums(0, 0, 0), 1).median_sd

_unseen = cache(partial(rate_posterior, 0, 0))

Odds = tuple[tuple[float, int], ...]
"""For one check, the running total of chances with the number of each answer."""


def draw_odds(look: SendingCheck, known: KnownChances, rng: Random, *, sure: bool = False) -> Odds:
    """The chances of a check's answers, drawn from what is known.

    Args:
        look: the check.
        known: what is known.
        rng: the random generator.
        sure: use the recipe's own chances unchanged.
    """
    total, chances = 0.0, []
    for number, (answer, chance) in enumerate(zip(look.answers, look.chances, strict=True)):
        rate = known.rates.get(answer.key) or _unseen(chance)
        total = min(0.99, total + (chance if sure else rate.drawn(rng)))
        chances.append((total, number))
    return tuple(chances)


def draw_paces(
    chains: list[Chain], known: KnownChances, rng: Random, *, sure: bool = False
) -> list[list[float]]:
    """For each chain the factor on the usual hands-on time of each of its steps.

    All steps of a recipe are slow together: a maker who is slow at one is slow at the others.

    Args:
        chains: the chains, with their usual times as far as known.
        known: what is known of each step's time.
        rng: the random generator.
        sure: use the times unchanged.
    """
    names = sorted({link.recipe for chain in chains for link in chain.links})
    slow = {name: 0.0 if sure else rng.gauss(0, 1) for name in names}
    return [
        [exp(slow[link.recipe] * known.pace_sd(link)) for link in chain.links] for chain in chains
    ]


def draw_lost(known: KnownChances, rng: Random) -> float:
    """The share of sessions that will be skipped; none before the first is known."""
    sessions = known.sessions
    if not sessions.planned:
        return 0.0
    return rate_posterior(sessions.lost, sessions.planned, LOST_EXPECTED).drawn(rng)
