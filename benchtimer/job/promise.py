"""The chance that a job is ready by its date: trials of the policy with everything drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import sqrt
from random import Random
from statistics import fmean

from benchtimer.job.luck import Assumed, Luck, draw_group, trial_key, worked_hours
from benchtimer.job.policy import play
from benchtimer.job.shop_work import Played, ShopWork
from benchtimer.plan.risk import LateRunCause
from benchtimer.values import dataclass, field, replace

GROUP = 20
"""How many trials share one drawing of the unknowns."""

FIRST_TRIALS = 100
"""The number of trials before the first figure."""


@dataclass(slots=True)
class Trials:
    """Trials of a shop's policy; you can keep adding more.

    Attributes:
        shop: the work to do.
        assumed: the assumptions of the trials.
        group: how many share one drawing of the unknowns.
        finishes: for each job, when each trial had it ready; ``NEVER`` if beyond the known hours.
        plays: the outcome of each trial.
    """

    shop: ShopWork
    assumed: Assumed = field(default_factory=Assumed)
    group: int = GROUP
    finishes: dict[str, list[float]] = field(default_factory=dict)
    plays: list[Played] = field(default_factory=list)

    @property
    def count(self) -> int:
        """The number of trials so far."""
        return len(self.plays)

    def more(self, count: int) -> None:
        """Add trials, in whole groups."""
        shop, assumed = self.shop, self.assumed
        until = self.count + count
        group = None
        while self.count < until:
            if group is None or not assumed.sure:
                group = draw_group(shop, assumed, self.count // self.group)
            for number in range(self.count, self.count + self.group):
                key = trial_key(assumed.seed, number)
                luck = Luck(shop, group, assumed.known.learned.spread, key)
                worked = worked_hours(shop, assumed, group, key)
                self.plays.append(play(shop, luck, worked=worked, from_s=assumed.from_s))
        for job, pieces in jobs_in(shop).items():
            found = self.finishes.setdefault(job, [])
            found += [max(p.ends[k] for k in pieces) for p in self.plays[len(found) :]]


def jobs_in(shop: ShopWork) -> dict[str, list[int]]:
    """The numbers of the pieces of each job."""
    found: dict[str, list[int]] = {}
    for number, piece in enumerate(shop.pieces):
        if piece.job:
            found.setdefault(piece.job, []).append(number)
    return found


def blamed(shop: ShopWork, played: Played, pieces: Sequence[int]) -> tuple[int, str] | None:
    """The piece and check that cost the most time on the path that ended last.

    Args:
        shop: the work to do.
        played: one trial.
        pieces: numbers of the job's pieces.
    """
    at = max(pieces, key=lambda k: played.ends[k])
    way = [at]
    while shop.pieces[at].needs:
        feeders = [n for some in shop.pieces[at].needs for n in some]
        at = max(feeders, key=lambda k: played.ends[k])
        way.append(at)
    losses = {where: lost for where, lost in played.losses.items() if where[0] in way}
    return max(losses, key=lambda where: (losses[where], where)) if losses else None


def progressive(trials: Trials, count: int) -> Iterator[Trials]:
    """Runs the trials up to ``count`` in steps, the first one of 100."""
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
        low: with ``high``, the range that holds four in five of the values consistent with what is
            known.
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
    """The 10th and 90th percentiles of a Beta distribution with this mean and variance."""
    if not 0 < mean < 1 or variance <= 1e-9:
        return mean, mean
    strength = max(0.05, mean * (1 - mean) / variance - 1)
    a, b = mean * strength, (1 - mean) * strength
    rng = Random(1)
    drawn = sorted(rng.betavariate(a, b) for _ in range(2000))
    return drawn[200], drawn[1800]


def quantile(finishes: Sequence[float], share: float) -> float:
    """The moment by which this many of the trials were ready; ``NEVER`` if too few ever were."""
    ordered = sorted(finishes)
    number = min(len(ordered) - 1, max(0, -(-round(share * len(ordered) * 1e6) // 10**6) - 1))
    return ordered[number]


def late_causes(trials: Trials, job: str, due_s: float) -> list[LateRunCause]:
    """What made the late trials of a job late, most common first.

    Args:
        trials: all trials.
        job: the job's name.
        due_s: seconds from now to the due date.
    """
    found = zip(trials.finishes[job], trials.plays, strict=True)
    late = [played for finish, played in found if finish > due_s]
    return common_causes(trials.shop, late, jobs_in(trials.shop)[job])


def common_causes(
    shop: ShopWork, late: Sequence[Played], pieces: Sequence[int]
) -> list[LateRunCause]:
    """The checks that cost the late trials of some pieces the most time, most common first.

    Args:
        shop: the work to do.
        late: the late trials.
        pieces: numbers of the pieces.
    """
    counted = Counter(
        cause for played in late if (cause := blamed(shop, played, pieces)) is not None
    )
    asks = {x.key: x.ask for chain in shop.chains for link in chain.links for x in link.looks}
    return [
        LateRunCause(shop.pieces[piece].name, look, asks[look], count / len(late))
        for (piece, look), count in counted.most_common(3)
    ]


def latest_good_start(
    shop: ShopWork, assumed: Assumed, job: str, due_s: float, *, want: float = 0.9, count: int = 200
) -> float | None:
    """The latest session in which you can start and still make the due date with a chance of
    ``want``.

    Args:
        shop: what there is to do.
        assumed: the assumptions of the trials.
        job: the job.
        due_s: when it is due.
        want: the chance you want.
        count: trials for each start considered.

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
