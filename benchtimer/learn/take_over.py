"""A recipe's next revision from what was learned: your hands-on times and check rates."""

from __future__ import annotations

from benchtimer.learn.estimates import Estimates, with_estimates
from benchtimer.quantity import show_number
from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Recipe
from benchtimer.times import duration, rounded_s
from benchtimer.values import dataclass

ENOUGH = 5
"""A step timed, or a check answered, less often than this changes no recipe."""


@dataclass(frozen=True, slots=True)
class TakenOver:
    """What a revision changes.

    Attributes:
        recipe: the recipe with the changes, not numbered yet.
        changed: each change with its source.
    """

    recipe: Recipe
    changed: tuple[str, ...]


def taken_over(recipe: Recipe, learned: Estimates) -> TakenOver:
    """The recipe with what clearly differs from it; windows are never touched.

    A time or a rate replaces the recipe's own if that is outside its interval.
    """
    mine = with_estimates(recipe, learned)
    changed: list[str] = []
    steps = []
    for step, new in zip(recipe.step, mine.step, strict=True):
        hands = learned.hands.get(step.id)
        hands_s = step.hands_s
        if hands is not None and hands.times >= ENOUGH and hands.clearly_differs:
            hands_s = rounded_s(new.hands_s)
            was, now = duration(step.hands_s), duration(hands_s)
            changed.append(f"{step.id}.hands: {was} -> {now} ({hands.times} times)")
        checks = tuple(
            _check(step.id, check, learned_check, learned, changed)
            for check, learned_check in zip(step.check, new.check, strict=True)
        )
        steps.append(step.model_copy(update={"hands_s": hands_s, "check": checks}))
    return TakenOver(recipe.model_copy(update={"step": tuple(steps)}), tuple(changed))


def _check(step: str, check: Check, mine: Check, learned: Estimates, changed: list[str]) -> Check:
    """A check with the rates that clearly differ; the changes are listed in ``changed``."""
    send = dict(check.send)
    for rate in learned.rates:
        if (rate.step, rate.check) != (step, check.id) or rate.answer not in send:
            continue
        low, high = rate.rate.interval
        if rate.looks < ENOUGH or rate.expected is None or low <= rate.expected <= high:
            continue
        expect = round(mine.send[rate.answer].expect, 3)
        was, now = (show_number(each, 3) for each in (send[rate.answer].expect, expect))
        source = f"{rate.hits} of {rate.looks} looks"
        changed.append(f"{step}.{check.id}.{rate.answer}.expect: {was} -> {now} ({source})")
        send[rate.answer] = send[rate.answer].model_copy(update={"expect": expect})
    return check.model_copy(update={"send": send})
