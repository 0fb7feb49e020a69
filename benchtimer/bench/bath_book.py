"""The bath book in the log: reads, writes and shows every bath's stream.

Baths share the log with the runs, each in a stream of its own. An open run has no entry in the book
yet; what it has done so far is counted from its own entries.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from benchtimer.bath.bath_decide import BathCommand, decide
from benchtimer.bath.bath_events import STREAM, BathEvent, BathUsed
from benchtimer.bath.bath_state import Bath, History, evolve, fold
from benchtimer.bath.bath_wear import NO_LIMITS, WearLimits, complaints, wear_of
from benchtimer.bath.ties import needs, suits, tie, warnings
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import Placed, ShopPlace, put
from benchtimer.records.record import Record, make_record
from benchtimer.records.record_lookup import baths_of, stream_of, ties_of, uses
from benchtimer.records.recorded import RecordedBath
from benchtimer.run.event_builder import Now
from benchtimer.run.run_state import Bench
from benchtimer.store.log import EventLog, LogEntry, Stamp, StoreError, read_through
from benchtimer.times import rough_duration
from benchtimer.values import dataclass, field, replace


@dataclass
class BathBook:
    """The baths of one log.

    Attributes:
        log: where they are kept.
        limits: the shop's own limits by mix id.
        places: the shop's places, as its settings declare them.
    """

    log: EventLog
    limits: Mapping[str, WearLimits] = field(default_factory=dict)
    places: tuple[ShopPlace, ...] = ()

    def entries(self, name: str) -> list[LogEntry]:
        """The log of one bath; empty if there is no bath with that name."""
        return self.log.entries(stream_of(name))

    def names(self) -> list[str]:
        """Every bath there ever was, by name."""
        return [stream.removeprefix(STREAM) for stream in self.log.streams(STREAM)]

    def history(self, name: str) -> History:
        """A bath's stream, folded."""
        return read_through(self.log.path, self.entries(name), partial(_folded, name))

    def baths(self, now_ms: int) -> dict[str, Bath]:
        """Every bath by name, newest first, including what open runs have done so far.

        Args:
            now_ms: bench time until which the stays in open runs are counted.
        """
        histories = {name: self.history(name) for name in self.names()}
        for name, use in self._open_uses(now_ms):
            if name in histories:
                histories[name] = evolve(histories[name], use)
        found = [bath for h in histories.values() if (bath := h.bath) is not None]
        found.sort(key=lambda bath: (-bath.mixed_ms, bath.name))
        return {bath.name: bath for bath in found}

    def _open_uses(self, now_ms: int) -> list[tuple[str, BathEvent]]:
        found: list[tuple[str, BathEvent]] = []
        for run in sorted(set(self.busy().values())):
            entries = self.log.entries(run)
            found += read_through(self.log.path, entries, lambda some: uses(some, now_ms))
        return found

    def busy(self) -> dict[str, str]:
        """Which open run uses which bath, as run names by bath name."""
        found = {}
        for line in self.log.runs(open_only=True):
            for _, _, name in ties_of(self.log.entries(line.name)):
                found[name] = line.name
        return found

    def write(self, name: str, command: BathCommand, stamp: Stamp, by: str) -> Bath | None:
        """Write into a bath's stream; the bath afterward, None if the mixing entry was taken back.

        Args:
            name: the bath's name.
            command: what to write.
            stamp: both clocks now.
            by: who writes it.

        Raises:
            Refused: it can't be written; nothing changed.
            StoreError: it could not be written; nothing changed.
        """
        name = name.strip()
        history = self.history(name)
        now = Now(stamp.noted_ms, by)
        event = decide(history, command, now, busy=self.busy().get(name))
        self.log.append(stream_of(name), [event], stamp)
        return evolve(history, event).bath

    def tie(
        self, recipes: Mapping[str, Recipe], wanted: Mapping[str, str], now_ms: int
    ) -> tuple[dict[str, str], list[str]]:
        """The bath in each station of a new run, and what to say about them.

        Args:
            recipes: the recipes by key.
            wanted: names of baths you asked for, by station address.
            now_ms: bench time.

        Returns:
            Bath names by station address, and a line for each thing to say.

        Raises:
            Refused: a station or bath that doesn't exist, or a retired bath.
        """
        baths = self.baths(now_ms)
        tied = tie(recipes, baths.values(), wanted, self.places)
        return tied, warnings(recipes, tied, baths, self.limits, now_ms)

    def suiting(self, bench: Bench, now_ms: int) -> dict[str, tuple[str, ...]]:
        """The open baths that fit each place of a run, newest first, by place id."""
        found: dict[str, dict[str, None]] = {}
        for need in needs(bench.sources):
            names = (b.name for b in self.baths(now_ms).values() if suits(b, need))
            found.setdefault(bench.at[need.at], {}).update(dict.fromkeys(names))
        return {place: tuple(names) for place, names in found.items()}

    def placed(self, recipes: Mapping[str, Recipe], now_ms: int) -> tuple[Placed, dict[str, str]]:
        """Recipes at their places, and the newest bath that fits each place, by place id.

        Raises:
            PlaceError: stations that can't share a place.
        """
        tied = tie(recipes, self.baths(now_ms).values(), shop=self.places)
        found = put(recipes, tied, self.places)
        return found, {found.at[station]: name for station, name in tied.items()}

    def in_words(self, tied: Mapping[str, str], now_ms: int) -> dict[str, str]:
        """What the book has for each place: name, age, wear, warnings.

        Args:
            tied: bath names by place id.
            now_ms: bench time.
        """
        baths = self.baths(now_ms)
        words = {}
        for station, name in tied.items():
            if name in baths:
                limits = self.limits.get(baths[name].mix or "", NO_LIMITS)
                against = complaints(baths[name], limits, now_ms)
                worn = wear_of(baths[name], limits).words
                age = f"{name}, {rough_duration(baths[name].age_s(now_ms))} old"
                words[station] = "; ".join([age, worn, *against])
        return words

    def booked(
        self, run: str, after: Sequence[LogEntry], stamp: Stamp, *, was_over: bool = False
    ) -> dict[str, list[BathEvent]]:
        """The entries for the baths' streams when a run is over.

        Args:
            run: the run's name.
            after: the entries that end it, not written yet, numbered after all others.
            stamp: both clocks now.
            was_over: the run was over before, so nothing already in the book is entered again.
        """
        entries = [*self.log.entries(run), *after]
        end_ms = entries[-1].event.t_ms
        used = uses(entries, min(end_ms, stamp.noted_ms))
        return {
            stream_of(name): [use]
            for name, use in used
            if not (was_over and self._is_booked(name, use))
        }

    def _is_booked(self, name: str, use: BathUsed) -> bool:
        """Whether the book already has this: how parts came out changes nothing in a bath."""
        try:
            said = [entry.event for entry in self.entries(name)]
        except StoreError:
            return False  # the disk is gone: an entry made twice is better than none
        booked = [event for event in said if isinstance(event, BathUsed)]
        last = next((event for event in reversed(booked) if event.run == use.run), None)
        return last is not None and replace(last, t_ms=use.t_ms, by=use.by) == use

    def record(self, run: str) -> Record:
        """The record of a run, with its baths in their state at setup."""
        entries = self.log.entries(run)
        return read_through(
            self.log.path, entries, lambda some: make_record(some, self.at_start(some))
        )

    def at_start(self, entries: Sequence[LogEntry]) -> list[RecordedBath]:
        """The baths of a run in their state when they were assigned to it; see ``baths_of_run``."""
        return baths_of(self.log, entries)


def _folded(name: str, entries: Sequence[LogEntry]) -> History:
    history = fold(name, (entry.event for entry in entries))
    _ = history.bath  # quantities are read only here
    return history
