"""Records by name and by search: what the log of a bench holds, read out of it."""

from __future__ import annotations

from collections.abc import Iterator

from benchtimer.quantity import nearest
from benchtimer.records.record import Record, make_record
from benchtimer.run.events import Created
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog

NEAR = 200
"""Among so many of the newest runs a misspelt name is looked for."""


class NoSuchRun(Exception):
    """The log has no run of that name.

    Attributes:
        name: the name.
        near: the most like it among the newest runs, if one is like it.
    """

    def __init__(self, name: str, near: str | None) -> None:
        self.name = name
        self.near = near
        hint = f', did you mean "{near}"?' if near else "; benchtimer log lists them"
        super().__init__(f'there is no run "{name}"{hint}')


def run_name(log: EventLog, name: str) -> str:
    """The name of a run; ``last`` is the newest.

    Raises:
        NoSuchRun: there is none of that name.
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
        NoSuchRun: there is none of that name.
    """
    return make_record(log.entries(run_name(log, name)))


def records_of(log: EventLog, query: Query, limit: int) -> Iterator[Record]:
    """The records of the newest runs a query leads to, the oldest of them first."""
    for run in reversed(log.find(query, limit)):
        entries = log.entries(run.name)
        if entries and isinstance(entries[0].event, Created):
            yield make_record(entries)
