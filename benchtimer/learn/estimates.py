"""What the shop has learned about one recipe: times, check rates, drift of baths.

The planner, the trials and the rehearsal use it through ``with_estimates``: the recipe with your
own hands-on times and failure rates instead of the file's.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from math import sqrt

from benchtimer.learn.observe import ANSWER, DRIFT, DWELL, HANDS, LOOK, OVERRUN, RUN, SHORT
from benchtimer.learn.posterior import (
    PRIOR_WEIGHT,
    RatePosterior,
    Time,
    TimeSums,
    rate_posterior,
    time_posterior,
)
from benchtimer.learn.sums import OWN, Group, Weighed, weighed
from benchtimer.plan.spread import SPREAD
from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Recipe, Step
from benchtimer.values import dataclass, field

MOST_EXPECTED = 20.0
"""The limit on sends by one answer in a rate; the planner adds a step for each."""


LEAST_APART, LEAST_APART_S = 0.1, 2.0
"""A time within a tenth of the recipe's, or within this many seconds, counts as the same."""


@dataclass(frozen=True, slots=True)
class TimeEstimate:
    """One time of a step.

    Attributes:
        planned_s: what the recipe says.
        times: how often it was timed.
        time: the estimate.
    """

    planned_s: int
    times: int
    time: Time

    @property
    def clearly_differs(self) -> bool:
        """Whether the recipe's time is outside the interval, and by enough to mention."""
        apart_s = abs(self.time.median_s - self.planned_s)
        if apart_s <= max(LEAST_APART_S, LEAST_APART * self.planned_s):
            return False
        low_s, high_s = self.time.interval_s
        return not low_s <= self.planned_s <= high_s


@dataclass(frozen=True, slots=True)
class DwellEstimate:
    """How long parts stay in the dwell of a step.

    Attributes:
        stay: the time, with the recipe's target.
        overruns: how often it was past its max, and ``short`` under its min.
        is_endless: the recipe sets no max, as for cooling or drying.
    """

    stay: TimeEstimate
    overruns: int
    short: int
    is_endless: bool


@dataclass(frozen=True, slots=True)
class RateEstimate:
    """How often a check gets one answer.

    Attributes:
        step: id of the step that asks, and ``check`` of the check.
        answer: the answer.
        expected: the share the recipe expects; None if it doesn't say.
        looks: how often the check was answered.
        hits: how many times this was the answer.
        rate: the estimated share.
    """

    step: str
    check: str
    answer: str
    expected: float | None
    looks: int
    hits: int
    rate: RatePosterior


@dataclass(frozen=True, slots=True)
class DriftEstimate:
    """How fast a bath drifts, up or down.

    Attributes:
        pairs: the number of pairs of readings behind it.
        c_per_min: degrees C a minute.
        minutes: until it has drifted from its target to the nearer limit; None if the recipe
            gives no window.
    """

    pairs: int
    c_per_min: float
    minutes: float | None


@dataclass(frozen=True, slots=True)
class Estimates:
    """What was learned about a recipe.

    Attributes:
        recipe: its id.
        by: whose times.
        runs: how many runs taught something.
        hands: by step, for every timed step.
        dwells: by step, without places where a part only waits.
        rates: of every answer that sends a part or is a bad result, in the order of the work.
        drifts: by station.
        spread: of the hands-on times, all steps together.
        others: runs by other makers, by name.
    """

    recipe: str
    by: str
    runs: int = 0
    hands: Mapping[str, TimeEstimate] = field(default_factory=dict)
    dwells: Mapping[str, DwellEstimate] = field(default_factory=dict)
    rates: tuple[RateEstimate, ...] = ()
    drifts: Mapping[str, DriftEstimate] = field(default_factory=dict)
    spread: float = SPREAD
    others: Mapping[str, int] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """The source of the times, such as "from your 14 runs"; empty without a run."""
        if not self.runs:
            return ""
        return "from your 1 run" if self.runs == 1 else f"from your {self.runs} runs"


def estimate(
    recipe: Recipe,
    sums: Mapping[str, Group],
    now_ms: int,
    by: str,
    sources: Collection[str] = (OWN,),
) -> Estimates:
    """What a recipe's sums say about it.

    Args:
        recipe: the recipe as it is planned.
        sums: what its runs taught, by source and maker.
        now_ms: now, by the wall clock.
        by: whose times to use; runs by others are only counted.
        sources: which runs count: ``OWN``, ``PRACTICE``, ``IMPORTED``.
    """
    rows = _Rows(sums, now_ms, by, sources)
    hands = {s.id: found for s in recipe.step if (found := _hands(rows, s)) is not None}
    return Estimates(
        recipe.id,
        by,
        rows.of(RUN).times,
        hands,
        {s.id: stays for s in recipe.step if (stays := _dwell(rows, s)) is not None},
        tuple(rate for s in recipe.step for check in s.check for rate in _rates(rows, s.id, check)),
        dict(_drifts(rows, recipe)),
        _spread(rows, hands),
        rows.others(),
    )


