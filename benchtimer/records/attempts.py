"""Attempts: the passes of a part through the work, as the checks have sent it back.

Many small send-backs belong to one attempt: three etch cycles, a second scrub. A new
attempt begins only when a part is sent back over at least half as many steps as the widest
loop of its recipe spans. A recipe without loops counts every send-back, made by hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from benchtimer.recipe.model import NoteCheck, Recipe
from benchtimer.records.record import PartRecord, Record
from benchtimer.run.evolve import recipe_from_table

WELL, FAILED, OPEN = "well", "failed", "open"
"""How an attempt came out; ``open`` is one that nobody can tell of yet."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt of one part in one run.

    Attributes:
        number: its place among the attempts of the part in this run, from 1.
        of: how many there were.
        began_s: when it began and ``ended_s`` when it ended, since the run was laid out;
            an end of None is that the part is still under way.
        outcome: ``well``, ``failed`` or ``open``.
        words: how it came out, in words.
        failed_at: the step that sent the part back, if one did.
    """

    record: Record
    part: PartRecord
    recipe: Recipe
    number: int
    of: int
    began_s: float
    ended_s: float | None
    outcome: str
    words: str
    failed_at: str | None = None

    @property
    def name(self) -> str:
        """What it is called, for example ``2026-11-25-1:petty knife#2``."""
        many = f"#{self.number}" if self.of > 1 else ""
        return f"{self.record.run}:{self.part.name}{many}"

    @property
    def until_s(self) -> float:
        """Its end, or the end of time while it is under way."""
        return self.ended_s if self.ended_s is not None else float("inf")


def attempts_of(record: Record, part: PartRecord) -> list[Attempt]:
    """The attempts of a part in a run, in order."""
    recipe = recipe_from_table(record.recipes[part.recipe])
    splits = list(_splits(record, part, recipe))
    ends: list[float | None] = [split["elapsed_s"] for split in splits]
    begins = [0.0, *(split["elapsed_s"] for split in splits)]
    told = []
    for index, began_s in enumerate(begins):
        last = index == len(splits)
        outcome, words = _outcome(part) if last else (FAILED, _sent_back(splits[index]))
        end_s = _end_s(record, part) if last else ends[index]
        failed_at = None if last else splits[index]["from_step"]
        told.append(
            Attempt(
                record,
                part,
                recipe,
                index + 1,
                len(begins),
                began_s,
                end_s,
                outcome,
                words,
                failed_at,
            )
        )
    return told


def widest_loop(recipe: Recipe) -> int:
    """How many steps the widest loop of a recipe goes back; 0 if it has none."""
    return max(
        (
            index - recipe.step_index(check.on_no.back_to)
            for index, step in enumerate(recipe.step)
            for check in step.check
            if not isinstance(check, NoteCheck) and check.on_no is not None
        ),
        default=0,
    )


def _splits(record: Record, part: PartRecord, recipe: Recipe) -> Iterator[dict[str, Any]]:
    widest = widest_loop(recipe)
    for back in record.sent_back:
        if back["part"] != part.name:
            continue
        span = recipe.step_index(back["from_step"]) - recipe.step_index(back["to_step"])
        if 2 * span >= widest:
            yield back


def _sent_back(split: dict[str, Any]) -> str:
    return f"sent back: {split['reason']}"


def _outcome(part: PartRecord) -> tuple[str, str]:
    rating = f", rating {part.rating} of 5" if part.rating is not None else ""
    if part.verdict is not None:
        return (WELL if part.verdict == "accepted" else FAILED), f"{part.verdict}{rating}"
    if part.outcome == "done":
        return WELL, "done, not judged"
    return (FAILED if part.outcome == "scrapped" else OPEN), part.outcome


def _end_s(record: Record, part: PartRecord) -> float | None:
    if part.outcome not in ("done", "scrapped") and record.ended is None:
        return None
    return max(line.elapsed_s for line in record.lines)  # the last may be a back-dated one


def chosen(attempts: Sequence[Attempt], number: int | None) -> Attempt | None:
    """The attempt of this number, the last if none is named; None if there is no such."""
    if number is None:
        return attempts[-1]
    return attempts[number - 1] if 1 <= number <= len(attempts) else None
