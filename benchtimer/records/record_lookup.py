"""Finds records by name and by search. It also tells what a run did with its baths, and their state
when it was set up. Everything comes from the log alone. The shop's limits are not included: they
may change, but a record must not.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from benchtimer.bath.bath_events import STREAM, BathUsed
from benchtimer.bath.bath_state import Bath, fold
from benchtimer.bath.bath_wear import wear_of
from benchtimer.learn.estimates import estimate
from benchtimer.learn.learned import Learned, hands_set
from benchtimer.learn.observe import Seen, observed
from benchtimer.learn.sums import OWN
from benchtimer.quantity import meant, nearest
from benchtimer.recipe.model import Recipe
from benchtimer.records.record import Record, make_record
from benchtimer.records.recorded import RecordedBath
from benchtimer.run import events as e
from benchtimer.run.events import Created
from benchtimer.run.evolve import apply
from benchtimer.run.run_state import Bench
from benchtimer.store.entries import created_of
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog, LogEntry
from benchtimer.store.runline import OPEN
from benchtimer.store.standing import standing
from benchtimer.values import dataclass, field, replace


@dataclass(slots=True)
class _BathContents:
    """What has been in one bath so far, and since when each part now in it has been there."""

    parts: dict[str, None] = field(default_factory=dict)
    since_ms: dict[str, int] = field(default_factory=dict)
    immersions: int = 0
    dwell_ms: int = 0
    readings: list[tuple[int, str]] = field(default_factory=list)

    def enter(self, part: str, t_ms: int) -> None:
        self.parts[part] = None
        self.since_ms[part] = t_ms
        self.immersions += 1

    def leave(self, part: str, t_ms: int) -> None:
        self.dwell_ms += max(0, t_ms - self.since_ms.pop(part))


def uses(entries: Sequence[LogEntry], end_ms: int) -> list[tuple[str, BathUsed]]:
    """What a run did with each bath tied to its stations, undone presses left out.

    Args:
        entries: all of the run's log; entries of other streams are skipped.
        end_ms: bench time until which parts still in a bath are counted.

    Returns:
        Bath names with the event to write into their streams, in order of name; including baths
        with no parts.
    """
    counted = standing(entries)
    bench = Bench()
    stays: dict[str, _BathContents] = {}
    for entry in entries:
        event = entry.event
        if entry.seq not in counted or isinstance(event, (*e.CORRECTIONS, *e.BYSTANDERS)):
            continue
        before, bench = bench, apply(bench, event)
        if isinstance(event, e.Created):
            stays = {name: _BathContents() for name in sorted(set(event.baths.values()))}
        elif isinstance(event, e.BathTied):
            stays.setdefault(event.bath, _BathContents())
        _follow(stays, before, bench, event)
    run = entries[0].run
    return [(name, _used(run, stay, end_ms)) for name, stay in stays.items()]


def _follow(stays: dict[str, _BathContents], before: Bench, after: Bench, event: e.Event) -> None:
    if isinstance(event, e.ReadingTaken) and event.station in after.baths:
        stays[after.baths[event.station]].readings.append((event.taken_ms, event.reading))
    name = getattr(event, "part", None)
    was = _bath_of(before, name)
    now = _bath_of(after, name)
    if was == now or name is None:
        return
    if was is not None:
        stays[was].leave(name, event.t_ms)
    if now is not None:
        stays[now].enter(name, event.t_ms)


def _bath_of(bench: Bench, part: str | None) -> str | None:
    """The bath a part is in, by its station."""
    found = bench.parts.get(part) if part is not None else None
    return bench.baths.get(found.station) if found is not None and found.station else None


def _used(run: str, stay: _BathContents, end_ms: int) -> BathUsed:
    inside_ms = sum(max(0, end_ms - since) for since in stay.since_ms.values())
    return BathUsed(
        press=0, t_ms=end_ms, by=e.PROGRAM, run=run, parts=tuple(stay.parts),
        immersions=stay.immersions, dwell_ms=stay.dwell_ms + inside_ms,
        readings=tuple(stay.readings),
    )  # fmt: skip


def baths_of_run(
    entries: Sequence[LogEntry], streams: Mapping[str, Iterable[LogEntry]]
) -> list[RecordedBath]:
    """The baths of a run in their state when they were assigned to it, at setup or later.

    Args:
        entries: all of the run's log, beginning with the entry that set it up.
        streams: the baths' logs by bath name; a bath without one shows only its name.
    """
    created_of(entries)  # raises for anything else
    found = []
    for entry, station, name in ties_of(entries):
        before = [x.event for x in streams.get(name, ()) if x.seq < entry.seq]
        bath = fold(name, before).bath
        known = RecordedBath(station=station, bath=name)
        found.append(known if bath is None else _with_facts(known, bath, entry.event.t_ms))
    return found


def ties_of(entries: Sequence[LogEntry]) -> Iterator[tuple[LogEntry, str, str]]:
    """Each entry that put a bath into a place, with the place and the bath; undone ones
    excluded.
    """
    counted = standing(entries)
    for entry in entries:
        if isinstance(entry.event, e.Created):
            for station, name in entry.event.baths.items():
                yield entry, station, name
        elif isinstance(entry.event, e.BathTied) and entry.seq in counted:
            yield entry, entry.event.station, entry.event.bath


def _with_facts(known: RecordedBath, bath: Bath, t_ms: int) -> RecordedBath:
    worn = wear_of(bath)
    return replace(
        known,
        of=bath.of,
        mix=bath.mix,
        age_s=bath.age_s(t_ms),
        parts_before=worn.parts,
        dwell_before_s=worn.dwell_s,
        used_up=None if worn.exhaustion is None else round(worn.exhaustion, 4),
        volume=None if bath.volume is None else str(bath.volume),
    )


def stream_of(bath: str) -> str:
    """The name of a bath's stream in the log."""
    return STREAM + bath


