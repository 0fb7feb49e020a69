"""The bench in words, one line for each change: for screen readers, pipes and logs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchtimer.bench.watcher import Watcher
from benchtimer.records.inert import visible
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.state import OVER, Bench
from benchtimer.store.kinds import is_of_run
from benchtimer.store.log import Entry, Stamp
from benchtimer.view.alarm import Bell, alarms_of, in_order
from benchtimer.view.words import clock_time, confirm_words, verb, wall_clock, way, when, work

NOBODY = "No one has this bench open: nothing is written until it is opened."


class Teller:
    """Tells what is new at a bench, each thing once.

    Args:
        watcher: the bench, looked at only.
    """

    def __init__(self, watcher: Watcher) -> None:
        self._watcher = watcher
        self._bell = Bell()
        self._next: dict[str, tuple[str, ...]] = {}
        self._driven = True

    def lines(self) -> Iterator[str]:
        """What has changed since the last time, each line with the time of day before it."""
        fresh = self._watcher.refresh()
        stamp = self._watcher.stamp()
        for text in (*self._told(fresh), *self._now(stamp)):
            yield visible(f"{wall_clock(stamp)}  {text}", keep="")

    def _told(self, fresh: Sequence[Entry]) -> Iterator[str]:
        """What was written into the runs."""
        if any(entry.event.press for entry in fresh if is_of_run(entry.event)):
            self._bell.attend()
        for entry in fresh:
            if is_of_run(entry.event):
                bench = self._watcher.state(entry.run).bench
                yield f"{self._which(entry.run)}{sentence(entry.event, words_of(bench))}"

    def _now(self, stamp: Stamp) -> Iterator[str]:
        """What is to be done next in each run, if that is new, and what calls."""
        driven = self._watcher.driven
        if driven != self._driven:
            self._driven = driven
            yield "The bench is driven again." if driven else NOBODY
        alarms = []
        for name in self._watcher.names:
            bench = self._watcher.state(name).bench
            actions = self._watcher.agenda(name, stamp)
            if bench.phase not in OVER and actions:
                yield from self._if_new(name, bench, actions[0], stamp)
                alarms += alarms_of(name, bench, stamp.noted_ms, actions)
        call = self._bell.heed(in_order(alarms))
        if call is not None and call.outside:
            yield f"ALARM  {call.message}"

    def _if_new(self, name: str, bench: Bench, action: Action, stamp: Stamp) -> Iterator[str]:
        check = action.check.id if action.check is not None else ""
        place = (action.part or "", action.to_station or "", str(action.index), check)
        about = (action.kind.value, *place)
        if self._next.get(name) != about:
            self._next[name] = about
            yield f"{self._which(name)}NEXT  {next_words(bench, action, stamp)}"

    def _which(self, name: str) -> str:
        return f"{name}: " if len(self._watcher.names) > 1 else ""


def next_words(bench: Bench, action: Action, stamp: Stamp) -> str:
    """An action in one line: verb, part, way, what it is, when, and what the key does."""
    at = when(action, stamp)
    due = f"at {clock_time(action.due_ms, stamp)}, in {at}" if at[:1].isdigit() else at
    if action.kind is ActionKind.START and at:
        due = f"at {at}"
    label = bench.parts[action.part].label if action.part is not None else ""
    pieces = [f"{verb(action)} {label}".strip(), way(bench, action)]
    pieces += [work(bench, action), due, confirm_words(bench, action)]
    return ", ".join(piece.replace("→", "to").strip() for piece in pieces if piece)
