"""The bench in words, one line for each change: for screen readers, pipes and logs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from benchtimer.bench.moment import Moment
from benchtimer.bench.open_bench import OpenBench
from benchtimer.records.inert import visible
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.run_state import Bench
from benchtimer.store.entries import is_of_run
from benchtimer.store.log import LogEntry, Stamp
from benchtimer.view.alarm import AlarmPacer, alarms_at
from benchtimer.view.words import clock_time, confirm_words, verb, wall_clock, way, when, work

NOT_DRIVEN = "No one has this bench open, so nothing is recorded and no alarm rings there."


class Teller:
    """Prints each change at a bench once.

    Args:
        watcher: the bench, read-only.
    """

    def __init__(self, watcher: OpenBench) -> None:
        self._watcher = watcher
        self._pacer = AlarmPacer()
        self._next: tuple[str, ...] = ()
        self._driven = True

    def lines(self) -> Iterator[str]:
        """What has changed since the last time, each line after its time of day."""
        fresh = self._watcher.refresh()
        stamp = self._watcher.stamp()
        for text in (*self._told(fresh, stamp), *self._now(stamp)):
            yield visible(f"{wall_clock(stamp)}  {text}", keep="")

    def _told(self, fresh: Sequence[LogEntry], stamp: Stamp) -> Iterator[str]:
        """The new entries of the runs."""
        if any(entry.event.press for entry in fresh if is_of_run(entry.event)):
            self._pacer.attend()
        for entry in fresh:
            if is_of_run(entry.event):
                bench = self._watcher.state(entry.run).bench
                words = words_of(bench, partial(clock_time, stamp=stamp))
                yield f"{self._which(entry.run)}{sentence(entry.event, words)}"

    def _now(self, stamp: Stamp) -> Iterator[str]:
        """The next action on the bench, if it is new, and the alarms."""
        driven = self._watcher.driven
        if driven != self._driven:
            self._driven = driven
            yield "The bench is open again." if driven else NOT_DRIVEN
        moment = self._watcher.moment(stamp)
        if moment.first is not None:
            yield from self._if_new(moment, moment.first)
        call = self._pacer.call_for(alarms_at(moment))
        if call is not None and call.outside:
            yield f"ALARM  {call.message}"

    def _if_new(self, moment: Moment, action: Action) -> Iterator[str]:
        check = action.check.id if action.check is not None else ""
        place = (action.run, action.part or "", action.to_station or "", str(action.index), check)
        about = (action.kind.value, *place)
        if self._next != about:
            self._next = about
            words = next_words(moment.bench_of(action), action, moment.stamp)
            yield f"{self._which(action.run)}NEXT  {words}"

    def _which(self, name: str) -> str:
        return f"{name}: " if len(self._watcher.names) > 1 else ""


def next_words(bench: Bench, action: Action, stamp: Stamp) -> str:
    """An action on one line: verb, part, path, what it is, when, and what the key does.

    Args:
        bench: the run's bench.
        action: the action.
        stamp: both clocks now.
    """
    at = when(action, stamp)
    due = f"at {clock_time(action.due_ms, stamp)}, in {at}" if at[:1].isdigit() else at
    if action.kind is ActionKind.START and at:
        due = f"at {at}"
    label = bench.parts[action.part].label if action.part is not None else ""
    pieces = [f"{verb(action)} {label}".strip(), way(bench, action)]
    pieces += [work(bench, action), due, confirm_words(bench, action)]
    return ", ".join(piece.replace("→", "to").strip() for piece in pieces if piece)
