"""The draws of one trial: hands-on times, answers of checks, skipped sessions and late starts.

They depend on part, step and visit, so a trial with one change, such as an earlier start or a
check that never fails, has the same luck everywhere else.
"""

from __future__ import annotations

from array import array
from functools import cache
from hashlib import shake_128
from math import exp
from random import Random
from statistics import NormalDist
from struct import unpack

from benchtimer.job.chain import Chain
from benchtimer.job.known import NOTHING_KNOWN, KnownChances, Odds, draw_lost, draw_odds, draw_paces
from benchtimer.job.policy import Draws
from benchtimer.job.shop_work import ShopWork
from benchtimer.job.worktime import WorkTime
from benchtimer.values import dataclass

QUANTILES = 4096
"""How many equally likely factors on hands-on time to draw from."""

CHANCES = 65_536
"""How many equally likely values a chance is compared with."""

_MASK = (1 << 64) - 1


@cache
def _factors(spread: float) -> array[float]:
    """Factors on hands-on time, all equally likely, shuffled."""
    normal = NormalDist()
    factors = [exp(spread * normal.inv_cdf((i + 0.5) / QUANTILES)) for i in range(QUANTILES)]
    Random(17).shuffle(factors)
    return array("d", factors)


@cache
def _drawn_chances() -> array[int]:
    """Numbers below ``CHANCES`` that look random; close together, so caches hold them."""
    return array("H", unpack(f"<{CHANCES}H", shake_128(b"chances").digest(2 * CHANCES)))


def _mixed(a: int, b: int) -> int:
    """A pseudo-random number from 0 to 2**64 that depends on two others.

    The finishing steps of the splitmix64 generator (Steele, Lea and Flood 2014, OOPSLA).
    """
    z = (a + b * 0x9E3779B97F4A7C15) & _MASK
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _MASK
    return z ^ (z >> 31)


@dataclass(slots=True)
class DrawnChances:
    """The unknowns, drawn for a group of trials.

    Attributes:
        chances: by chain and step, the chance of each of its checks.
        paces: by chain, the factor of each step.
        lost: share of skipped sessions.
    """

    chances: list[list[tuple[Odds, ...]]]
    paces: list[list[float]]
    lost: float


@dataclass(frozen=True, slots=True)
class Assumed:
    """The assumptions of the trials, besides the shop.

    Attributes:
        known: what the records say.
        sure: use the recipe's chances and times unchanged, and draw only the luck.
        lost: share of skipped sessions, instead of the known one.
        never: checks that never fail, by ``recipe/step/check``.
        from_s: nothing begins before this.
        seed: same seed, same luck.
    """

    known: KnownChances = NOTHING_KNOWN
    sure: bool = False
    lost: float | None = None
    never: frozenset[str] = frozenset()
    from_s: float = 0
    seed: int = 1


class Luck(Draws):
    """The draws of one trial."""

    def __init__(self, shop: ShopWork, group: DrawnChances, spread: float, key: int) -> None:
        super().__init__()
        self._odds = [group.chances[piece.chain] for piece in shop.pieces]
        self._paces = [group.paces[piece.chain] for piece in shop.pieces]
        self._firsts = [_mixed(key, n) % CHANCES for n in range(len(shop.pieces))]
        self._factors, self._chances = _factors(spread), _drawn_chances()

    # Both lists are shuffled, so positions far apart in them are independent.

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the hands-on time of a step.

        Args:
            piece: the number of the piece.
            index: the step, counted from 0.
            visit: how many times it has been here.
        """
        at = self._firsts[piece] + index * 2329 + visit * 2983
        return self._paces[piece][index] * self._factors[at % QUANTILES]

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part, by number; None if it continues.

        Args:
            piece: the number of the piece.
            chain: its chain of recipes.
            index: the step, counted from 0.
            visit: how many times it has been here.
        """
        del chain
        at, values = self._firsts[piece] + index * 2329 + visit * 2983, self._chances
        for number, chances in enumerate(self._odds[piece][index]):
            drawn = values[at % CHANCES]
            if drawn < chances[-1][0]:
                for total, answer in chances:
                    if drawn < total:
                        return number, answer
            at += 20_011
        return None


def draw_group(shop: ShopWork, assumed: Assumed, number: int) -> DrawnChances:
    """The unknowns, drawn for a group of trials.

    Args:
        shop: the work to do.
        assumed: what the trials assume.
        number: the group's number.
    """
    rng = Random(assumed.seed * 1_000_003 + number)
    known, chains = assumed.known, list(shop.chains)
    drawn: dict[str, Odds] = {}
    chances = []
    for chain in chains:
        rows = []
        for link in chain.links:
            row = []
            for look in link.looks:
                if look.key not in drawn:
                    found = draw_odds(look, known, rng, sure=assumed.sure)
                    drawn[look.key] = tuple((total * CHANCES, a) for total, a in found)
                never = look.key in assumed.never
                row.append(((0.0, 0),) if never else drawn[look.key])
            rows.append(tuple(row))
        chances.append(rows)
    paces = draw_paces(chains, known, rng, sure=assumed.sure)
    lost = draw_lost(known, rng) if not assumed.sure else 0.0
    return DrawnChances(chances, paces, lost if assumed.lost is None else assumed.lost)


def worked_hours(shop: ShopWork, assumed: Assumed, group: DrawnChances, key: int) -> WorkTime:
    """The hours in one trial: some sessions are skipped, some begin late.

    Args:
        shop: the work to do.
        assumed: what the trials assume.
        group: the unknowns of the trial's group.
        key: the trial's number.
    """
    late = () if assumed.sure else assumed.known.sessions.late_s
    if not group.lost and not late:
        return shop.hours
    draw = Random(_mixed(key, 1 << 60)).random
    spans = list(zip(shop.hours.opens, shop.hours.closes, strict=True))
    if late:
        spans = [(round(begin + late[int(draw() * len(late))]), end) for begin, end in spans]
    return WorkTime([span for span in spans if draw() >= group.lost and span[0] < span[1]])


def trial_key(seed: int, trial: int) -> int:
    """The number that a trial's luck is derived from."""
    return _mixed(seed, trial + 1)
