"""The chance that a job is ready by its date: trials of the policy with everything drawn.

A trial's draws follow part, step and visit, so that a trial with one thing changed, such as an
earlier start or a check that never fails, has the same luck in everything else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import exp, sqrt
from random import Random
from statistics import NormalDist, fmean

from benchtimer.job.chain import NEVER, Chain
from benchtimer.job.known import NOTHING_KNOWN, KnownChances, Odds, draw_lost, draw_odds, draw_paces
from benchtimer.job.policy import Draws, Played, ShopWork, play
from benchtimer.job.worktime import WorkTime

GROUP = 20
"""How many trials share one drawing of what is not known."""

FIRST_TRIALS = 100
"""After this many trials there is a first figure."""

QUANTILES = 4096
"""How many equally likely values a factor on hands-on time is drawn from."""

_NORMAL = [NormalDist().inv_cdf((i + 0.5) / QUANTILES) for i in range(QUANTILES)]
Random(17).shuffle(_NORMAL)

_MASK = (1 << 64) - 1
_SCALE = 2.0**-64
_BITS = 16
_LOW = (1 << _BITS) - 1
_AT_ONCE = 64 // _BITS
"""How many checks of a step are drawn from one number."""


def _mixed(a: int, b: int) -> int:
    """A number from 0 to 2**64 that depends on two others and looks like chance.

    The finishing steps of the splitmix64 generator (Steele, Lea and Flood 2014, OOPSLA).
    """
    z = (a + b * 0x9E3779B97F4A7C15) & _MASK
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _MASK
    return z ^ (z >> 31)


@dataclass(slots=True)
class DrawnChances:
    """What is not known, drawn for a group of trials.

    Attributes:
        chances: by chain and step, the chance of each of its checks.
        paces: by chain, the factor of each step.
        lost: share of sessions not worked.
    """

    chances: list[list[tuple[Odds, ...]]]
    paces: list[list[float]]
    lost: float


@dataclass(frozen=True, slots=True)
class Assumed:
    """What the trials follow, besides the shop as it is.

    Attributes:
        known: what the records say.
        sure: take the recipe's chances and times as they are, and draw the luck only.
        lost: share of sessions not worked, instead of what is known.
        never: checks that never fail, by ``recipe/step/check``.
        from_s: nothing is begun before.
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
        self._key = key
        self._firsts = [(key + n * 7919) % QUANTILES for n in range(len(shop.pieces))]
        self._factors = _factors(spread)

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the hands-on time of a step."""
        # The factors are shuffled: places of the list that are apart say nothing of each other.
        at = self._firsts[piece] + index * 2329 + visit * 2983
        return self._paces[piece][index] * self._factors[at % QUANTILES]

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part, by their numbers; None if it goes on."""
        del chain
        place = (piece << 24) + (index << 12) + visit
        drawn = _mixed(self._key, place)
        for number, chances in enumerate(self._odds[piece][index]):
            if number and number % _AT_ONCE == 0:
                drawn = _mixed(self._key, (number << 40) + place)
            here = drawn & _LOW
            if here < chances[-1][0]:
                return number, next(answer for total, answer in chances if here < total)
            drawn >>= _BITS
        return None


_kept_factors: dict[float, list[float]] = {}


def _factors(spread: float) -> list[float]:
    if spread not in _kept_factors:
        _kept_factors[spread] = [exp(spread * value) for value in _NORMAL]
    return _kept_factors[spread]


def draw_group(shop: ShopWork, assumed: Assumed, number: int) -> DrawnChances:
    """What is not known, drawn for the group of a number."""
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
                    drawn[look.key] = tuple((total * (_LOW + 1), a) for total, a in found)
                never = look.key in assumed.never
                row.append(((0.0, 0),) if never else drawn[look.key])
            rows.append(tuple(row))
        chances.append(rows)
    paces = draw_paces(chains, known, rng, sure=assumed.sure)
    lost = draw_lost(known, rng) if not assumed.sure else 0.0
    return DrawnChances(chances, paces, lost if assumed.lost is None else assumed.lost)


