"""Your own times next to the recipe's, step by step: as text with a picture, and as a table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import exp, floor, log

from benchtimer.learn.cause_words import Cell, percent
from benchtimer.learn.estimates import DwellEstimate, Estimates, RateEstimate, TimeEstimate
from benchtimer.learn.observe import HANDS, Seen
from benchtimer.learn.posterior import LEVEL
from benchtimer.learn.significance import rank_sum_p
from benchtimer.plan.spread import spread_words
from benchtimer.quantity import show_number
from benchtimer.recipe.model import Recipe
from benchtimer.times import duration, rounded_s
from benchtimer.values import dataclass, field

HALF, EACH = 16, 8
"""Cells on each side of the recipe's time, and cells for twice or half of it."""
MARKS = " .:oO#"
"""Cells by how many times they hold: none, 1, 2, 3 to 4, 5 to 9, 10 or more."""
_FROM = (1, 2, 3, 5, 10)

NEW, LEAST_EACH = 8, 6
"""The newest times are compared with the earlier ones, if there are enough of both."""
TREND = 0.05
"""A change this unlikely by chance, or less, is reported."""


@dataclass(frozen=True, slots=True)
class TimesPage:
    """What to show about the times of a recipe.

    Attributes:
        recipe: the recipe.
        learned: what was learned of it.
        seconds: the newest hands-on times by step, oldest first.
    """

    recipe: Recipe
    learned: Estimates
    seconds: Mapping[str, Sequence[float]] = field(default_factory=dict)


def seconds_by_step(runs: Iterable[Sequence[Seen]], recipe: str, by: str) -> dict[str, list[float]]:
    """The hands-on times by step, in order of the runs.

    Args:
        runs: what each showed, oldest first.
        recipe: the recipe's id.
        by: whose times.
    """
    seconds: dict[str, list[float]] = {}
    for seen in runs:
        for one in seen:
            kind, _, step = one.key.partition("/")
            if kind == HANDS and (one.recipe, one.by) == (recipe, by):
                seconds.setdefault(step, []).append(exp(one.value))
    return seconds


def picture(seconds: Sequence[float], planned_s: float) -> str:
    """A row of cells from a quarter of the recipe's time to four times that, denser where there are
    more.

    The recipe's time is in the middle; times beyond that are in the last cell.
    """
    cells = Counter(_cell(each, planned_s) for each in seconds)
    marks = [MARKS[sum(cells[n] >= least for least in _FROM)] for n in range(2 * HALF + 1)]
    if marks[HALF] == " ":
        marks[HALF] = "|"
    return "".join(marks)


def _cell(seconds: float, planned_s: float) -> int:
    place = floor(EACH * log(seconds / planned_s, 2) + 0.5) + HALF
    return min(max(place, 0), 2 * HALF)


