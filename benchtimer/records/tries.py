"""Tries: the passes of a part through the work, as the checks have sent it back.

Many small send-backs belong to one try: three etch cycles, a second scrub, a second coat.
A new try begins where the recipe says so (``new_try`` of a send), and where a part was
sent back by hand as far as that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import address
from benchtimer.records.record import PartRecord, Record
from benchtimer.records.recorded import RecordedSend
from benchtimer.run.commands import ACCEPTED

WELL, FAILED, OPEN = "well", "failed", "open"
"""How a try came out; ``open`` is one that is not decided yet."""

OUTCOMES = (WELL, FAILED, OPEN)


@dataclass(frozen=True, slots=True)
class Try:
    """One try of one part in one run.

    Attributes:
        recipe: the recipe the part followed, with the station ids of its file.
        at: the place of each station of that recipe, by the station's id: entries name places.
        number: its place among the tries of the part in this run, from 1.
        of: how many there were.
        began_s: when it began and ``ended_s`` when it ended, since the run was set up;
            an end of None is that the part is still under way.
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
        """What it is called, for example ``2026-11-25-1:petty knife:2``."""
        many = f":{self.number}" if self.of > 1 else ""
        return f"{self.record.run}:{self.part.name}{many}"

    def stations_at(self, place: str | None) -> list[str]:
        """The recipe's own ids of what is at a place; empty if it is another recipe's."""
        return [station for station, name in self.at.items() if name == place]

    @property
    def until_s(self) -> float:
        """Its end, or the end of time while it is under way."""
        return self.ended_s if self.ended_s is not None else float("inf")


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
    return max(line.elapsed_s for line in record.lines)  # the last may be a back-dated one


def chosen(tries: Sequence[Try], number: int | None) -> Try | None:
    """The try of this number, the last if none is named; None if there is no such."""
    if number is None:
        return tries[-1]
    return tries[number - 1] if 1 <= number <= len(tries) else None
