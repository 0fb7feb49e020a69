"""Finding tries by their outcome. A try is a part's work up to a verdict or a far send-back.

You give a verdict to a part when its work is over. A try that failed inside a run, such as a
darkening that was sent back, has none. It is found here and not by ``--verdict``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

from benchtimer.records.inert import visible
from benchtimer.records.record_lookup import record_of
from benchtimer.records.tries import OUTCOMES, Try, tries_of
from benchtimer.store.index import Query, fold_text
from benchtimer.store.log import EventLog

SENT_BACK = "sent-back"
"""A try that a check of its own run sent back."""

MOST_RUNS = 1000
"""How many of the newest runs are searched. Each one is read, since no index lists tries."""


def list_tries(log: EventLog, query: Query, outcome: str, limit: int) -> list[Try]:
    """The newest tries with an outcome, those of the newest run first.

    Args:
        log: the log of the bench.
        query: what their runs must have; a part, a recipe and a verdict must be the try's own.
        outcome: one of ``tries.OUTCOMES``, ``SENT_BACK``, or a verdict.
        limit: how many.
    """
    return list(islice(_tries(log, query, outcome), limit))


def _tries(log: EventLog, query: Query, outcome: str) -> Iterator[Try]:
    for run in log.find(query, MOST_RUNS):
        record = record_of(log, run.name)
        for part in record.parts:
            for one in tries_of(record, part):
                if _came_out(one, outcome) and _is_of(one, query):
                    yield one


def _came_out(one: Try, outcome: str) -> bool:
    if outcome in OUTCOMES:
        return one.outcome == outcome
    if outcome == SENT_BACK:
        return one.failed_at is not None
    return one.number == one.of and one.part.verdict == outcome


def _is_of(one: Try, query: Query) -> bool:
    part = one.part
    recipes = (part.recipe, one.recipe.id)
    judged = (part.verdict or "",) if one.number == one.of else ("",)
    asked = ((query.part, (part.name,)), (query.recipe, recipes), (query.verdict, judged))
    return all(text is None or _fits(text, names) for text, names in asked)


def _fits(asked: str, names: Sequence[str]) -> bool:
    """Whether one of some names is the one asked for, or begins so where it ends in a star."""
    wanted = fold_text(asked.removesuffix("*"))
    folded = [fold_text(name) for name in names]
    return (
        any(name.startswith(wanted) for name in folded)
        if asked.endswith("*")
        else (wanted in folded)
    )


def tries_table(tries: Sequence[Try]) -> list[dict[str, str | int]]:
    """Tries for programs."""
    return [
        {
            "run": one.record.run,
            "part": one.part.name,
            "try": one.number,
            "tries": one.of,
            "recipe": one.part.recipe,
            "date": one.record.created,
            "outcome": one.outcome,
            "words": one.words,
            **({"failed_at": one.failed_at} if one.failed_at is not None else {}),
        }
        for one in tries
    ]


def tries_text(tries: Sequence[Try]) -> str:
    """Tries for reading, a line each."""
    lines = (
        f"{one.record.created[:10]}  {one.outcome:<6}  {one.name}  {one.part.recipe}: "
        f"{' '.join(one.words.split())}"
        for one in tries
    )
    return visible("\n".join(lines))