def worked_hours(shop: ShopWork, assumed: Assumed, group: DrawnChances, key: int) -> WorkTime:
    """The hours as one trial works them: some sessions not at all, some begun late."""
    late = () if assumed.sure else assumed.known.sessions.late_s
    if not group.lost and not late:
        return shop.hours
    spans = []
    for number, (begin, end) in enumerate(zip(shop.hours.opens, shop.hours.closes, strict=True)):
        if _mixed(key, (1 << 60) + number) * _SCALE < group.lost:
            continue
        late_s = late[_mixed(key, (1 << 61) + number) % len(late)] if late else 0.0
        if begin + late_s < end:
            spans.append((round(begin + late_s), end))
    return WorkTime(spans)


def trial_key(seed: int, trial: int) -> int:
    """The number that the luck of a trial comes from."""
    return _mixed(seed, trial + 1)


@dataclass(slots=True)
class Trials:
    """Trials of a shop's policy, more as long as you ask for them.

    Attributes:
        shop: what there is to do.
        assumed: what they follow.
        finishes: for each job, when each trial had it ready; ``NEVER`` if within no hours known.
        blame: for each job, for each trial the piece and check that cost it most, if any.
    """

    shop: ShopWork
    assumed: Assumed = field(default_factory=Assumed)
    finishes: dict[str, list[float]] = field(default_factory=dict)
    blame: dict[str, list[tuple[int, str] | None]] = field(default_factory=dict)
    hands_s: list[float] = field(default_factory=list)
    missed: int = 0
    given_up: int = 0

    @property
    def count(self) -> int:
        """How many trials there are so far."""
        return len(self.hands_s)

    def more(self, count: int) -> None:
        """Add trials, in whole groups."""
        jobs = jobs_in(self.shop)
        for number in range(self.count // GROUP, -(-(self.count + count) // GROUP)):
            group = draw_group(self.shop, self.assumed, number)
            for one in range(GROUP):
                self._one(group, number * GROUP + one, jobs)

    def _one(self, group: DrawnChances, trial: int, jobs: Mapping[str, list[int]]) -> None:
        key = trial_key(self.assumed.seed, trial)
        luck = Luck(self.shop, group, self.assumed.known.learned.spread, key)
        worked = worked_hours(self.shop, self.assumed, group, key)
        played = play(self.shop, luck, worked=worked, from_s=self.assumed.from_s)
        self.hands_s.append(played.hands_s)
        self.missed += played.missed
        self.given_up += played.given_up
        for job, pieces in jobs.items():
            self.finishes.setdefault(job, []).append(max(played.ends[k] for k in pieces))
            self.blame.setdefault(job, []).append(blamed(self.shop, played, pieces))


def jobs_in(shop: ShopWork) -> dict[str, list[int]]:
    """The numbers of the pieces of each job."""
    found: dict[str, list[int]] = {}
    for number, piece in enumerate(shop.pieces):
        if piece.job:
            found.setdefault(piece.job, []).append(number)
    return found


def blamed(shop: ShopWork, played: Played, pieces: Sequence[int]) -> tuple[int, str] | None:
    """The piece and check that cost most time on the way that ended last."""
    at = max(pieces, key=lambda k: played.ends[k])
    way = [at]
    while shop.pieces[at].needs:
        feeders = [n for some in shop.pieces[at].needs for n in some]
        at = max(feeders, key=lambda k: played.ends[k])
        way.append(at)
    losses = {where: lost for where, lost in played.losses.items() if where[0] in way}
    return max(losses, key=lambda where: (losses[where], where)) if losses else None


def progressive(trials: Trials, count: int) -> Iterator[Trials]:
    """The trials again and again while they grow to ``count``: first after 100."""
    step = FIRST_TRIALS
    while trials.count < count:
        trials.more(min(step, count - trials.count))
        yield trials


@dataclass(frozen=True, slots=True)
class Chance:
    """A chance from trials.

    Attributes:
        share: of the trials.
        error: standard error of the share.
        low: with ``high``, the range that holds four in five of the values that what is known
            allows.
    """

    share: float
    error: float
    low: float
    high: float


def chance_by(finishes: Sequence[float], by_s: float) -> Chance:
    """The chance to be ready by a moment, with its error and its range."""
    kept = [finish <= by_s for finish in finishes]
    shares = [fmean(kept[i : i + GROUP]) for i in range(0, len(kept), GROUP)]
    share = fmean(kept)
    plain = sqrt(max(share * (1 - share), 0.25 / len(kept)) / len(kept))
    if len(shares) < 2:
        return Chance(share, plain, max(0.0, share - 2 * plain), min(1.0, share + 2 * plain))
    spread = sum((s - share) ** 2 for s in shares) / (len(shares) - 1)
    luck = fmean(s * (1 - s) for s in shares) / (GROUP - 1)
    error = max(plain, sqrt(spread / len(shares)))
    low, high = _beta_range(share, max(0.0, spread - luck))
    return Chance(share, error, low, high)


def _beta_range(mean: float, variance: float) -> tuple[float, float]:
    """Where a Beta of this mean and variance has its 10th and 90th per cent."""
    if not 0 < mean < 1 or variance <= 1e-9:
        return mean, mean
    strength = max(0.05, mean * (1 - mean) / variance - 1)
    a, b = mean * strength, (1 - mean) * strength
    rng = Random(1)
    drawn = sorted(rng.betavariate(a, b) for _ in range(2000))
    return drawn[200], drawn[1800]


def quantile(finishes: Sequence[float], share: float) -> float:
    """The moment by which this many of the trials were ready; ``NEVER`` if this many never were."""
    ordered = sorted(finishes)
    number = min(len(ordered) - 1, max(0, -(-round(share * len(ordered) * 1e6) // 10**6) - 1))
    return ordered[number]


@dataclass(frozen=True, slots=True)
class LateJobCause:
    """A check that makes a job late.

    Attributes:
        look: ``recipe/step/check``, and ``ask`` its question.
        share: in what share of the late trials it cost the most.
    """

    part: str
    look: str
    ask: str
    share: float


def late_causes(trials: Trials, job: str, due_s: float) -> list[LateJobCause]:
    """What made the late trials of a job late, the commonest first."""
    late = [
        blamed
        for finish, blamed in zip(trials.finishes[job], trials.blame[job], strict=True)
        if finish > due_s
    ]
    counted = Counter(blamed for blamed in late if blamed is not None)
    shop = trials.shop
    asks = {x.key: x.ask for chain in shop.chains for link in chain.links for x in link.looks}
    return [
        LateJobCause(shop.pieces[piece].name, look, asks[look], count / len(late))
        for (piece, look), count in counted.most_common(3)
    ]


def latest_good_start(
    shop: ShopWork, assumed: Assumed, job: str, due_s: float, *, want: float = 0.9, count: int = 200
) -> float | None:
    """The latest session to begin with that keeps the due date with a chance of ``want``.

    Args:
        shop: what there is to do.
        assumed: what the trials follow.
        job: the job.
        due_s: when it is due.
        want: the chance wanted.
        count: trials for each start that is looked at.

    Returns:
        The opening of that session; None if even an immediate start does not reach it.
    """
    starts = [0.0, *(float(s) for s in shop.hours.opens if 0 < s < due_s)]

    def keeps(number: int) -> bool:
        trials = Trials(shop, replace(assumed, from_s=starts[number]))
        trials.more(count)
        return chance_by(trials.finishes[job], due_s).share >= want

    if not keeps(0):
        return None
    low, high = 0, len(starts)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return starts[low]


__all__ = [
    "NEVER",
    "Assumed",
    "Chance",
    "LateJobCause",
    "Trials",
    "chance_by",
    "jobs_in",
    "late_causes",
    "latest_good_start",
    "progressive",
    "quantile",
]
