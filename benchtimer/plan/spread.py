"""How much hands-on times vary: what spread means, and how a time is drawn.

The spread of a time is the standard deviation of its natural logarithm. A drawn time is
log-normal, and its median is the recipe's time. Trials of a plan and rehearsals both draw from this
module, and ``learn`` estimates the same number from records.
"""

from __future__ import annotations

import random
from functools import lru_cache
from math import exp
from statistics import NormalDist

SPREAD = 0.25
"""The spread until your own records give one. A guess, no source."""
QUANTILES = 4096
"""Equally likely values to draw a time from. Their spread is 0.02% below the requested one."""


def draw_times_s(rng: random.Random, median_s: float, spread: float, count: int) -> list[float]:
    """Draw some hands-on times.

    Args:
        rng: the random generator.
        median_s: the recipe's time in seconds: half of the draws are longer.
        spread: the standard deviation of the logarithm; with 0 every draw is the median.
        count: how many times to draw.
    """
    return [median_s * factor for factor in rng.choices(_factors(spread), k=count)]


@lru_cache(maxsize=8)
def _factors(spread: float) -> tuple[float, ...]:
    normal = NormalDist()
    return tuple(exp(spread * normal.inv_cdf((i + 0.5) / QUANTILES)) for i in range(QUANTILES))


def spread_words(spread: float) -> str:
    """``0.3`` -> ``two times in three between 26% shorter and 35% longer``.

    One standard deviation on each side of the median covers 68% of a log-normal distribution.
    """
    if not spread:
        return "every time exactly as planned"
    shorter, longer = 1 - exp(-spread), exp(spread) - 1
    return f"two times in three between {shorter:.0%} shorter and {longer:.0%} longer"
