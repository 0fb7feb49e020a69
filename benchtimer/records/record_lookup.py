"""Records by name and by search: what the log of a bench holds, read out of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from benchtimer.learn.estimates import estimate
from benchtimer.learn.learned import Learned, hands_set
from benchtimer.learn.observe import Seen, observed
from benchtimer.learn.sums import OWN
from benchtimer.quantity import meant, nearest
from benchtimer.recipe.model import Recipe
from benchtimer.records.record import Record, make_record
from benchtimer.records.recorded import RecordedBath
from benchtimer.records.run_baths import baths_of_run, stream_of, ties_of
from benchtimer.run.events import Created
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog, LogEntry
from benchtimer.store.runline import OPEN
from benchtimer.store.standing import standing

NEAR = 200
"""Among this many of the newest runs a misspelt name is looked for."""


class NoSuchRun(Exception):
    """The log has no run of that name.

    Attributes:
        name: the name.
        near: the most like it among the newest runs, if one is like it.
    """

    def __init__(self, name: str, near: str | None) -> None:
        self.name = name
        self.near = near
        hint = meant(near, "benchtimer record lists them")
        super().__init__(f'there is no run "{name}"; {hint}')


def run_name(log: EventLog, name: str) -> str:
    """The name of a run; ``last`` is the newest.

    Raises:
        NoSuchRun: there is none by that name.
    """
    if name == "last":
        newest = log.runs(limit=1)
        name = newest[0].name if newest else name
    if log.run_line(name) is None:
        raise NoSuchRun(name, nearest(name, [run.name for run in log.runs(limit=NEAR)]))
    return name


def record_of(log: EventLog, name: str) -> Record:
    """The record of a run.

    Raises:
        NoSuchRun: there is none by that name.
    """
    entries = log.entries(run_name(log, name))
    return make_record(entries, baths_of(log, entries))


def files_of(log: EventLog, name: str) -> dict[str, str]:
    """The files of a run's recipes that were named by a path, by recipe."""
    first = log.entries(name)[0].event
    return first.files if isinstance(first, Created) else {}


def uid_of(log: EventLog, name: str) -> str:
    """The identity of a run on any machine."""
    first = log.entries(name)[0].event
    return first.uid if isinstance(first, Created) else ""


def baths_of(log: EventLog, entries: Sequence[LogEntry]) -> list[RecordedBath]:
    """The baths of a run as they were when they were put to it; see ``baths_of_run``."""
    names = {name for _, _, name in ties_of(entries)}
    return baths_of_run(entries, {name: log.entries(stream_of(name)) for name in names})


def learned_from(
    log: EventLog,
    recipes: Mapping[str, Recipe],
    now_ms: int,
    by: str,
    *,
    sources: Collection[str] = (OWN,),
    adjustments: Iterable[str] = (),
) -> Learned:
    """What the runs of a log taught about the recipes of a run.

    Args:
        log: the log.
        recipes: by their keys in the run.
        now_ms: now, by the wall clock.
        by: whose hands.
        sources: which runs teach: ``learn.sums.OWN``, ``PRACTICE``, ``IMPORTED``.
        adjustments: the run's own, as texts.
    """
    estimates = {
        key: estimate(recipe, log.learned(recipe.id), now_ms, by, sources)
        for key, recipe in recipes.items()
    }
    return Learned(estimates, hands_set(adjustments))


def records_of(log: EventLog, query: Query, limit: int) -> Iterator[Record]:
    """The records of the newest runs a query leads to, the oldest of them first."""
    for run in reversed(log.find(query, limit)):
        entries = log.entries(run.name)
        if entries and isinstance(entries[0].event, Created):
            yield make_record(entries, baths_of(log, entries))


def seen_in(log: EventLog, query: Query, limit: int) -> Iterator[list[Seen]]:
    """What each of the newest runs that are over showed, the oldest of them first."""
    for run in reversed(log.find(query, limit)):
        entries = log.entries(run.name)
        if entries and isinstance(entries[0].event, Created) and run.phase not in OPEN:
            counted = standing(entries)
            yield list(observed(entry.event for entry in entries if entry.seq in counted))
