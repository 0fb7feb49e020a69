"""What was learned, in the form in which the trials of a job draw from it."""

from __future__ import annotations

from math import log

from benchtimer.job.known import Known
from benchtimer.learn.estimates import Estimates
from benchtimer.learn.learned import Learned
from benchtimer.learn.posterior import PRIOR_WEIGHT


def known_of(learned: Learned) -> Known:
    """The rates, paces and spread of a shop; sessions are left to whoever knows the hours.

    Args:
        learned: what was learned of the recipes, by their ids.
    """
    looks: dict[str, int] = {}
    sends: dict[str, int] = {}
    for recipe, told in learned.estimates.items():
        for rate in told.rates:
            name = f"{recipe}/{rate.step}/{rate.check}"
            looks[name] = rate.looks
            sends[f"{name}/{rate.answer}"] = rate.hits
    return Known(
        looks=looks,
        sends=sends,
        paces={recipe: (_pace(told), told.runs) for recipe, told in _with_runs(learned)},
        runs=sum(told.runs for told in learned.estimates.values()),
        spread=learned.spread,
    )


def _with_runs(learned: Learned) -> list[tuple[str, Estimates]]:
    return [(recipe, told) for recipe, told in learned.estimates.items() if told.runs]


def _pace(told: Estimates) -> float:
    """The mean logarithm of real over planned time, the recipe's own weight taken out again."""
    total = weight = 0.0
    for step in told.hands.values():
        counted = step.time.weight - PRIOR_WEIGHT
        total += log(step.time.median_s / step.planned_s) * step.time.weight
        weight += counted
    return total / weight if weight else 0.0
