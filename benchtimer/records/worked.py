"""How each part came out in each run, for the shop's rates."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from benchtimer.job.order import split_identity
from benchtimer.learn.monthly_rates import Worked
from benchtimer.records.record import Record
from benchtimer.records.tries import WELL, tries_of


def worked_in(records: Iterable[Record], recipe: str | None = None) -> Iterator[Worked]:
    """Each part of each real run, oldest run first.

    Args:
        records: the runs, oldest first.
        recipe: only parts that followed this recipe.
    """
    seen: set[tuple[str, str]] = set()
    for record in records:
        for part in () if record.practice else record.parts:
            followed = record.recipes[part.recipe].id
            if recipe not in (None, followed):
                continue
            tries = tries_of(record, part)
            key = (followed, part.name.casefold())
            judged = part.verdict is not None
            job, job_part = split_identity(record.jobs.get(part.name, part.name))
            yield Worked(
                followed,
                record.created[:7],
                part.name,
                key not in seen,
                tries[-1].outcome == WELL if judged else None,
                len(tries),
                tuple(
                    (send.from_step, send.answer or "by hand")
                    for send in record.sent_back
                    if send.part == part.name
                ),
                part.hands_s,
                job,
                job_part,
            )
            seen.add(key)
