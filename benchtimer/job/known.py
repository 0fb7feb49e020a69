"""What the shop's own record says about its chances, and how it is drawn: never raw rates.

A rate, a pace and the share of sessions not worked are drawn once for each group of trials
from what is known, so that a figure from two runs is as unsure as two runs are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import exp, sqrt
from random import Random

from benchtimer.job.chain import Chain, Look
from benchtimer.plan.spread import SPREAD

PRIOR = 8
"""How many looks the recipe's own ``expect`` counts as. Found by experiment: 3 to 8 do as well."""

PACE_SD = 0.25
"""How much the pace of one shop differs from another's, as a spread. A guess, no source."""

PACE_PRIOR = 4
"""How many runs the recipe's own times count as."""

LOST_PRIOR = (0.2, 1.8)
"""What is thought of sessions before the first is known: one in ten is not worked, as sure as
two sessions would make it. A guess, no source."""


@dataclass(frozen=True, slots=True)
class Known:
    """What the records say.

    Attributes:
        looks: how often each check was answered, by ``recipe/step/check``.
        sends: how often each answer sent a part, by ``recipe/step/check/answer``.
        paces: mean logarithm of real over planned hands-on time, and the runs it is from, by
            recipe.
        runs: how many runs all of that is from.
        sessions: sessions in which there was work to do.
        lost: those of them in which nothing was done.
        late_s: how late work began in each of the others.
        spread: of hands-on times within a run.
    """

    looks: Mapping[str, float] = field(default_factory=dict)
    sends: Mapping[str, float] = field(default_factory=dict)
    paces: Mapping[str, tuple[float, int]] = field(default_factory=dict)
    runs: int = 0
    sessions: int = 0
    lost: int = 0
    late_s: tuple[float, ...] = ()
    spread: float = SPREAD


NOTHING_KNOWN = Known()

Odds = tuple[tuple[float, int], ...]
"""For one check, the running total of chances with the number of each answer."""


def draw_odds(look: Look, known: Known, rng: Random, *, sure: bool = False) -> Odds:
    """The chances of a check's answers, drawn from what is known.

    Args:
        look: the check.
        known: what is known.
        rng: where chance comes from.
        sure: take the recipe's own chances as they are.
    """
    total, chances = 0.0, []
    looks = known.looks.get(look.key, 0)
    for number, (answer, chance) in enumerate(zip(look.answers, look.chances, strict=True)):
        drawn = chance
        if not sure and chance:
            sends = known.sends.get(answer.key, 0)
            passes = max(0, looks - sends)
            drawn = rng.betavariate(chance * PRIOR + sends, (1 - chance) * PRIOR + passes)
        total = min(0.99, total + drawn)
        chances.append((total, number))
    return tuple(chances)


def draw_paces(
    chains: list[Chain], known: Known, rng: Random, *, sure: bool = False
) -> list[list[float]]:
    """For each chain the factor on the hands-on time of each of its steps.

    Args:
        chains: the chains.
        known: what is known of each recipe's pace.
        rng: where chance comes from.
        sure: take the recipe's times as they are.
    """
    names = sorted({link.recipe for chain in chains for link in chain.links})
    factor = {}
    for name in names:
        mean, runs = known.paces.get(name, (0.0, 0))
        middle = mean * runs / (runs + PACE_PRIOR)
        sd = PACE_SD / sqrt(1 + runs / PACE_PRIOR) if runs else 0.0
        factor[name] = 1.0 if sure else exp(rng.gauss(middle, sd))
    return [[factor[link.recipe] for link in chain.links] for chain in chains]


def draw_lost(known: Known, rng: Random) -> float:
    """The share of sessions that will not be worked; none before the first is known."""
    if not known.sessions:
        return 0.0
    a, b = LOST_PRIOR
    return rng.betavariate(a + known.lost, b + known.sessions - known.lost)
