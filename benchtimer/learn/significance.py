"""Exact tests of two groups, and the correction for looking at many facts.

Sources: Fisher, The Design of Experiments (1935), chapter 2, for the 2 x 2 table; Mann and
Whitney (1947) for the rank sum; Holm (1979) for the correction. The two-sided chance of a table
is that of all tables no likelier than it; of a rank sum it is twice the smaller tail.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from math import comb, sqrt
from statistics import NormalDist

MOST_WORK = 200_000_000
"""Bits to move for one rank sum; above it, from about 55 tries on, the normal curve answers."""


@lru_cache(maxsize=4096)
def fisher_p(hit: int, missed: int, hit_other: int, missed_other: int) -> float:
    """Two-sided chance of a 2 x 2 table by Fisher's exact test.

    Args:
        hit: failures with the fact.
        missed: tries with the fact that did not fail.
        hit_other: failures without it.
        missed_other: tries without it that did not fail.
    """
    rows, others, hits = hit + missed, hit_other + missed_other, hit + hit_other
    ways = [
        comb(rows, k) * comb(others, hits - k)
        for k in range(max(0, hits - others), min(rows, hits) + 1)
    ]
    seen = comb(rows, hit) * comb(others, hit_other)
    return sum(n for n in ways if n <= seen) / sum(ways)


@lru_cache(maxsize=4096)
def least_fisher_p(group: int, count: int, hits: int) -> float:
    """The smallest chance any outcome could have: ``hits`` failures in ``count`` tries.

    Args:
        group: tries with the fact.
        count: all tries.
        hits: failures among all of them.
    """
    most, least = min(group, hits), max(0, hits - (count - group))
    return min(fisher_p(k, group - k, hits - k, count - group - hits + k) for k in {most, least})


def rank_sum_p(first: Sequence[float], second: Sequence[float]) -> float:
    """Two-sided chance of the Mann-Whitney test, ties included.

    It is the exact permutation chance where that takes a moment, else that of the normal curve
    with the correction for ties and for continuity.
    """
    if not first or not second:
        return 1.0
    ranks = doubled_ranks([*first, *second])
    return _p_of_sum(tuple(sorted(ranks)), len(first), sum(ranks[: len(first)]))


def least_rank_sum_p(values: Sequence[float], hits: int) -> float:
    """The smallest chance that any outcome with this many failures could have for these values."""
    if not 0 < hits < len(values):
        return 1.0
    ranks = tuple(sorted(doubled_ranks(values)))
    return min(
        _p_of_sum(ranks, hits, sum(ranks[:hits])), _p_of_sum(ranks, hits, sum(ranks[-hits:]))
    )


def doubled_ranks(values: Sequence[float]) -> list[int]:
    """Twice the rank of each value, so that the middle rank of ties is a whole number."""
    order = sorted(range(len(values)), key=values.__getitem__)
    ranks = [0] * len(values)
    place = 0
    for _, tied in groupby(order, key=values.__getitem__):
        same = list(tied)
        for index in same:
            ranks[index] = 2 * place + len(same) + 1
        place += len(same)
    return ranks


@lru_cache(maxsize=4096)
def _p_of_sum(ranks: tuple[int, ...], chosen: int, found: int) -> float:
    """Twice the smaller tail of the sum of ``chosen`` of the ranks, 1 at most."""
    if 2 * chosen > len(ranks):
        chosen, found = len(ranks) - chosen, sum(ranks) - found
    count = len(ranks)
    bits = comb(count, chosen).bit_length() + 1
    if count * chosen * sum(ranks[-chosen:]) * bits > MOST_WORK:
        return _normal_p(ranks, chosen, found)
    # ways[k] packs how many choices of k ranks have each sum, ``bits`` bits for each sum.
    ways = [1] + [0] * chosen
    for number, rank in enumerate(ranks):
        for k in range(min(number + 1, chosen), 0, -1):
            ways[k] += ways[k - 1] << (rank * bits)
    mask, packed = (1 << bits) - 1, ways[chosen]
    # 2**bits is 1 modulo the mask, so the remainder adds up all the packed counts.
    low = (packed & ((1 << (found + 1) * bits) - 1)) % mask
    high = (packed >> (found * bits)) % mask
    return min(1.0, 2 * min(low, high) / comb(count, chosen))


def _normal_p(ranks: tuple[int, ...], chosen: int, found: int) -> float:
    """The same by the normal curve, in doubled ranks."""
    count = len(ranks)
    middle = sum(ranks) / count
    spread = sum((rank - middle) ** 2 for rank in ranks) / (count - 1)
    deviation = sqrt(chosen * (count - chosen) / count * spread)
    if not deviation:
        return 1.0
    # Doubled ranks move in steps of 2 without ties: half a step is 1.
    apart = max(0.0, abs(found - chosen * middle) - 1)
    return min(1.0, 2 * NormalDist().cdf(-apart / deviation))


def holm(chances: Sequence[float], looked_at: int | None = None) -> list[float]:
    """Chances corrected by Holm's method for the number of facts looked at, in the same order.

    Args:
        chances: of the facts.
        looked_at: how many facts were looked at, if more than have a chance here.
    """
    total = max(looked_at or 0, len(chances))
    corrected = [1.0] * len(chances)
    least = 0.0
    for place, index in enumerate(sorted(range(len(chances)), key=chances.__getitem__)):
        least = max(least, min(1.0, (total - place) * chances[index]))
        corrected[index] = least
    return corrected
