"""Sounds an alarm: bell, tone, desktop notice, the shop's own command. Nothing in it waits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from textual.app import App

from benchtimer.sound.ways import Ways
from benchtimer.tui.dialogs import ChoicePage
from benchtimer.tui.summons import summon
from benchtimer.view.alarm import OVERDUE, Call

if TYPE_CHECKING:
    from benchtimer.tui.app import BenchApp

RETRY_S = (5.0, 15.0)
"""A command that failed is started again after this long, unless there is a newer alarm."""


class Ringer:
    """Sounds an alarm in every available way.

    Args:
        app: its threads and timers do the work.
        ways: tone and notice; None for the bell alone.
        command: the shop's own program and its arguments; empty for none.
        complain: reports what failed.
    """

    def __init__(
        self,
        app: App[None],
        ways: Ways | None,
        command: Sequence[str],
        complain: Callable[[str], None],
    ) -> None:
        self._app = app
        self._ways = ways
        self._command = command
        self._complain = complain
        self._newest: Call | None = None
        self._tone_trouble: str | None = None

    def ring(self, call: Call, *, driven: bool) -> None:
        """Sound an alarm.

        Args:
            call: the alarm.
            driven: the bench is driven from here; a watcher gets only bell and notice.
        """
        self._app.bell()
        if self._ways is not None:
            self._show(self._ways.notice(call.message))
        if not driven:
            return
        if self._ways is not None:
            self._in_thread(partial(self._sound, self._ways, call.level == OVERDUE))
        if call.outside and self._command:
            self._newest = call
            self._start(call, RETRY_S)

    def _show(self, sequence: str) -> None:
        # As the library writes its bell: between two frames, never inside one.
        driver = self._app._driver
        if sequence and driver is not None and not self._app.is_headless:
            driver.write(sequence)

    def _in_thread(self, work: Callable[[], None]) -> None:
        self._app.run_worker(work, thread=True, group="alarm", exit_on_error=False)

    def _sound(self, ways: Ways, overdue: bool) -> None:
        before, self._tone_trouble = self._tone_trouble, ways.tone(overdue=overdue)
        if self._tone_trouble is not None and self._tone_trouble != before:  # report it once
            self._app.call_from_thread(self._complain, self._tone_trouble)

    def _start(self, call: Call, retries: Sequence[float]) -> None:
        if call is self._newest:
            self._in_thread(partial(self._summon, call, retries))

    def _summon(self, call: Call, retries: Sequence[float]) -> None:
        trouble = summon(self._command, call.message)
        if trouble is not None:
            self._app.call_from_thread(self._failed, call, retries, trouble)

    def _failed(self, call: Call, retries: Sequence[float], trouble: str) -> None:
        if retries:
            self._app.set_timer(retries[0], partial(self._start, call, retries[1:]))
            trouble = f"{trouble}. Trying again in {retries[0]:g} s"
        self._complain(trouble)


TRY = Call("TEST ALARM: nothing to do", OVERDUE, outside=True)

HEARD = "Heard. An alarm sounds like this."
NOT_HEARD = (
    "Not heard. Leave the bench (Q) and run benchtimer settings alarm --try: it goes through "
    "bell, tone, notice and command one by one."
)


def try_alarm(app: BenchApp, ways: Ways | None, say: Callable[[str], None]) -> None:
    """Sound a test alarm, ask whether you heard it, and save the answer.

    Args:
        app: rings, and shows the question.
        ways: saves the answer; None saves nothing.
        say: shows the outcome.
    """
    app.ring(TRY)
    again = partial(try_alarm, app, ways, say)

    def answered(number: int | None) -> None:
        if number == 2:
            again()
        elif number is not None:
            say(_kept(ways, reached=number == 0))

    app.push_screen(ChoicePage("Did you hear the alarm?", ["Yes", "No", "Play it again"]), answered)


def _kept(ways: Ways | None, *, reached: bool) -> str:
    kept = HEARD if reached else NOT_HEARD
    if ways is None:
        return kept
    today = f"{datetime.now().astimezone():%Y-%m-%d}"
    try:
        ways.note("call", reached=reached, on=today)
    except OSError as error:
        return f"{kept} Your answer could not be saved: {error.strerror}"
    return kept