NEAR = 200
"""How many of the newest runs are searched for a misspelled name."""


class NoSuchRun(Exception):
    """The log has no run with that name.

    Attributes:
        name: the name.
        near: the closest name among the newest runs, if any.
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
    """The files of a run's recipes that were given by path, by recipe."""
    first = log.entries(name)[0].event
    return first.files if isinstance(first, Created) else {}


def uid_of(log: EventLog, name: str) -> str:
    """The identity of a run on any machine."""
    first = log.entries(name)[0].event
    return first.uid if isinstance(first, Created) else ""


def baths_of(log: EventLog, entries: Sequence[LogEntry]) -> list[RecordedBath]:
    """The baths of a run in their state when they were assigned to it; see ``baths_of_run``."""
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
    """What the runs in a log taught about the recipes of a run.

    Args:
        log: the log.
        recipes: by their keys in the run.
        now_ms: now, by the wall clock.
        by: whose times.
        sources: which runs teach: ``learn.sums.OWN``, ``PRACTICE``, ``IMPORTED``.
        adjustments: the run's own, as texts.
    """
    estimates = {
        key: estimate(recipe, log.learned(recipe.id), now_ms, by, sources)
        for key, recipe in recipes.items()
    }
    return Learned(estimates, hands_set(adjustments))


def records_of(log: EventLog, query: Query, limit: int) -> Iterator[Record]:
    """The records of the newest runs that match a query, oldest first.

    Args:
        log: the log.
        query: the filters.
        limit: at most this many.
    """
    for run in reversed(log.find(query, limit)):
        entries = log.entries(run.name)
        if entries and isinstance(entries[0].event, Created):
            yield make_record(entries, baths_of(log, entries))


def seen_in(log: EventLog, query: Query, limit: int) -> Iterator[list[Seen]]:
    """What each of the newest finished runs showed, oldest first.

    Args:
        log: the log.
        query: the filters.
        limit: at most this many.
    """
    for run in reversed(log.find(query, limit)):
        entries = log.entries(run.name)
        if entries and isinstance(entries[0].event, Created) and run.phase not in OPEN:
            counted = standing(entries)
            yield list(observed(entry.event for entry in entries if entry.seq in counted))
