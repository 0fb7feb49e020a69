"""A run in fast time with simulated hands, through the same engine as a real one.

The hands follow the agenda: they wait until the next action is due, take about as long as
the recipe says, answer checks with yes except as often as the recipe expects a no, and
read temperatures inside their window. Draws are seeded: the same seed, the same record.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from random import Random

from benchtimer.bench.advice import away_windows
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.timeline import Timeline
from benchtimer.clock import ManualClock
from benchtimer.plan.problem import ENDLESS_S
from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.model import Check, Choice, NoteCheck, ReadingCheck, Station
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from benchtimer.run.agenda import Action, ActionKind, agenda
from benchtimer.run.answers import ceiling_of
from benchtimer.run.decide import Now, create, decide
from benchtimer.run.evolve import evolve
from benchtimer.run.state import OVER, Bench, State
from benchtimer.store.log import Entry

START_WALL_MS = 1_767_600_000_000
"""A rehearsal begins at 2026-01-05 08:00 UTC, so that its record is the same each time."""

MAX_PRESSES = 20_000
"""A rehearsal that is not over by then never will be."""

SPREAD = 0.25
"""Hands-on work takes this share of its time less or more, drawn from a triangle."""

ANSWER_S = 4
"""Seconds to look at a question or a thermometer and press a key."""

Advice = Callable[[Bench, int], dict[str, int]]


class RehearsalError(Exception):
    """The rehearsal came to a stand: nothing could be done any more."""


@dataclass(slots=True)
class Rehearsal:
    """One rehearsal under way."""

    new: NewRun
    seed: int
    spread: float = SPREAD
    advice: Advice | None = None
    clock: ManualClock = field(default_factory=lambda: ManualClock(START_WALL_MS))
    entries: list[Entry] = field(default_factory=list)
    state: State = field(default_factory=State)
    draws: Random = field(init=False)
    timeline: Timeline = field(init=False)

    def __post_init__(self) -> None:
        self.draws = Random(self.seed)
        self.timeline = Timeline(self.clock, None)

    def run(self) -> Record:
        """Rehearse from layout to completion.

        Raises:
            Refused: the run can't be laid out.
            RehearsalError: it comes to a stand.
        """
        self._lay_out()
        for _ in range(MAX_PRESSES):
            if self.state.bench.phase in OVER:
                return make_record(self.entries)
            self._do_next()
        raise RehearsalError(f"not over after {MAX_PRESSES} presses")

    @property
    def now_ms(self) -> int:
        """Bench time."""
        return self.timeline.stamp().noted_ms

    def _lay_out(self) -> None:
        stamp = self.timeline.stamp()
        events = create(
            Now(stamp.noted_ms, self._by),
            uid=f"{Random(self.seed).getrandbits(128):032x}",
            title=self.new.title,
            recipes=self.new.recipes,
            parts=list(self.new.parts),
            properties=self.new.properties,
            adjustments=self.new.adjustments,
            away=self.new.away,
            hands=self.new.hands,
        )
        for event in events:
            self._append(event)

    @property
    def _by(self) -> str:
        return f"simulated hands, seed {self.seed}"

    def _append(self, event: object) -> None:
        stamp = self.timeline.stamp()
        entry = Entry(len(self.entries) + 1, "rehearsal", event, stamp)  # type: ignore[arg-type]
        self.entries.append(entry)
        self.state = evolve(self.state, entry.event)

    def _press(self, command: c.Command) -> None:
        for event in decide(self.state, command, Now(self.now_ms, self._by)):
            self._append(event)

    def _do_next(self) -> None:
        bench = self.state.bench
        advice = self.advice(bench, self.now_ms) if self.advice is not None else None
        actions = agenda(bench, self.now_ms, advice)
        moves = [a for a in actions if a.part is not None]
        open_now = [a for a in actions if a.blocked is None]
        # Simulated hands finish what they hold, even if something else is late by then.
        held = [a for a in open_now if a.kind in (ActionKind.ANSWER, ActionKind.FINISH)]
        free = next(iter([*held, *open_now]), None)
        if free is None or (moves and all(a.blocked for a in moves)):
            self._get_unstuck(actions)
            return
        in_hand = free.kind in (ActionKind.ANSWER, ActionKind.FINISH)
        if free.due_ms > self.now_ms and not in_hand:
            self.clock.advance(free.due_ms - self.now_ms)
        self._wait_till_back(free)
        self._do(free)

    def _wait_till_back(self, action: Action) -> None:
        """Nobody begins anything in hours away, nor what would reach into them."""
        windows = away_windows(self.new.away, self.timeline.stamp())
        until_s = 0
        work_s = 0 if action.kind is ActionKind.FINISH else action.move_s
        for window in windows:
            if window.from_s < until_s + max(1, work_s) and window.to_s < ENDLESS_S:
                until_s = window.to_s
        self.clock.advance(until_s * 1000)

    def _do(self, action: Action) -> None:
        bench = self.state.bench
        if action.kind is ActionKind.READING:
            station = bench.places[action.to_station or ""].station
            self._spend(ANSWER_S)
            self._press(c.Read(station.id, self._temperature(station)))
        elif action.kind is ActionKind.ANSWER and action.part and action.check:
            self._work_off(action)
            self._spend(ANSWER_S)
            properties = bench.parts[action.part].properties
            answer = self._answer(action.check, properties)
            self._press(c.Answer(action.part, action.check.id, answer))
        elif action.command is not None:
            if action.kind is ActionKind.FINISH:
                self._work_off(action)
            self._press(action.command)

    def _work_off(self, action: Action) -> None:
        """Let the hands-on work take its time, once for each step."""
        part = self.state.bench.parts[action.part or ""]
        if self.now_ms == part.since_ms:
            factor = self.draws.triangular(1 - self.spread, 1 + self.spread, 1)
            self._spend(action.move_s * factor)

    def _spend(self, seconds: float) -> None:
        self.clock.advance(round(seconds) * 1000)

    def _temperature(self, station: Station) -> str:
        window = station.temperature
        if window is None:
            return "20 C"
        low, high = window.low.base, window.high.base
        aim = window.aim.base if window.aim is not None else (low + high) / 2
        drawn = Quantity(self.draws.triangular(low, high, aim), "C").to(window.low.unit)
        return f"{show_number(drawn.value, 0)} {drawn.unit}"

    def _answer(self, check: Check, properties: Mapping[str, Quantity]) -> str | bool:
        if isinstance(check, NoteCheck):
            return "as it should be"
        expect = check.on_no.expect if check.on_no is not None else 0.0
        no = self.draws.random() < expect / (1 + expect)
        if isinstance(check, Choice):
            good = [option for option in check.options if option not in check.no]
            return self.draws.choice(check.no if no else good)
        if isinstance(check, ReadingCheck):
            return self._figure(check, ceiling_of(check, properties), no)
        return not no

    def _figure(self, check: ReadingCheck, ceiling: Quantity | None, no: bool) -> str:
        """A figure inside its limits, or a little under them."""
        low, high = check.low or check.high or ceiling, check.high or ceiling or check.low
        if low is None or high is None:
            return f"1 {check.unit_symbol}"
        span = abs(high.base - low.base) or abs(low.base) or 1.0
        base = low.base - 0.1 * span if no else self.draws.uniform(low.base, high.base)
        figure = Quantity(base, low.kind.base.symbol).to(check.unit_symbol)
        return f"{show_number(figure.value, 2)} {figure.unit}"

    def _get_unstuck(self, actions: tuple[Action, ...]) -> None:
        """Every part stands in another's way: a held one is resumed, as a maker would in the end.

        Time frees no station; only a move does. So if no part is held, nothing ever will.
        """
        for part in self.state.bench.parts.values():
            if part.held is not None and not part.is_out:
                self._press(c.Resume(part.name))
                return
        words = "; ".join(a.blocked for a in actions if a.blocked)
        raise RehearsalError(f"nothing can be done any more: {words or 'no action is open'}")


def rehearse(
    new: NewRun, seed: int, *, spread: float = SPREAD, advice: Advice | None = None
) -> Record:
    """The record of one rehearsed run."""
    return Rehearsal(new, seed, spread, advice).run()


@dataclass(frozen=True, slots=True)
class Odds:
    """What many rehearsals came to.

    Attributes:
        draws: how many.
        longest_s: the longest and ``median_s`` the middle time from start to end.
        late: how many had at least one overstay.
        by_step: overstays by (part, step).
    """

    draws: int
    median_s: float
    longest_s: float
    late: int
    by_step: dict[tuple[str, str], int]


def odds(records: list[Record]) -> Odds:
    """Count what went wrong over many rehearsals."""
    lengths = sorted(record.lines[-1].elapsed_s for record in records)
    by_step: dict[tuple[str, str], int] = {}
    late = 0
    for record in records:
        stays = [d for d in record.deviations if d["what"] == "overstay"]
        late += bool(stays)
        for stay in stays:
            key = (stay["part"], stay["step"])
            by_step[key] = by_step.get(key, 0) + 1
    return Odds(len(records), lengths[len(lengths) // 2], lengths[-1], late, by_step)