def trend(seconds: Sequence[float]) -> str:
    """A note if the newest times differ from the earlier ones; empty if chance alone
    explains it.
    """
    new, old = seconds[-NEW:], seconds[:-NEW]
    if min(len(new), len(old)) < LEAST_EACH:
        return ""
    chance = rank_sum_p(new, old)
    if chance > TREND:
        return ""
    before, now = (sorted(some)[len(some) // 2] for some in (old, new))
    word = "faster" if now < before else "slower"
    return (
        f"{word} than before: {_s(before)} then, {_s(now)} in the newest {len(new)} "
        f"({percent(chance)} by chance)"
    )


def times_text(page: TimesPage) -> str:
    """The times for reading."""
    return "\n".join(_lines(page))


def _lines(page: TimesPage) -> Iterator[str]:
    estimates, recipe = page.learned, page.recipe
    yield f"{recipe.title} [{recipe.id}]: times {estimates.words or '(no runs of your own yet)'}"
    if estimates.others:
        others = ", ".join(f"{name} ({count})" for name, count in estimates.others.items())
        yield f"Runs by other makers, not counted here: {others}. --by NAME shows them."
    if not estimates.runs:
        return
    yield f"yours (its {percent(LEVEL)} range), how many times; old runs count less"
    scale = "1/4".ljust(EACH) + "1/2".ljust(EACH) + "recipe".ljust(EACH) + "x 2".ljust(EACH) + "x 4"
    yield f"          {scale}"
    for step in recipe.step:
        hands, dwell = estimates.hands.get(step.id), estimates.dwells.get(step.id)
        if hands is None and dwell is None:
            continue
        yield ""
        yield f"{step.title} [{step.id}]"
        if hands is not None:
            yield f"  in hand {hands_words(hands)}"
            yield f"          {picture(page.seconds.get(step.id, ()), hands.planned_s)}".rstrip()
            changed = trend(page.seconds.get(step.id, ()))
            yield from [f"          {changed}"] if changed else []
        if dwell is not None:
            yield f"  dwell   {dwell_words(dwell)}"
        yield from (f"  check   {rate_words(r)}" for r in estimates.rates if r.step == step.id)
    yield from _bath_lines(page)
    yield ""
    yield f"Hands-on times spread by {estimates.spread:.2f}: {spread_words(estimates.spread)}."
    yield "The planner uses these automatically; plan --recipe-times ignores them."


def hands_words(estimate: TimeEstimate) -> str:
    """Such as ``4 min 10 s (3 min 40 s to 4 min 45 s), 14 times; recipe 3 min *``."""
    low_s, high_s = estimate.time.interval_s
    mark = " *" if estimate.clearly_differs else ""
    return (
        f"{_s(estimate.time.median_s)} ({_s(low_s)} to {_s(high_s)}), {_times(estimate.times)}; "
        f"recipe {duration(estimate.planned_s)}{mark}"
    )


def dwell_words(estimate: DwellEstimate) -> str:
    """How long parts stay, and how often that was too long or too short."""
    words = f"{_s(estimate.stay.time.median_s)}, {_times(estimate.stay.times)}"
    words += f"; target {duration(estimate.stay.planned_s)}"
    words += ", no max" if estimate.is_endless else ""
    words += f"; {estimate.overruns} overrun" if estimate.overruns else ""
    return words + (f"; {estimate.short} cut short" if estimate.short else "")


def rate_words(estimate: RateEstimate) -> str:
    """Such as ``even no: 2 of 14 looks, about 16% (6 to 31%); recipe 33%``."""
    low, high = estimate.rate.interval
    expected = "" if estimate.expected is None else f"; recipe {percent(estimate.expected)}"
    return (
        f"{estimate.check} {estimate.answer}: {estimate.hits} of {estimate.looks} looks, about "
        f"{percent(estimate.rate.value)} ({percent(low)} to {percent(high)}){expected}"
    )


def _bath_lines(page: TimesPage) -> Iterator[str]:
    for station, drift in page.learned.drifts.items():
        window = page.recipe.station_named(station).temperature
        every_s = window.every_s if window is not None else None
        yield ""
        yield f"{page.recipe.station_named(station).title} [{station}]"
        rate = f"  drifts {show_number(drift.c_per_min, 2)} C a minute"
        left = drift.minutes
        until = f": about {_s(60 * left)} from target to a limit" if left is not None else ""
        asked = f"; the recipe reads it every {duration(every_s)}" if every_s else ""
        yield f"{rate}{until}, from {drift.pairs} pairs of readings{asked}"


def _s(seconds: float) -> str:
    return duration(rounded_s(seconds))


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def times_table(page: TimesPage) -> dict[str, Cell]:
    """The times for programs."""
    estimates = page.learned
    return {
        "recipe": estimates.recipe,
        "by": estimates.by,
        "runs": estimates.runs,
        "runs_by_others": dict(estimates.others),
        "level": LEVEL,
        "spread": estimates.spread,
        "steps": [_step_row(page, step.id) for step in page.recipe.step],
        "rates": [_rate_row(rate) for rate in estimates.rates],
        "drifts": {
            station: {"pairs": d.pairs, "c_per_min": d.c_per_min, "minutes_to_limit": d.minutes}
            for station, d in estimates.drifts.items()
        },
    }


def _step_row(page: TimesPage, step: str) -> dict[str, Cell]:
    hands, dwell = page.learned.hands.get(step), page.learned.dwells.get(step)
    row: dict[str, Cell] = {"step": step, "hands": None, "dwell": None}
    if hands is not None:
        row["hands"] = {
            **_time_row(hands),
            "clearly_differs": hands.clearly_differs,
            "times_s": [round(each, 1) for each in page.seconds.get(step, ())],
        }
    if dwell is not None:
        row["dwell"] = {
            **_time_row(dwell.stay),
            "overruns": dwell.overruns,
            "too_short": dwell.short,
            "no_max": dwell.is_endless,
        }
    return row


def _time_row(estimate: TimeEstimate) -> dict[str, Cell]:
    low_s, high_s = estimate.time.interval_s
    return {
        "recipe_s": estimate.planned_s,
        "times": estimate.times,
        "median_s": estimate.time.median_s,
        "low_s": low_s,
        "high_s": high_s,
        "spread": estimate.time.spread,
    }


def _rate_row(estimate: RateEstimate) -> dict[str, Cell]:
    low, high = estimate.rate.interval
    return {
        "step": estimate.step, "check": estimate.check, "answer": estimate.answer,
        "recipe": estimate.expected, "looks": estimate.looks, "hits": estimate.hits,
        "rate": estimate.rate.value, "low": low, "high": high,
    }  # fmt: skip
