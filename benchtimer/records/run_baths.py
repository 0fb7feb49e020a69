"""What a run did with its baths, and what its baths were when it was set up.

Both are made from the log alone. The shop's limits are no part of it: they may change,
the record may not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from benchtimer.bath.bath_events import STREAM, BathUsed
from benchtimer.bath.bath_state import Bath, fold
from benchtimer.bath.fatigue import fatigue
from benchtimer.records.recorded import RecordedBath
from benchtimer.run import events as e
from benchtimer.run.evolve import apply
from benchtimer.run.run_state import Bench
from benchtimer.store.log import LogEntry
from benchtimer.store.standing import standing


@dataclass(slots=True)
class _BathContents:
    """What has been in one bath so far, and since when each part now in it is."""

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
        entries: all of the run's log; those of other streams are passed over.
        end_ms: bench time until which parts that are still in a bath are counted.

    Returns:
        Bath names with the event to write into their streams, in order of name; baths that
        nothing happened to are among them, with no parts.
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
    """The baths of a run as they were when they were put to it: at its set-up, or tied later.

    Args:
        entries: all of the run's log, beginning with the entry that set it up.
        streams: the baths' logs by bath name; of a bath without one only the name is shown.
    """
    if not isinstance(entries[0].event, e.Created):
        raise ValueError("a run's log begins with its set-up")
    found = []
    for entry, station, name in ties_of(entries):
        before = [x.event for x in streams.get(name, ()) if x.seq < entry.seq]
        bath = fold(name, before).bath
        known = RecordedBath(station=station, bath=name)
        found.append(known if bath is None else _with_facts(known, bath, entry.event.t_ms))
    return found


def ties_of(entries: Sequence[LogEntry]) -> Iterator[tuple[LogEntry, str, str]]:
    """Each entry that put a bath into a place, with the place and the bath; undone ones not."""
    counted = standing(entries)
    for entry in entries:
        if isinstance(entry.event, e.Created):
            for station, name in entry.event.baths.items():
                yield entry, station, name
        elif isinstance(entry.event, e.BathTied) and entry.seq in counted:
            yield entry, entry.event.station, entry.event.bath


def _with_facts(known: RecordedBath, bath: Bath, t_ms: int) -> RecordedBath:
    worn = fatigue(bath)
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