class _Rows:
    """The sums that count for one maker."""

    def __init__(
        self, sums: Mapping[str, Group], now_ms: int, by: str, sources: Collection[str]
    ) -> None:
        self._now_ms, self._by = now_ms, by
        self._groups: dict[str, list[Group]] = {}
        for who, group in sums.items():
            source, _, name = who.partition("\t")
            if source in sources:
                self._groups.setdefault(name, []).append(group)

    def of(self, key: str, *, by: str | None = None) -> Weighed:
        groups = self._groups.get(self._by if by is None else by, ())
        return weighed((group[key] for group in groups if key in group), self._now_ms)

    def keys(self, beginning: str) -> list[str]:
        """The keys that begin with a text, in order."""
        groups = self._groups.get(self._by, ())
        return sorted({key for group in groups for key in group if key.startswith(beginning)})

    def others(self) -> dict[str, int]:
        names = sorted(name for name in self._groups if name not in ("", self._by))
        return {name: self.of(RUN, by=name).times for name in names}


def _time_sums(row: Weighed) -> TimeSums:
    return TimeSums(row.count, row.total, row.squares)


def _hands(rows: _Rows, step: Step) -> TimeEstimate | None:
    row = rows.of(f"{HANDS}/{step.id}")
    return _time(row, step.hands_s) if row.times else None


def _dwell(rows: _Rows, step: Step) -> DwellEstimate | None:
    row, dwell = rows.of(f"{DWELL}/{step.id}"), step.dwell
    if dwell is None or dwell.target_s == 0 or not row.times:
        return None
    overruns, short = (rows.of(f"{kind}/{step.id}").times for kind in (OVERRUN, SHORT))
    return DwellEstimate(_time(row, dwell.target_s), overruns, short, dwell.max_s is None)


def _time(row: Weighed, planned_s: int) -> TimeEstimate:
    return TimeEstimate(planned_s, row.times, time_posterior(_time_sums(row), planned_s))


def _spread(rows: _Rows, steps: Mapping[str, TimeEstimate]) -> float:
    """The spread of all steps together, each about its own mean."""
    squares, freedom = PRIOR_WEIGHT * SPREAD**2, PRIOR_WEIGHT
    for step in steps:
        row = rows.of(f"{HANDS}/{step}")
        squares += _time_sums(row).off_square
        freedom += max(0.0, row.count - 1)
    return sqrt(squares / freedom)


def _rates(rows: _Rows, step: str, check: Check) -> Iterator[RateEstimate]:
    name = f"{step}/{check.id}"
    looks = rows.of(f"{LOOK}/{name}")
    if not looks.times:
        return
    beginning = f"{ANSWER}/{name}/"
    said = [key.removeprefix(beginning) for key in rows.keys(beginning)]
    for answer in dict.fromkeys([*check.send, *said]):
        hits = rows.of(beginning + answer)
        expected = check.chance(answer) if answer in check.send else None
        found = rate_posterior(hits.count, looks.count, expected)
        yield RateEstimate(step, check.id, answer, expected, looks.times, hits.times, found)


def _drifts(rows: _Rows, recipe: Recipe) -> Iterator[tuple[str, DriftEstimate]]:
    for station in recipe.station:
        row = rows.of(f"{DRIFT}/{station.id}", by="")
        if not row.times:
            continue
        window, c_per_min = station.temperature, row.total / row.count
        minutes = None
        if window is not None and c_per_min > 0:
            low, high = window.min.base, window.max.base
            target = window.target.base if window.target is not None else (low + high) / 2
            minutes = min(target - low, high - target) / c_per_min
        yield station.id, DriftEstimate(row.times, c_per_min, minutes)


def with_estimates(recipe: Recipe, learned: Estimates, by_hand: Collection[str] = ()) -> Recipe:
    """The recipe with your own hands-on times and failure rates; its windows stay as they are.

    A dwell is never changed: its limits are the recipe's, and how long a part stayed shows when you
    came, not when it was ready. If a check decides, its rate has what was learned.

    Args:
        recipe: the recipe of the file.
        learned: what was learned about it.
        by_hand: steps whose hands-on time was set for this run; these stay.
    """
    rates: dict[tuple[str, str], dict[str, float]] = {}
    for rate in learned.rates:
        if rate.expected is not None:
            rates.setdefault((rate.step, rate.check), {})[rate.answer] = rate.rate.value
    steps = []
    for step in recipe.step:
        hands = learned.hands.get(step.id) if step.id not in by_hand else None
        hands_s = step.hands_s if hands is None else max(1, round(hands.time.median_s))
        checks = tuple(
            _expecting(check, rates.get((step.id, check.id), {})) for check in step.check
        )
        steps.append(step.model_copy(update={"hands_s": hands_s, "check": checks}))
    return recipe.model_copy(update={"step": tuple(steps)})


def _expecting(check: Check, rates: Mapping[str, float]) -> Check:
    """The check with ``expect`` set so that each answer comes with its rate."""
    if not rates:
        return check
    others = 1 - sum(rates.values())
    send = {
        answer: send
        if answer not in rates
        else send.model_copy(update={"expect": _expect(rates[answer], others, send.limit)})
        for answer, send in check.send.items()
    }
    return check.model_copy(update={"send": send})


def _expect(rate: float, others: float, limit: int | None) -> float:
    most = min(MOST_EXPECTED, limit if limit is not None else MOST_EXPECTED)
    return min(most, rate / others) if others > 0 else most
