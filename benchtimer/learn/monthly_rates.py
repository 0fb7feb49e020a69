"""How the work comes out: send-backs, first-pass yield, hours by month and by job.

First-pass yield is the share of parts that were accepted at their first try, without being sent
back (a measure of quality practice, as in ISO 22400-2). Parts that were never judged count
nowhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from benchtimer.learn.cause_words import percent
from benchtimer.learn.posterior import RatePosterior, rate_posterior
from benchtimer.quantity import how_many
from benchtimer.times import duration, rounded_s
from benchtimer.values import dataclass

BAR = 20
"""The number of cells in a full bar."""


@dataclass(frozen=True, slots=True)
class Worked:
    """One part in one run.

    Attributes:
        recipe: the recipe's id, ``month`` such as ``2026-11``, ``part`` the part's name.
        is_first: whether it was its first run by this recipe.
        verdict: whether it was accepted in the end; None if it was never judged.
        tries: how many tries it had.
        sends: step and answer of each send-back.
        hands_s: hands-on time, s.
        job: the job its part belongs to; empty if it belongs to none.
        job_part: what the job calls the part.
    """

    recipe: str
    month: str
    part: str
    is_first: bool
    verdict: bool | None
    tries: int
    sends: tuple[tuple[str, str], ...]
    hands_s: float
    job: str = ""
    job_part: str = ""


@dataclass(frozen=True, slots=True)
class YieldRow:
    """First-pass yield of a recipe in a month, or in total (an empty month)."""

    recipe: str
    month: str
    first_pass: int
    judged: int

    @property
    def rate(self) -> RatePosterior:
        """The yield, with an interval."""
        return rate_posterior(self.first_pass, self.judged, None)


@dataclass(frozen=True, slots=True)
class SendRow:
    """How often one answer sent parts back, among this many parts of the recipe."""

    recipe: str
    step: str
    answer: str
    sends: int
    parts: int


@dataclass(frozen=True, slots=True)
class HoursRow:
    """Hands-on time of a recipe in a month, and its parts."""

    recipe: str
    month: str
    hands_s: float
    parts: int


@dataclass(frozen=True, slots=True)
class JobHoursRow:
    """Hands-on time of a job in all its runs, and how many of its parts were worked on."""

    job: str
    hands_s: float
    parts: int


@dataclass(frozen=True, slots=True)
class Rates:
    """The rates of a shop, most recent month or job first."""

    yields: tuple[YieldRow, ...]
    sends: tuple[SendRow, ...]
    hours: tuple[HoursRow, ...]
    job_hours: tuple[JobHoursRow, ...] = ()


def rates_of(worked: Sequence[Worked]) -> Rates:
    """Count how the parts came out, given oldest first."""
    months = sorted({each.month for each in worked}, reverse=True)
    recipes = sorted({each.recipe for each in worked})
    yields, hours = [], []
    for recipe in recipes:
        of = [each for each in worked if each.recipe == recipe]
        for month in ("", *months):
            some = [each for each in of if month in ("", each.month)]
            first = [each for each in some if each.is_first and each.verdict is not None]
            good = sum(each.verdict is True and each.tries == 1 for each in first)
            if first:
                yields.append(YieldRow(recipe, month, good, len(first)))
            begun = [each for each in some if each.hands_s > 0]  # the others are only set up
            if begun:
                hands_s = sum(each.hands_s for each in begun)
                hours.append(HoursRow(recipe, month, hands_s, len(begun)))
    return Rates(tuple(yields), tuple(_sends(worked)), tuple(hours), tuple(_job_hours(worked)))


def _job_hours(worked: Sequence[Worked]) -> Iterator[JobHoursRow]:
    for job in dict.fromkeys(each.job for each in reversed(worked) if each.job):
        of = [each for each in worked if each.job == job and each.hands_s > 0]
        if not of:
            continue
        yield JobHoursRow(job, sum(e.hands_s for e in of), len({e.job_part for e in of}))


def _sends(worked: Sequence[Worked]) -> Iterator[SendRow]:
    parts = Counter(each.recipe for each in worked)
    counts = Counter((each.recipe, *send) for each in worked for send in each.sends)
    for (recipe, step, answer), count in counts.most_common():
        yield SendRow(recipe, step, answer, count, parts[recipe])


def rates_text(rates: Rates) -> str:
    """The rates for reading."""
    return "\n".join(_lines(rates)) or "No part has finished a recipe yet."


def _lines(rates: Rates) -> Iterator[str]:
    if rates.yields:
        yield "FIRST-PASS YIELD: accepted on the first try"
        for row in rates.yields:
            low, high = row.rate.interval
            count = f"{row.first_pass} of {row.judged}"
            share = row.first_pass / row.judged
            name = row.recipe if not row.month else f"  {row.month}"
            yield f"{name:<24} {_bar(share)} {count:>9}  ({percent(low)} to {percent(high)})"
        yield ""
    if rates.sends:
        yield "SENT BACK: by step and answer"
        for send in rates.sends:
            name = f"{send.recipe}, {send.step}: {send.answer}"
            times = "once" if send.sends == 1 else f"{send.sends} times"
            yield f"  {name}: {times}, {how_many(send.parts, 'part')}"
        yield ""
    if rates.hours:
        yield "HANDS-ON TIME"
        for hour in rates.hours:
            name = hour.recipe if not hour.month else f"  {hour.month}"
            each = duration(rounded_s(hour.hands_s / hour.parts))
            whole = duration(rounded_s(hour.hands_s))
            yield f"{name:<24} {whole:>12}, {how_many(hour.parts, 'part')}, {each} each"
    if rates.job_hours:
        yield ""
        yield "HANDS-ON TIME BY JOB"
        for job in rates.job_hours:
            whole = duration(rounded_s(job.hands_s))
            yield f"{job.job:<24} {whole:>12}, {how_many(job.parts, 'part')}"


def _bar(share: float) -> str:
    full = round(BAR * share)
    return "#" * full + "." * (BAR - full)


def rates_table(rates: Rates) -> Mapping[str, object]:
    """The rates for programs."""
    return {
        "first_pass_yield": [
            {
                "recipe": row.recipe, "month": row.month or None,
                "first_pass": row.first_pass, "judged": row.judged,
                "low": row.rate.interval[0], "high": row.rate.interval[1],
            }
            for row in rates.yields
        ],
        "sent_back": [
            {
                "recipe": row.recipe, "step": row.step, "answer": row.answer,
                "sends": row.sends, "parts": row.parts,
            }
            for row in rates.sends
        ],
        "hands_on": [
            {
                "recipe": row.recipe, "month": row.month or None,
                "hands_s": round(row.hands_s, 1), "parts": row.parts,
            }
            for row in rates.hours
        ],
        "hands_on_by_job": [
            {"job": row.job, "hands_s": round(row.hands_s, 1), "parts": row.parts}
            for row in rates.job_hours
        ],
    }  # fmt: skip
