"""All work on a part: every run it was in, with its tries numbered across them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchtimer.quantity import how_many
from benchtimer.records.inert import visible
from benchtimer.records.photos import photos_in
from benchtimer.records.record import Record
from benchtimer.records.tries import Try, tries_of
from benchtimer.times import duration


def life_of(records: Sequence[Record], name: str) -> list[Try]:
    """The tries of a part in all its runs, in order.

    Args:
        records: the runs it was in, oldest first.
        name: the part's name, or its name in the log if it belongs to a job, such as ``petty
            knife/bolster``; capitals make no difference.
    """
    folded = name.casefold()
    return [
        one
        for record in records
        for part in record.parts
        if folded in (part.name.casefold(), called(record, part.name).casefold())
        for one in tries_of(record, part)
    ]


def called(record: Record, name: str) -> str:
    """The name of a run's part in the log: with its job, if it has one."""
    return record.jobs.get(name, name)


def lives_of(tries: Sequence[Try]) -> dict[str, list[Try]]:
    """The tries of each part: the bolsters of two jobs are two parts."""
    lives: dict[str, list[Try]] = {}
    spelled: dict[str, str] = {}
    for one in tries:
        name = called(one.record, one.part.name)
        lives.setdefault(spelled.setdefault(name.casefold(), name), []).append(one)
    return lives


def life_table(tries: Sequence[Try], name: str) -> dict[str, object]:
    """All work on a part, for programs."""
    return {"part": name, "tries": [_table(n, a) for n, a in enumerate(tries, start=1)]}


def life_text(tries: Sequence[Try]) -> str:
    """All work on a part, as text; on each part with that name, if jobs have several."""
    lives = ("\n".join(_lines(mine, name)) for name, mine in lives_of(tries).items())
    return visible("\n\n".join(lives))


def _table(number: int, one: Try) -> dict[str, object]:
    return {
        "try": number,
        "of": called(one.record, one.part.name),
        "run": one.record.run,
        "in_run": one.number,
        "date": one.record.created,
        "recipe": one.part.recipe,
        "revision": one.recipe.revision,
        "outcome": one.outcome,
        "words": one.words,
        "hands_s": _hands_s(one),
    }


def _lines(tries: Sequence[Try], name: str) -> Iterator[str]:
    runs = list(dict.fromkeys(a.record.run for a in tries))
    count = how_many(len(tries), "try", "tries")
    yield f"{name}: {count} in {how_many(len(runs), 'run')}"
    total = 0.0
    for number, one in enumerate(tries, start=1):
        record = one.record
        if one.number == 1:
            yield ""
            practice = "  PRACTICE" if record.practice else ""
            yield f"{record.run}  {record.created[:10]}{practice}"
            yield f"  {one.recipe.title}, revision {one.recipe.revision}"
            yield from (f"  adjusted: {text}" for text in record.adjustments)
        hands_s = _hands_s(one)
        total += hands_s
        yield f"  try {number}: {one.words}; hands-on {duration(round(hands_s))}"
        yield from _said(one)
    yield ""
    yield f"hands-on in all: {duration(round(total))}"


def _said(one: Try) -> Iterator[str]:
    """Notes about the part in this try, with photos by path."""
    for note in one.record.notes:
        mine = note.part == one.part.name
        late = one.number == one.of and note.elapsed_s >= one.began_s
        if mine and (late or one.began_s <= note.elapsed_s < one.until_s):
            yield f"    {note.at[:16].replace('T', ' ')}  {' '.join(note.text.split())}"
    if one.number == one.of:
        count = sum(who == one.part.name for who, _ in photos_in(one.record))
        yield from [f"    {count} photos"] if count > 1 else []


def _hands_s(one: Try) -> float:
    inside = (
        v.hands_s or 0.0 for v in one.part.visits if one.began_s <= (v.began_s or 0) < one.until_s
    )
    return round(sum(inside), 3)
