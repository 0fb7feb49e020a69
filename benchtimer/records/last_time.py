"""What the last accepted try of a recipe did differently from the recipe, so that you can
use it.
"""

from __future__ import annotations

from collections.abc import Iterator

from benchtimer.recipe.adjust import parse_adjustment
from benchtimer.recipe.answers import said
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.records.kept_settings import real_changes
from benchtimer.records.record_lookup import record_of
from benchtimer.records.tries import WELL, Try, tries_of
from benchtimer.run.commands import ACCEPTED
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog
from benchtimer.values import dataclass

LOOKED_AT = 20
"""How many of the newest runs with an accepted part are searched."""


@dataclass(frozen=True, slots=True)
class LastTime:
    """The last accepted try of a recipe.

    Attributes:
        name: its address, and ``day`` its date.
        words: how it came out.
        changes: how it differed from the recipe, such as ``hang.target=6 h 40 min``.
        answers: the answers and readings, a line each.
        notes: the notes about the part.
    """

    name: str
    day: str
    words: str
    changes: tuple[str, ...]
    answers: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def line(self) -> str:
        """On one line: when, how it came out, and what was different."""
        changes = ", ".join(change.replace("=", " ") for change in self.changes)
        return f"Last time, {self.day}: {self.words}; {changes or 'as the recipe says'}"

    @property
    def page(self) -> str:
        """All of it."""
        lines = [f"{self.name}, {self.day}: {self.words}", "", "DIFFERENT FROM THE RECIPE"]
        lines += [f"  {change.replace('=', ' ')}" for change in self.changes] or ["  nothing"]
        lines += ["", "ANSWERS AND READINGS", *(f"  {line}" for line in self.answers)]
        lines += ["", "NOTES", *(f"  {line}" for line in self.notes)] if self.notes else []
        return "\n".join(lines)


def last_time(log: EventLog, recipe: Recipe) -> LastTime | None:
    """The last accepted try of a recipe in a log of real runs; None if there is none.

    Args:
        log: the log.
        recipe: the recipe as it is now.
    """
    for run in log.find(Query(recipe=recipe.id, verdict=ACCEPTED), LOOKED_AT):
        record = record_of(log, run.name)
        for part in record.parts:
            if part.verdict == ACCEPTED and record.recipes[part.recipe].id == recipe.id:
                last = tries_of(record, part)[-1]
                if last.outcome == WELL:
                    return _of(last, recipe)
    return None


def _of(last: Try, recipe: Recipe) -> LastTime:
    record, part = last.record, last.part
    notes = [" ".join(n.text.split()) for n in record.notes if n.part == part.name]
    return LastTime(
        last.name,
        record.created[:10],
        last.words,
        tuple(_otherwise(last, recipe)),
        tuple(_answers(last)),
        tuple(notes),
    )


def _otherwise(last: Try, recipe: Recipe) -> Iterator[str]:
    """Settings that differ from the recipe as it is now; a dwell cut short does not count."""
    begins = f"{last.part.recipe}: "
    wanted = {
        f"{wish.entry}.{wish.field}": wish.value
        for text in last.record.adjustments
        if text.startswith(begins)
        for wish in [parse_adjustment(text.removeprefix(begins))]
    }
    wanted |= {c.name: c.new for c in real_changes(last) if not c.is_shorter}
    for name, value in wanted.items():
        if _value(recipe, name) != value:
            yield f"{name}={value}"


def _value(recipe: Recipe, name: str) -> str | None:
    """The recipe's value of ``ID.FIELD`` for a dwell or a temperature."""
    entry, _, field = name.partition(".")
    table = recipe_table(recipe)
    for kind, inner in (("step", "dwell"), ("station", "temperature")):
        for item in table.get(kind, ()):
            if item["id"] == entry and field in item.get(inner, {}):
                return str(item[inner][field])
    return None


def _answers(last: Try) -> Iterator[str]:
    """The last answer to each check, in the order of the work."""
    for index, check, answer in last.last_answers():
        yield f"{last.recipe.step[index].id}: {check.ask} {said(answer)}"
