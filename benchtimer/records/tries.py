"""Tries: the passes of a part through the work, divided by send-backs.

Many small send-backs belong to one try: three etch cycles, a second scrub, a second coat.
A new try begins where the recipe says so (``new_try`` of a send), or where a part was sent back
that far by hand. This module also finds tries by outcome. You judge a part when its work is over,
so a try that failed within a run, such as a darkening that was sent back, has no verdict; you find
it by outcome, not with ``--verdict``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice

from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import address
from benchtimer.records.inert import visible
from benchtimer.records.record import PartRecord, Record
from benchtimer.records.record_lookup import record_of
from benchtimer.records.recorded import RecordedSend
from benchtimer.run.commands import ACCEPTED
from benchtimer.store.index import Query, fold_text
from benchtimer.store.log import EventLog
from benchtimer.values import dataclass

WELL, FAILED, OPEN = "well", "failed", "open"
"""How a try came out; ``open`` means not decided yet."""

OUTCOMES = (WELL, FAILED, OPEN)


@dataclass(frozen=True, slots=True)
class Try:
    """One try of one part in one run.

    Attributes:
        recipe: the recipe the part followed, with the station ids of its file.
        at: the place of each station of that recipe, by station id, because entries name places.
        number: its number among the tries of the part in this run, from 1.
        of: how many there were.
        began_s: when it began and ``ended_s`` when it ended, since the run was set up; an end of
            None means that the part is still in process.
        outcome: ``well``, ``failed`` or ``open``.
        words: how it came out, in words.
        failed_at: the step that sent the part back, if one did.
    """

    record: Record
    part: PartRecord
    recipe: Recipe
    at: Mapping[str, str]
    number: int
    of: int
    began_s: float
    ended_s: float | None
    outcome: str
    words: str
    failed_at: str | None = None

    @property
    def name(self) -> str:
        """Its address, for example ``2026-11-25-1:petty knife:2``."""
        many = f":{self.number}" if self.of > 1 else ""
        return f"{self.record.run}:{self.part.name}{many}"

    def stations_at(self, place: str | None) -> list[str]:
        """The recipe's own ids of what is at a place; empty for another recipe."""
        return [station for station, name in self.at.items() if name == place]

    @property
    def until_s(self) -> float:
        """Its end, or the end of time while it is open."""
        return self.ended_s if self.ended_s is not None else float("inf")

    def last_answers(self) -> Iterator[tuple[int, Check, str | bool]]:
        """The last answer to each check with the index of its step, in the order of the work."""
        last = {
            (a.step, a.check): a.answer
            for a in self.record.answers
            if a.part == self.part.name and a.elapsed_s <= self.until_s
        }
        for index, step in enumerate(self.recipe.step):
            for check in step.check:
                if (step.id, check.id) in last:
                    yield index, check, last[step.id, check.id]


def tries_of(record: Record, part: PartRecord) -> list[Try]:
    """The tries of a part in a run, in order."""
    recipe = record.recipes[part.recipe]
    addresses = {station.id: address(part.recipe, station.id) for station in recipe.station}
    at = {station: record.places.get(where, station) for station, where in addresses.items()}
    splits = [s for s in record.sent_back if s.part == part.name and s.new_try]
    ends: list[float | None] = [split.elapsed_s for split in splits]
    begins = [0.0, *(split.elapsed_s for split in splits)]
    tries = []
    for index, began_s in enumerate(begins):
        last = index == len(splits)
        outcome, words = _outcome(part) if last else (FAILED, _sent_back(splits[index]))
        end_s = _end_s(record, part) if last else ends[index]
        failed_at = None if last else splits[index].from_step
        tries.append(
            Try(
                record,
                part,
                recipe,
                at,
                index + 1,
                len(begins),
                began_s,
                end_s,
                outcome,
                words,
                failed_at,
            )
        )
    return tries


def _sent_back(split: RecordedSend) -> str:
    return f"sent back: {split.reason}"


def _outcome(part: PartRecord) -> tuple[str, str]:
    if part.outcome == "scrapped" and part.verdict == ACCEPTED:
        return FAILED, "scrapped after it was accepted"
    rating = f", rating {part.rating} of 5" if part.rating is not None else ""
    if part.verdict is not None:
        return (WELL if part.verdict == ACCEPTED else FAILED), f"{part.verdict}{rating}"
    if part.outcome == "done":
        return WELL, "done, not judged"
    return (FAILED if part.outcome == "scrapped" else OPEN), part.outcome


def _end_s(record: Record, part: PartRecord) -> float | None:
    if part.outcome not in ("done", "scrapped") and record.ended is None:
        return None
    return max(line.elapsed_s for line in record.lines)  # the last one may be backdated


SENT_BACK = "sent-back"
"""A try that a check in its own run sent back."""

MOST_RUNS = 1000
"""How many of the newest runs are searched. Each one is read, because no index lists tries."""


def list_tries(log: EventLog, query: Query, outcome: str, limit: int) -> list[Try]:
    """The newest tries with an outcome, newest run first.

    Args:
        log: the log of the bench.
        query: what their runs must match; part, recipe and verdict must be the try's own.
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
    """Whether any of these names matches, or begins with it if it ends in a star."""
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
