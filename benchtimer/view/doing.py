"""Carries out presses at the bench: in which run, with which message, and how to undo them."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from functools import partial

from benchtimer.bath.bath_decide import BathCommand
from benchtimer.bench.moment import Moment
from benchtimer.bench.open_bench import OpenBench
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run import commands as c
from benchtimer.run.events import (
    Deviated,
    Event,
    HandsChanged,
    Held,
    HoursChanged,
    Postponed,
    Sent,
    TargetMoved,
)
from benchtimer.run.refusals import ReadingFirst, Refused
from benchtimer.run.run_state import OVER, PartPhase, RunState
from benchtimer.shop.shop_state import also_pressed, last_press, next_redo
from benchtimer.store.log import Stamp, StoreError
from benchtimer.times import duration
from benchtimer.values import replace
from benchtimer.view.alarm import SILENCE_S, Alarm, alarms_at, message_of
from benchtimer.view.beside_picture import press_words
from benchtimer.view.board_text import in_runs, undo_of
from benchtimer.view.focus import Focus
from benchtimer.view.menu import bath_of
from benchtimer.view.words import clock_time

NEWS = (Deviated, Sent, Held, TargetMoved, HandsChanged, HoursChanged, Postponed)
"""Events to report right away after a press."""

SETS_UP = (c.Prepare, c.Heat)
"""During setup its part stays picked, so that the next item shows."""


class Doing(Focus):
    """Carries out commands at the bench, or says why not.

    Args:
        bench: the bench.
        name: the run that pages are about at first; on the board, that of the action shown.
        monotonic: a clock in seconds that never goes back.

    Attributes:
        ended: the run that the last press ended; empty if it ended none.
    """

    def __init__(
        self, bench: OpenBench, name: str = "", monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(monotonic)
        self.bench = bench
        self.name = name
        self.ended = ""
        self._confirmed_at = float("-inf")
        self._pressed_at: Stamp | None = None

    @property
    def state(self) -> RunState:
        """The state of the run that pages are about."""
        return self.bench.state(self.name)

    @property
    def read_only(self) -> bool:
        """Whether this process only watches."""
        return self.bench.read_only

    def after_press(self) -> Moment:
        """The moment after a press, at the time of the press, to save a clock reading."""
        at, self._pressed_at = self._pressed_at, None
        return self.bench.moment(at)

    def _states(self) -> dict[str, RunState]:
        return {name: self.bench.state(name) for name in self.bench.names}

    def takes_back(self) -> str:
        """What undo would take back in the run that pages are about."""
        states = {**self._states(), self.name: self.state}
        also = also_pressed(states, self.name)
        return undo_of(self.state, self.bench.stamp()) + (in_runs(self.name, also) if also else "")

    def undo(self, of: str = "") -> None:
        """Take back the last press: a run's, or the newest one in any run."""
        states = self._states()
        last = last_press({of: states[of]} if of else states)
        if last is None:
            self.press(c.Undo(), of)
            return
        run, press = last
        words = press_words(press, self.bench.state(run).bench, self.bench.stamp())
        which = self.which(run, also_pressed(states, run))
        self.press(c.Undo(), run, said=f"Taken back: {words}{which}.")

    def redo(self) -> None:
        """Redo the press taken back."""
        self.press(c.Redo(), next_redo(self._states()) or "")

    def back_date(self, seconds: int) -> None:
        """Move the last press to an earlier time."""
        last = last_press(self._states())
        said = f"Backdated by {duration(seconds)}."
        self.press(c.BackDate(seconds * 1000), last[0] if last else "", said=said)

    def which(self, run: str, also: Sequence[str] = ()) -> str:
        """The run in words, with others that the press was written into; empty if it is alone."""
        return "" if list(self.bench.open_runs()) == [run] else in_runs(run, also)

    def _sentence(self, run: str, event: Event) -> str:
        clock = partial(clock_time, stamp=self.bench.stamp())
        return sentence(event, words_of(self.bench.state(run).bench, clock))

    def press(
        self, command: c.Command, run: str = "", *, said: str = "", at: Stamp | None = None
    ) -> bool:
        """Carry out a command, or say why not; return whether it was done.

        Args:
            command: what to do.
            run: the run; if empty, the one that pages are about.
            said: the message when it is done.
            at: the time of the press; now if None.
        """
        run = run or self.name
        self.ended = ""
        was_over = self.bench.state(run).bench.phase in OVER if run else False
        self.entry, self.reading, self.unread = "", False, None
        self._confirmed_at = self._monotonic()  # so that a slip does not confirm the next action
        try:
            events = self.bench.press(run, command, at)
        except Refused as refusal:
            self.message = str(refusal)
            if isinstance(refusal, ReadingFirst):
                self.unread = (run, refusal.place)
            return False
        except StoreError as error:
            self.message = f"NOT SAVED, NOT DONE: {error}"
            return False
        self._pressed_at = at
        if not was_over and self.bench.state(run).bench.phase in OVER:
            self.ended = run
        self._let_go_after(command)
        news = [self._sentence(run, event) for event in events if isinstance(event, NEWS)]
        self.message = self.bench.complaint or said or "\n".join(news)
        return True

    def _let_go_after(self, command: c.Command) -> None:
        """A picked part stays picked until it is in a station, finished, or held."""
        if self.picked is None or isinstance(command, c.MoveTarget):
            return  # after a target is moved, the next press still means the same part
        run, name = self.picked
        part = self.bench.state(run).bench.parts.get(name)
        stays = (c.Acknowledge, c.Read, c.SkipReading, c.Begin, c.Finish, c.Answer, *SETS_UP)
        in_work = part is not None and part.phase in (PartPhase.WAITING, PartPhase.IN_HAND)
        if not (isinstance(command, stays) and in_work and part and part.held is None):
            self.picked = None

    def write_bath(self, name: str, command: BathCommand) -> bool:
        """Make an entry in the bath book, or say why not; return whether it was saved.

        The book has its own undo; undo at the bench takes back bench presses.
        """
        try:
            self.bench.write_bath(name, command)
        except Refused as refusal:
            self.message = str(refusal)
            return False
        except StoreError as error:
            self.message = f"NOT SAVED, NOT DONE: {error}"
            return False
        self.message = f"Saved in the bath book: {name}."
        return True

    def mix_bath(self, place: str, name: str, volume: str | None = None) -> bool:
        """Enter a new bath in the book and put it into its place; return whether it was done.

        Args:
            place: the place, by its id.
            name: the bath's name.
            volume: how much was made; None for the recipe's.
        """
        mix = bath_of(self.state.bench)[place]
        mix = replace(mix, volume=volume) if volume is not None else mix
        return self.write_bath(name, mix) and self.press(c.TieBath(place, name.strip()))

    def silence(self) -> bool:
        """Silence alarms for a minute and record it if possible; return whether any was ringing."""
        alarms = alarms_at(self.bench.moment())
        if not alarms:
            self.message = "No alarm is ringing."
            return False
        self.message = f"Quiet for {SILENCE_S} s. Still to do: {message_of(alarms)}"
        due: dict[str, list[Alarm]] = {}
        for alarm in alarms:
            due.setdefault(alarm.run, []).append(alarm)
        try:
            words = {name: message_of(calling) for name, calling in due.items()}
            self.bench.silence(words, SILENCE_S * 1000)
        except StoreError as error:
            self.message = f"Quiet for {SILENCE_S} s, but that could not be written: {error}"
        return True
