"""The chances of a plan in words, the same on the screen and on the command line."""

from __future__ import annotations

from collections.abc import Callable

from benchtimer.plan.outcome import Outcome
from benchtimer.plan.plan_words import chance_words, percent
from benchtimer.plan.problem import ENDLESS_S
from benchtimer.plan.risk import Batch, LateRunCause, Risk
from benchtimer.plan.spread import spread_words
from benchtimer.times import duration

CHECKS = "checks: as planned; these chances leave out a part sent back more often"
CHECKS_DRAWN = "checks: each fails by chance, at your own rates or the recipe's expect"
MOST_DWELLS = 10
"""How many dwells are shown, worst first."""


def of_trials(risk: Risk, share: float) -> str:
    """A share of the trials as a chance: ``12% (48 of 400 trials)``."""
    return chance_words(round(share * risk.trials), risk.trials)


def risk_lines(
    risk: Risk, at: Callable[[int], str], step: Callable[[str, str], str] = lambda _, step: step
) -> list[str]:
    """The results of the trials, one per line.

    Args:
        risk: the chances.
        at: writes a time of the plan.
        step: the name of a part's step, from the part and the step's id.
    """
    lines = [
        f"hands-on times: spread {risk.spread:g}, {spread_words(risk.spread)}",
        CHECKS if risk.planned_s is None else CHECKS_DRAWN,
        f"chance of an overrun: {of_trials(risk, risk.any_overrun)}",
    ]
    for dwell in risk.dwells[:MOST_DWELLS]:
        where = f"{dwell.part}, {step(dwell.part, dwell.step)} in {dwell.station}"
        by = duration(round(dwell.mean_overrun_s))
        lines.append(f"  {where}: {percent(dwell.chance)}, by {by} on average")
    if risk.past_hours is not None:
        lines.append(f"chance of work past the hours: {of_trials(risk, risk.past_hours)}")
    for closing in risk.closings:
        by = duration(round(closing.mean_past_s))
        lines.append(
            f"  past {at(closing.closes_s)}: {percent(closing.chance)}, by {by} on average"
        )
    lines += _sent_back(risk)
    lines.append(_ends(risk, at) if risk.planned_s is None else ends_words(risk, at))
    lines += [f"  {_cause(cause)}" for cause in risk.causes]
    tip = risk.earlier
    if tip is not None:
        what = f"begin {tip.part}, {step(tip.part, tip.step)} {duration(tip.by_s)} earlier"
        before, after = percent(tip.chance_before), percent(tip.chance_after)
        lines.append(f"{what}: the chance of an overrun falls from {before} to {after}")
    return lines


def _sent_back(risk: Risk) -> list[str]:
    """What happens to parts that can't continue."""
    lines = []
    if risk.put_back:
        lines.append(
            f"chance that a part must repeat earlier steps because its pull was missed or fell "
            f"outside your hours: {of_trials(risk, risk.put_back)}"
        )
    if risk.stopped:
        lines.append(
            f"chance that a check stops a part for good: "
            f"{of_trials(risk, risk.stopped)}; the times below leave out these trials"
        )
    return lines


def ends_words(risk: Risk, at: Callable[[int], str]) -> str:
    """When the run is done: as planned, and by when in 10%, 50% and 90% of the trials.

    Args:
        risk: the chances, from trials that draw the checks.
        at: writes a time of the plan.
    """
    planned = f"done {at(risk.planned_s)} if nothing fails; " if risk.planned_s else ""
    shares = zip((10, 50, 90), risk.ends_s, strict=True)
    return planned + ", ".join(
        f"{share}% by {at(end_s)}"
        if end_s < ENDLESS_S
        else f"{share}% past the days the planner looks ahead"
        for share, end_s in shares
    )


def late_words(risk: Risk) -> str:
    """The check that most often makes the run late; empty if none does."""
    if not risk.causes:
        return ""
    return f"most often late because {_sent(risk.causes[0])}"


def _cause(cause: LateRunCause) -> str:
    return f"late because {_sent(cause)}: {percent(cause.share)} of the late trials"


def _sent(cause: LateRunCause) -> str:
    return f'{cause.part} is sent back at "{cause.ask}"'


def _ends(risk: Risk, at: Callable[[int], str]) -> str:
    _, half_s, late_s = risk.ends_s
    shares = ((half_s, "half of the trials"), (late_s, "9 of 10"))
    ends = [f"by {at(end_s)} in {share}" for end_s, share in shares if end_s < ENDLESS_S]
    if late_s >= ENDLESS_S:
        ends.append("the rest run past the days the planner looks ahead")
    return f"done {', '.join(ends)}"


def batch_lines(batch: Batch, limit: float) -> list[str]:
    """How many parts keep a limit, and what one more would do."""
    lines = [f"parts at once with a chance of {100 * limit:g}% or less: {batch.count}"]
    if batch.risk is not None:
        lines.append(f"  {batch.count}: {_both(batch.risk)}")
    if isinstance(batch.more, Risk):
        lines.append(f"  {batch.count + 1}: {_both(batch.more)}")
    elif isinstance(batch.more, Outcome):
        lines.append(f"  {batch.count + 1}: {batch.more.verdict}")
    else:
        lines.append("  no larger number was tried")
    return lines


def _both(risk: Risk) -> str:
    words = f"overrun {of_trials(risk, risk.any_overrun)}"
    if risk.past_hours is None:
        return words
    return f"{words}, past the hours {of_trials(risk, risk.past_hours)}"
