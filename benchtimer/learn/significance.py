"""Exact tests of two groups, and the correction for looking at many facts.

Sources: Fisher, The Design of Experiments (1935), chapter 2, for the 2 x 2 table; Mann and
Whitney (1947) for the rank sum; Holm (1979) for the correction. The two-sided chance of a table is
the sum over all tables no likelier than it; for a rank sum it is twice the smaller tail. The best
cut through a row of figures is that of Miller and Siegmund, Maximally selected chi square
statistics (1982); its chance counts every order of the row that some cut would separate as well or
better.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from math import comb, sqrt
from statistics import NormalDist

from benchtimer.values import dataclass

SMALLEST_SIDE = 6
"""A cut leaves a sixth of the figures on each side, and at least two. Our choice, no source."""

MOST_CUT = 400
"""With more figures than these, the rank sum gives the chance, because a cut takes too long."""

MOST_WORK = 200_000_000
"""Bits to shift for one rank sum; above it, from about 55 tries on, the normal curve is used."""


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

    It is the exact permutation chance if that is fast, otherwise the normal curve's with
    corrections for ties and continuity.
    """
    if not first or not second:
        return 1.0
    ranks = doubled_ranks([*first, *second])
    return _p_of_sum(tuple(sorted(ranks)), len(first), sum(ranks[: len(first)]))


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
    """Twice the smaller tail of the sum of ``chosen`` of the ranks, up to 1."""
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
    """The same from the normal curve, in doubled ranks."""
    count = len(ranks)
    middle = sum(ranks) / count
    spread = sum((rank - middle) ** 2 for rank in ranks) / (count - 1)
    deviation = sqrt(chosen * (count - chosen) / count * spread)
    if not deviation:
        return 1.0
    # Without ties, doubled ranks move in steps of 2: half a step is 1.
    apart = max(0.0, abs(found - chosen * middle) - 1)
    return min(1.0, 2 * NormalDist().cdf(-apart / deviation))


@dataclass(frozen=True, slots=True)
class CutPoint:
    """The place where a row of figures best separates failed from good.

    Attributes:
        below: how many figures are below it, in order of size.
        chance: the chance that some cut would separate them as well or better by luck alone.
    """

    below: int
    chance: float


def best_cut(values: Sequence[float], failed: Sequence[bool]) -> CutPoint | None:
    """The best cut through some figures; None if they are too similar to cut.

    Args:
        values: the figures.
        failed: for each, whether it belongs to the first group.
    """
    order = sorted(range(len(values)), key=values.__getitem__)
    ends = _ends([values[row] for row in order])
    count, hits = len(values), sum(failed)
    if not ends or not 0 < hits < count:
        return None
    parts: dict[int, int] = {}
    bad = seen = 0
    for end in ends:
        bad += sum(failed[row] for row in order[seen:end])
        seen = end
        parts[end] = bad
    best = max((_parting(bad, end, hits, count), end) for end, bad in parts.items())
    if count > MOST_CUT:
        rows = list(zip(values, failed, strict=True))
        return CutPoint(
            best[1], rank_sum_p([v for v, f in rows if f], [v for v, f in rows if not f])
        )
    return CutPoint(best[1], _chance_of_cut(frozenset(ends), hits, count, best[0]))


def least_cut_p(values: Sequence[float], hits: int) -> float:
    """The smallest chance that the best cut could have with this many failures."""
    order = sorted(range(len(values)), key=values.__getitem__)
    found = []
    for lowest in (order[:hits], order[len(order) - hits :]):
        chosen = set(lowest)
        cut = best_cut(values, [row in chosen for row in range(len(values))])
        found.append(1.0 if cut is None else cut.chance)
    return min(found)


def _ends(ordered: Sequence[float]) -> list[int]:
    """Where the row can be cut: between different figures, with enough on both sides."""
    side = max(2, len(ordered) // SMALLEST_SIDE)
    places = range(side, len(ordered) - side + 1)
    return [n for n in places if ordered[n - 1] < ordered[n]]


def _parting(bad: int, below: int, hits: int, count: int) -> float:
    """How well a cut separates: the chi square of its table, without a factor that all cuts
    share.
    """
    return (bad * count - below * hits) ** 2 / (below * (count - below))


@lru_cache(maxsize=4096)
def _chance_of_cut(ends: frozenset[int], hits: int, count: int, found: float) -> float:
    """The chance that a random row has a cut that separates as well or better.

    ``left[k]`` is the chance that there was none so far, with k failures among the figures passed.
    """
    least = found * (1 - 1e-12)
    left = [1.0] + [0.0] * hits
    met = 0.0
    for passed in range(1, count + 1):
        remain = count - passed + 1
        for k in range(min(passed, hits), -1, -1):
            fails = left[k - 1] * (hits - k + 1) / remain if k else 0.0
            holds = left[k] * max(0, remain - (hits - k)) / remain
            left[k] = fails + holds
            if passed in ends and left[k] and _parting(k, passed, hits, count) >= least:
                met += left[k]
                left[k] = 0.0
    return min(1.0, met)


def holm(chances: Sequence[float], looked_at: int | None = None) -> list[float]:
    """Chances corrected by Holm's method for the number of facts tested, in the same order.

    Args:
        chances: of the facts.
        looked_at: how many facts were tested, if there are more than chances.
    """
    total = max(looked_at or 0, len(chances))
    corrected = [1.0] * len(chances)
    least = 0.0
    for place, index in enumerate(sorted(range(len(chances)), key=chances.__getitem__)):
        least = max(least, min(1.0, (total - place) * chances[index]))
        corrected[index] = least
    return corrected
