"""The tries that count when causes are looked for: sent back, accepted or rejected.

A try that was never judged doesn't count, nor does a part that was scrapped for some other reason.
For a try that a step sent back, only facts from before that step count: the answer that sent it
back is the outcome itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from benchtimer.learn.causes import TryFacts
from benchtimer.learn.fact import Facts
from benchtimer.records.facts import facts_of
from benchtimer.records.record import Record
from benchtimer.records.tries import FAILED, Try, tries_of


def tries_that_count(
    records: Iterable[Record], recipe: str, part: str | None = None, *, practice: bool = False
) -> list[TryFacts]:
    """The tries of a recipe that count, oldest first.

    Args:
        records: the runs, oldest first.
        recipe: the recipe's id.
        part: only parts of this name; capitals make no difference.
        practice: whether practice counts.
    """
    attempts = [
        attempt
        for record in records
        if practice or not record.practice
        for each in record.parts
        if part is None or each.name.casefold() == part.casefold()
        for attempt in _of_recipe(record, each.name, recipe)
    ]
    senders = {key for attempt in attempts for key in _senders(attempt)}
    return [
        TryFacts(a.name, a.record.run, a.outcome == FAILED, _before_outcome(a, senders))
        for a in attempts
        if counts(a)
    ]


def _of_recipe(record: Record, name: str, recipe: str) -> Iterator[Try]:
    part = record.part(name)
    if part is not None and recipe in (part.recipe, record.recipes[part.recipe].id):
        yield from tries_of(record, part)


def counts(attempt: Try) -> bool:
    """Whether a try was sent back, accepted or rejected."""
    is_last = attempt.number == attempt.of
    return attempt.failed_at is not None or (is_last and attempt.part.verdict is not None)


def _senders(attempt: Try) -> Iterator[str]:
    """The checks that may have sent a try back, by the keys that facts use."""
    if attempt.failed_at is None:
        return
    step = attempt.recipe.step[attempt.recipe.step_index(attempt.failed_at)]
    yield from (f"{step.id}/{check.id}" for check in step.check if check.send)


def _before_outcome(attempt: Try, senders: set[str]) -> Facts:
    """The facts of a try before its outcome was seen, without the checks that sent any try back."""
    failed_at = attempt.failed_at
    end = attempt.recipe.step_index(failed_at) if failed_at is not None else None
    return {
        (kind, key): fact
        for (kind, key), fact in facts_of(attempt).items()
        if (end is None or fact.place < end) and not (kind != "passes" and key in senders)
    }
