"""A maker who follows the agenda at a real bench and gives the test's answers.

A test sets answers, readings and late pulls. Everything else follows the recipe.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from benchtimer.bench.open_bench import OpenBench
from benchtimer.clock import ManualClock
from benchtimer.recipe.checks import Check, Choice, NoteCheck, PhotoCheck, ReadingCheck, YesNo
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.run_state import OVER, Part

LOOKS_AGAIN_MS = 150_000
"""The maker checks the board again before a pull: gear and readings may come first by then."""

Answers = Mapping[str, str | bool]


@dataclass
class Maker:
    """A maker at a bench.

    Attributes:
        answers: returns the answers for a try of a part, by check id, or by "step/check"
            where an id is used twice.
        late_s: by step, seconds past target at which the part is pulled, as a function of
            the try.
        temperatures: by station, the reading.
        hands_s: by step, seconds of work; the recipe's by default.
    """

    driver: OpenBench
    clock: ManualClock
    name: str
    answers: Callable[[int], Answers] = lambda _attempt: {}
    late_s: Callable[[int], Mapping[str, int]] = lambda _attempt: {}
    temperatures: Mapping[str, str] = field(default_factory=dict)
    hands_s: Callable[[int], Mapping[str, int]] = lambda _attempt: {}
    loop: str = ""

    def press(self, command: c.Command, after_s: int = 2) -> None:
        """Press after a delay."""
        self.clock.advance(after_s * 1000)
        self.driver.press(self.name, command)

    def work(self) -> None:
        """Work from the start to the end of the run."""
        for _ in range(2000):
            bench = self.driver.state(self.name).bench
            if bench.phase in OVER:
                return
            actions = agenda(bench, self.driver.stamp().noted_ms)
            self._do(next(a for a in actions if a.blocked is None))
        raise AssertionError("the run never ends")

    def _attempt(self, part: Part) -> int:
        """Which try it is: how often the first step of a try has begun."""
        return max(1, part.passes.get(self.loop, 0))

    def _do(self, action: Action) -> None:
        now_ms = self.driver.stamp().noted_ms
        part = self.driver.state(self.name).bench.parts.get(action.part or "")
        one = self._attempt(part) if part is not None else 1
        if action.kind is ActionKind.READING:
            self._until(action.due_ms)
            station = action.to_station or ""
            place = self.driver.state(self.name).bench.places[station]
            window = place.station.temperature
            found = str(window.target or window.min) if window is not None else "20 C"
            self.press(c.Read(station, self.temperatures.get(station, found)), 4)
        elif action.kind is ActionKind.ANSWER and part is not None and action.check is not None:
            self._work_off(part, one, action)
            step = self.driver.state(self.name).bench.step_of(part)
            answers = self.answers(one)
            key = f"{step.id}/{action.check.id}"
            told_answer = answers.get(key, answers.get(action.check.id, _usual(action.check)))
            self.press(c.Answer(part.name, action.check.id, told_answer), 3)
        elif action.command is not None:
            if action.kind is ActionKind.FINISH and part is not None:
                self._work_off(part, one, action)
            elif action.kind is ActionKind.BEGIN and part is not None and action.from_station:
                step = self.driver.state(self.name).bench.step_of(part)
                due_ms = action.due_ms + 1000 * self.late_s(one).get(step.id, 0)
                if due_ms - now_ms > LOOKS_AGAIN_MS:
                    self._until(due_ms - LOOKS_AGAIN_MS)
                    return
                self._until(due_ms)
            elif action.due_ms > now_ms:
                self._until(action.due_ms)
                return
            self.press(action.command)

    def _work_off(self, part: Part, one: int, action: Action) -> None:
        if self.driver.stamp().noted_ms - part.since_ms < 1000:
            step = self.driver.state(self.name).bench.step_of(part)
            self.clock.advance(1000 * self.hands_s(one).get(step.id, action.move_s))

    def _until(self, t_ms: int) -> None:
        self.clock.advance(max(0, t_ms - self.driver.stamp().noted_ms))


def _usual(check: Check) -> str | bool:
    match check:
        case NoteCheck():
            return "as usual"
        case Choice():
            return next(option for option in check.options if option not in check.send)
        case ReadingCheck():
            return str(check.min or check.max or "20 C")
        case YesNo():
            return True
        case PhotoCheck():
            return False
