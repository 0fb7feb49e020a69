"""Rates and times with intervals: the recipe's figures, adjusted by what was seen.

A rate has a beta prior worth ``PRIOR_WEIGHT`` checks at the rate that the recipe expects; a time is
log-normal, and its median is shrunk toward the recipe's time, which counts as ``PRIOR_WEIGHT``
times. Source: Gelman and others, Bayesian Data Analysis, 3rd edition, sections 2.4 (prior as
counts) and 3.3 (normal data). The weight of 4 is our choice, no source.
"""

from __future__ import annotations

from math import exp, lgamma, log, sqrt
from random import Random

from benchtimer.plan.spread import SPREAD
from benchtimer.values import dataclass

PRIOR_WEIGHT = 4.0
"""The recipe's figure counts as this many of your own."""
LEVEL = 0.9
"""The coverage of an interval. Nine in ten is enough for a plan."""


@dataclass(frozen=True, slots=True)
class RatePosterior:
    """The beta posterior of a rate.

    Attributes:
        a: the count for it, including the prior, and ``b`` the count against it.
    """

    a: float
    b: float

    @property
    def value(self) -> float:
        """The mean."""
        return self.a / (self.a + self.b)

    @property
    def interval(self) -> tuple[float, float]:
        """The interval of the rate with a chance of ``LEVEL``, with equal tails."""
        tail = (1 - LEVEL) / 2
        return beta_quantile(tail, self.a, self.b), beta_quantile(1 - tail, self.a, self.b)

    def drawn(self, rng: Random) -> float:
        """One value of the rate, drawn from the posterior."""
        return rng.betavariate(self.a, self.b)


def rate_posterior(hits: float, looks: float, expected: float | None) -> RatePosterior:
    """The rate of something.

    Args:
        hits: how often it happened; old data can count as less than one.
        looks: how often it could have.
        expected: the rate the recipe expects; None for Jeffreys' prior, Beta(0.5, 0.5), which
            assumes nothing.
    """
    a, b = (0.5, 0.5) if expected is None else beta_prior(expected)
    return RatePosterior(a + hits, b + max(0.0, looks - hits))


def beta_prior(expected: float) -> tuple[float, float]:
    """A prior worth ``PRIOR_WEIGHT`` checks; neither side is under a hundredth of a check."""
    a = min(max(PRIOR_WEIGHT * expected, 0.01), PRIOR_WEIGHT - 0.01)
    return a, PRIOR_WEIGHT - a


@dataclass(frozen=True, slots=True)
class TimeSums:
    """Times added up: their number, the sum of their logarithms and of the squares of those.

    Old times count as less than one, so the number may not be whole.
    """

    count: float
    logs: float
    squares: float

    @property
    def off_square(self) -> float:
        """Sum of the squared distances from their own mean."""
        return max(0.0, self.squares - self.logs**2 / self.count) if self.count else 0.0


@dataclass(frozen=True, slots=True)
class Time:
    """A time as learned.

    Attributes:
        median_s: the median.
        spread: the standard deviation of the logarithm.
        weight: how many times the median is based on, including the recipe's weight.
        freedom: degrees of freedom of the spread.
    """

    median_s: float
    spread: float
    weight: float
    freedom: float

    @property
    def median_sd(self) -> float:
        """The uncertainty of the median: the standard deviation of its logarithm."""
        return self.spread / sqrt(self.weight)

    @property
    def interval_s(self) -> tuple[float, float]:
        """The interval of the median with a chance of ``LEVEL``."""
        t = t_quantile(1 - (1 - LEVEL) / 2, self.freedom)
        factor = exp(t * self.median_sd)
        return self.median_s / factor, self.median_s * factor


def time_posterior(seen: TimeSums, planned_s: float) -> Time:
    """The median and the spread of a time, shrunk toward the recipe's time.

    The spread is about the mean of the times themselves, not about the recipe's: a recipe that is
    far off must not make a time uncertain.

    Args:
        seen: the times, old ones counting less.
        planned_s: the recipe's time in seconds.
    """
    weight = PRIOR_WEIGHT + seen.count
    mean = (PRIOR_WEIGHT * log(max(planned_s, 1.0)) + seen.logs) / weight
    freedom = PRIOR_WEIGHT + max(0.0, seen.count - 1)
    deviation = sqrt((PRIOR_WEIGHT * SPREAD**2 + seen.off_square) / freedom)
    return Time(exp(mean), deviation, weight, freedom)


def beta_cdf(x: float, a: float, b: float) -> float:
    """The regularized incomplete beta function I_x(a, b), by its continued fraction.

    Source: NIST Digital Library of Mathematical Functions, 8.17.22, and 8.17.4 for the other
    side, where the fraction converges faster.

    Args:
        x: from 0 to 1.
        a: the first parameter, above 0.
        b: the second parameter, above 0.
    """
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_cdf(1 - x, b, a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(1 - x)) / a
    # Lentz's method for continued fractions, forward.
    value, c, d = 1.0, 1.0, 0.0
    for step in range(400):
        m = step // 2
        if step == 0:
            term = 1.0
        elif step % 2 == 0:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        else:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1 / (1 + term * d or 1e-300)
        c = 1 + term / c or 1e-300
        value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return min(1.0, front * (value - 1)) if value != 1 else 0.0


def beta_quantile(chance: float, a: float, b: float) -> float:
    """The quantile of the beta distribution, by bisection.

    Args:
        chance: from 0 to 1.
        a: the first parameter, above 0.
        b: the second parameter, above 0.
    """
    low, high = 0.0, 1.0
    for _ in range(100):
        middle = (low + high) / 2
        if beta_cdf(middle, a, b) < chance:
            low = middle
        else:
            high = middle
        if high - low <= 1e-14 * high:
            break
    return (low + high) / 2


def t_quantile(chance: float, freedom: float) -> float:
    """The quantile of Student's t, from 0.5 up, through its relation to the beta distribution."""
    share = beta_quantile(2 * (1 - chance), freedom / 2, 0.5)
    return sqrt(freedom * (1 - share) / share)
