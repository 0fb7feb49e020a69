"""The whole life of a part: every run it was in, its attempts counted through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from benchtimer.quantity import show_duration
from benchtimer.records.attempts import Attempt, attempts_of
from benchtimer.records.card import counted
from benchtimer.records.inert import visible
from benchtimer.records.photos import photos_in
from benchtimer.records.record import Record


def life_of(records: Sequence[Record], name: str) -> list[Attempt]:
    """The attempts of a part in all its runs, in order.

    Args:
        records: the runs it was in, the oldest first.
        name: the part's name, or what it is called in the log if it belongs to a job, such as
            ``petty knife/bolster``; capitals make no difference.
    """
    folded = name.casefold()
    return [
        attempt
        for record in records
        for part in record.parts
        if folded in (part.name.casefold(), called(record, part.name).casefold())
        for attempt in attempts_of(record, part)
    ]


def called(record: Record, name: str) -> str:
    """What a part of a run is called in the log: with its job, if it has one."""
    return record.jobs.get(name, name)


def lives_of(attempts: Sequence[Attempt]) -> dict[str, list[Attempt]]:
    """The attempts of each life: two bolsters of two jobs are two."""
    lives: dict[str, list[Attempt]] = {}
    spelled: dict[str, str] = {}
    for attempt in attempts:
        name = called(attempt.record, attempt.part.name)
        lives.setdefault(spelled.setdefault(name.casefold(), name), []).append(attempt)
    return lives


def life_table(attempts: Sequence[Attempt], name: str) -> dict[str, Any]:
    """The life of a part for programs."""
    return {"part": name, "attempts": [_table(n, a) for n, a in enumerate(attempts, start=1)]}


def life_text(attempts: Sequence[Attempt]) -> str:
    """The life of a part for reading; of each part of that name, if jobs have several."""
    lives = ("\n".join(_lines(mine, name)) for name, mine in lives_of(attempts).items())
    return visible("\n\n".join(lives))


def _table(number: int, attempt: Attempt) -> dict[str, Any]:
    table = attempt.record.recipes[attempt.part.recipe]
    return {
        "attempt": number,
        "of": called(attempt.record, attempt.part.name),
        "run": attempt.record.run,
        "in_run": attempt.number,
        "date": attempt.record.created,
        "recipe": attempt.part.recipe,
        "revision": table.get("revision", 1),
        "outcome": attempt.outcome,
        "words": attempt.words,
        "hands_s": _hands_s(attempt),
    }


def _lines(attempts: Sequence[Attempt], name: str) -> Iterator[str]:
    runs = list(dict.fromkeys(a.record.run for a in attempts))
    tries = "1 try" if len(attempts) == 1 else f"{len(attempts)} tries"
    yield f"{name}: {tries} in {counted(len(runs), 'run')}"
    total = 0.0
    for number, attempt in enumerate(attempts, start=1):
        record = attempt.record
        if attempt.number == 1:
            revision = record.recipes[attempt.part.recipe].get("revision", 1)
            yield ""
            practice = "  PRACTICE" if record.practice else ""
            yield f"{record.run}  {record.created[:10]}{practice}"
            yield f"  {attempt.recipe.title}, revision {revision}"
            yield from (f"  adjusted: {text}" for text in record.adjustments)
        hands_s = _hands_s(attempt)
        total += hands_s
        yield f"  try {number}: {attempt.words}; hands-on {show_duration(round(hands_s))}"
        yield from _said(attempt)
    yield ""
    yield f"hands-on in all: {show_duration(round(total))}"


def _said(attempt: Attempt) -> Iterator[str]:
    """Notes about the part in this attempt; photos by their path."""
    for note in attempt.record.notes:
        mine = note.get("part") == attempt.part.name
        late = attempt.number == attempt.of and note["elapsed_s"] >= attempt.began_s
        if mine and (late or attempt.began_s <= note["elapsed_s"] < attempt.until_s):
            yield f"    {note['at'][:16].replace('T', ' ')}  {' '.join(note['text'].split())}"
    if attempt.number == attempt.of:
        count = sum(who == attempt.part.name for who, _ in photos_in(attempt.record))
        yield from [f"    {count} photos"] if count > 1 else []


def _hands_s(attempt: Attempt) -> float:
    inside = (
        v.hands_s or 0.0
        for v in attempt.part.visits
        if attempt.began_s <= (v.began_s or 0) < attempt.until_s
    )
    return round(sum(inside), 3)
