"""What was learned about all recipes of a run, ready for the planner."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import sqrt

from benchtimer.learn.estimates import Estimates, with_estimates
from benchtimer.plan.spread import SPREAD
from benchtimer.recipe.model import Recipe
from benchtimer.times import duration, rounded_s
from benchtimer.values import dataclass, field

ENOUGH = 3
"""A step timed less often has no usual time yet."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned about the recipes of a run.

    Attributes:
        estimates: by the recipe's key in the run.
        by_hand: by the same key, the steps whose hands-on time was set for this run.
    """

    estimates: Mapping[str, Estimates] = field(default_factory=dict)
    by_hand: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        """Whether any run taught anything."""
        return any(each.runs for each in self.estimates.values())

    def applied(self, recipes: Mapping[str, Recipe]) -> dict[str, Recipe]:
        """The recipes with your own times and rates; a time set for this run stays."""
        return {
            key: with_estimates(recipe, self.estimates[key], self.by_hand.get(key, frozenset()))
            if key in self.estimates
            else recipe
            for key, recipe in recipes.items()
        }

    @property
    def spread(self) -> float:
        """The spread of the hands-on times, with each recipe weighted by how often it was timed."""
        timed = [
            (sum(step.times for step in each.hands.values()), each.spread)
            for each in self.estimates.values()
        ]
        total = sum(times for times, _ in timed)
        if not total:
            return SPREAD
        return round(sqrt(sum(times * spread**2 for times, spread in timed) / total), 3)

    @property
    def looks(self) -> dict[str, int]:
        """How often each check got each answer, by ``recipe/step/check``."""
        return {
            f"{each.recipe}/{rate.step}/{rate.check}": rate.looks
            for each in self.estimates.values()
            for rate in each.rates
        }

    def usual(self, key: str, steps: Sequence[str]) -> str:
        """How long steps usually take you, such as ``you: 4 min 10 s``; empty if not known.

        Args:
            key: of the recipe in the run.
            steps: their ids.
        """
        estimates = self.estimates.get(key)
        hands = [estimates.hands.get(step) for step in steps] if estimates is not None else []
        known = [one.time.median_s for one in hands if one is not None and one.times >= ENOUGH]
        if not known or len(known) < len(steps):
            return ""
        return f"you: {duration(rounded_s(sum(known)))}"

    def as_dict(self) -> dict[str, int]:
        """JSON form: how many runs taught something, by recipe."""
        return {each.recipe: each.runs for each in self.estimates.values() if each.runs}

    @property
    def words(self) -> str:
        """The times behind the plan, on one line; empty without a run."""
        learned = [each for each in self.estimates.values() if each.runs]
        if not learned:
            return ""
        if len(learned) == 1:
            return f"hands-on times and rates of checks {learned[0].words}"
        named = ", ".join(f"{each.runs} of {each.recipe}" for each in learned)
        return f"hands-on times and rates of checks from your runs: {named}"


NOTHING = Learned()
"""Nothing learned: use the recipes' own times."""


def hands_set(adjustments: Iterable[str]) -> dict[str, frozenset[str]]:
    """The steps whose hands-on time a run's adjustments set, by recipe key.

    Args:
        adjustments: text such as ``hot-black: scrub.hands = 2 min``.
    """
    found: dict[str, set[str]] = {}
    for text in adjustments:
        key, _, change = text.partition(": ")
        entry, _, field_name = change.partition(" = ")[0].rpartition(".")
        if field_name == "hands":
            found.setdefault(key, set()).add(entry)
    return {key: frozenset(steps) for key, steps in found.items()}
