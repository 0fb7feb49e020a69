"""Simulated shops: tries with random facts, with or without a planted cause.

python -m tests.learn.shops            # the campaign, as a table
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from random import Random

from benchtimer.learn.causes import ALPHA, TryFacts, find_causes
from benchtimer.learn.fact import Fact, Facts

FEW, MANY = (6, 6), (12, 9)
"""Figures and choices of a shop. A bench that darkens blades in the tests has 9 facts that vary
over 10 tries; 21 is a long list."""

WITH, WITHOUT = 0.8, 0.1
"""Chance of failure with the planted cause and without it."""


@dataclass(frozen=True)
class Planted:
    """What makes tries fail in a shop.

    Attributes:
        key: the fact, or None for no cause.
        is_figure: whether it is a figure above its middle; otherwise a choice.
    """

    key: tuple[str, str] | None
    is_figure: bool = False


def shop(
    rng: Random,
    tries: int,
    *,
    cause: bool = True,
    values: int = 2,
    size: tuple[int, int] = MANY,
) -> tuple[list[TryFacts], Planted]:
    """The tries of a shop. Half of them have the cause: a figure above its middle, or one of two
    ways; with more ways, one of those.

    Args:
        rng: the random source.
        tries: how many.
        cause: whether a fact makes tries fail; otherwise one in three fails for no reason.
        values: how many ways the choice with the cause has.
        size: the number of figures and of choices.
    """
    figures, choices = size
    is_figure = values == 2 and rng.random() < 0.5
    number = rng.randrange(figures) if is_figure else values - 2 + 3 * rng.randrange(choices // 3)
    kind = ("reading", f"figure {number}") if is_figure else ("answer", f"choice {number}")
    planted = Planted(kind if cause else None, is_figure)
    found = []
    for index in range(tries):
        facts = _facts(rng, figures, choices)
        bad = _has(facts, planted)
        chance = 1 / 3 if planted.key is None else WITH if bad else WITHOUT
        name = f"run {index}"
        found.append(TryFacts(name, name, rng.random() < chance, facts))
    return found, planted


def _facts(rng: Random, figures: int, choices: int) -> Facts:
    facts: Facts = {}
    for number in range(figures):
        value = round(rng.gauss(25, 5), 1)
        label = f"figure {number}"
        facts["reading", label] = Fact("reading", label, f"{value} C", 0, value)
    for number in range(choices):
        label, options = f"choice {number}", 2 + number % 3
        facts["answer", label] = Fact("answer", label, f"way {rng.randrange(options)}", 0)
    return facts


def _has(facts: Facts, planted: Planted) -> bool:
    if planted.key is None:
        return False
    fact = facts[planted.key]
    return (fact.number or 0) > 25 if planted.is_figure else fact.shown == "way 0"


def rank_of_cause(rng: Random, tries: int, values: int = 2, size: tuple[int, int] = MANY) -> int:
    """The rank of the planted cause in one shop, from 1; last if it never varied."""
    found, planted = shop(rng, tries, values=values, size=size)
    causes = find_causes(found).causes
    assert planted.key is not None
    places = (n for n, c in enumerate(causes, 1) if planted.key[1] in (c.label, *c.same_as))
    return next(places, len(causes) + 1)


def false_alarm(rng: Random, tries: int) -> bool:
    """Whether a shop without a cause shows a clear one."""
    found, _ = shop(rng, tries, cause=False)
    return any(cause.corrected <= ALPHA for cause in find_causes(found).causes)


def campaign(shops: int, empty: int, seed: int = 1) -> str:
    """The table: ranks of planted causes, and false alarms, by number of tries."""
    lines = ["| tries | facts | the cause is in | shops | ranked first | in the first three |"]
    lines.append("|---:|---:|---|---:|---:|---:|")
    rows = [(tries, 2, size) for size in (FEW, MANY) for tries in (8, 12, 16, 24, 40)]
    rows += [(24, values, size) for size in (FEW, MANY) for values in (3, 4)]
    for tries, values, size in rows:
        rngs = (Random(seed * 10_000 + n) for n in range(shops))
        ranks = [rank_of_cause(rng, tries, values, size) for rng in rngs]
        first, three = (sum(rank <= most for rank in ranks) / shops for most in (1, 3))
        cells = (tries, sum(size), f"1 of {values}", shops, f"{first:.1%}", f"{three:.1%}")
        lines.append(f"| {' | '.join(map(str, cells))} |")
    lines += ["", "| tries | shops without a cause | false alarms | stated |"]
    lines.append("|---:|---:|---:|---:|")
    for tries in (12, 24, 40):
        alarms = sum(false_alarm(Random(seed * 20_000 + n), tries) for n in range(empty))
        lines.append(f"| {tries} | {empty} | {alarms / empty:.1%} | at most {ALPHA:.0%} |")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(campaign(200, 1000) + "\n")
