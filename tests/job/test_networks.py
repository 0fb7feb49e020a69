"""Published project networks as jobs: normal draws, one pair of hands a path.

Three-point estimates: mean (a + 4m + b) / 6, variance ((b - a) / 6)^2. Each check names its source.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import sqrt
from random import Random
from statistics import fmean

import pytest

from benchtimer.job.chain import Chain
from benchtimer.job.policy import Draws, play
from benchtimer.job.workload import Workload
from tests.job.shops import hands_only, order_of, shop_of

WEEK_S = 3600
"""One week of a network as hands-on time in a shop that is always open."""

COUNT = 2000


class NormalDraws(Draws):
    """Hands-on times from a normal distribution, each part with its own standard deviation."""

    def __init__(self, factors: Sequence[float], rng: Random) -> None:
        super().__init__()
        self._sd, self._rng = factors, rng

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the mean."""
        del index, visit
        return self._rng.gauss(1, self._sd[piece])

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> None:
        """Nothing is ever sent back."""
        del piece, chain, index, visit


def _path(means: Sequence[float]) -> Workload:
    """A path of activities, each waiting for the one before."""
    names = [f"a{n}" for n in range(len(means))]
    recipes = {
        name: hands_only(name, f"{round(mean * WEEK_S)} s")
        for name, mean in zip(names, means, strict=True)
    }
    parts = [(name, name, tuple(names[n - 1 : n]) if n else ()) for n, name in enumerate(names)]
    return shop_of({"path": order_of(date(2026, 12, 31), parts)}, recipes=recipes, hours="")


def _lengths(activities: Sequence[tuple[float, float, float]], seed: int) -> list[float]:
    """Random lengths of a path of three-point estimates, in weeks."""
    means = [(a + 4 * m + b) / 6 for a, m, b in activities]
    factors = [(b - a) / 6 / mean for (a, _, b), mean in zip(activities, means, strict=True)]
    return _drawn(means, factors, seed)


def _drawn(
    means: Sequence[float], factors: Sequence[float], seed: int, count: int = COUNT
) -> list[float]:
    load, rng = _path(means), Random(seed)
    draws = NormalDraws(factors, rng)
    return [max(play(load.shop, draws).ends) / WEEK_S for _ in range(count)]


def _is_share(lengths: Sequence[float], by: float, chance: float) -> bool:
    """Whether a share agrees with a chance within three Monte Carlo errors."""
    found = fmean(length <= by for length in lengths)
    return abs(found - chance) <= 3 * sqrt(chance * (1 - chance) / len(lengths))


# UNCG SCM304, unit 6.3.1: the critical path A-C-E-G takes 23 weeks with variance 2.7778.
UNIT_631 = [(6, 7, 14), (2, 3, 4), (5, 5.5, 9), (4, 6, 8)]
# flylib.com 3.287.1.117: the critical path 1-3-5-7 has mean 24, variance 5, P(<= 28) = .9633.
FLYLIB = [(5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5)]


@pytest.mark.parametrize(
    ("activities", "mean", "by", "chance"),
    [
        (UNIT_631, 23, 20, 0.0359),
        (UNIT_631, 23, 25, 0.8849),
        (UNIT_631, 23, 25.74, 0.95),
        (FLYLIB, 24, 28, 0.9633),
    ],
)
def test_a_published_critical_path(
    activities: list[tuple[float, float, float]], mean: float, by: float, chance: float
) -> None:
    """Mean and chance of being ready by a date agree with the published figures."""
    lengths = _lengths(activities, seed=11)
    variance = sum(((b - a) / 6) ** 2 for a, _, b in activities)
    assert abs(fmean(lengths) - mean) <= 3 * sqrt(variance / COUNT)
    assert _is_share(lengths, by, chance)


def test_sixty_activities() -> None:
    """214 days with variance 100: the chance of 224 days or more is .1587 (questionai.com)."""
    means, factors = [214 / 60] * 60, [sqrt(100 / 60) / (214 / 60)] * 60
    lengths = _drawn(means, factors, seed=3, count=COUNT // 10)
    assert _is_share(lengths, 224, 1 - 0.1587)


def test_two_parallel_paths_are_later_than_one() -> None:
    """Mean 20, variance 2: one path .9214 by 22, both .8489, and the later one averages 20.798.

    Computed from the normal distribution; a method that considers one path flatters a due date.
    """
    one, other = (_drawn([20], [sqrt(2) / 20], seed) for seed in (5, 6))
    both = [max(pair) for pair in zip(one, other, strict=True)]
    assert _is_share(one, 22, 0.9214)
    assert _is_share(both, 22, 0.8489)
    assert not _is_share(both, 22, 0.9214)
    assert abs(fmean(both) - 20.798) <= 3 * sqrt(2 / COUNT)
