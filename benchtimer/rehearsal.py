"""A run in fast time with simulated hands, through the same engine as a real one.

The hands follow the agenda: they wait until the next action is due, take the recipe's time
times a drawn factor for each step, answer yes to checks except as often as the recipe expects a no,
and read temperatures inside their window. A check is part of its step's hands-on time. Draws are
seeded: the same seed gives the same record.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from statistics import median

from benchtimer.bench.advice import away_windows
from benchtimer.bench.bench_time import Timeline
from benchtimer.bench.newrun import NewRun
from benchtimer.clock import ManualClock
from benchtimer.plan.problem import ENDLESS_S
from benchtimer.plan.spread import SPREAD, draw_times_s
from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.model import Station
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from benchtimer.run.actions import NO_PLAN, Action, ActionKind, PlanTimes
from benchtimer.run.agenda import action_for, agenda
from benchtimer.run.decide import Now, decide
from benchtimer.run.evolve import evolve
from benchtimer.run.guards import joined_steps
from benchtimer.run.readiness import bad_reading, not_ready
from benchtimer.run.run_state import OVER, Bench, RunState
from benchtimer.run.setup import known_of
from benchtimer.store.log import LogEntry
from benchtimer.values import dataclass, field

START_WALL_MS = 1_767_600_000_000
"""A rehearsal begins at 2026-01-05 08:00 UTC, so that its record is always the same."""

MAX_PRESSES = 20_000
"""A rehearsal that isn't over by then never will be."""

READING_S = 4
"""Seconds to read a thermometer and enter the figure."""

Advice = Callable[[Bench, int], PlanTimes]


class RehearsalError(Exception):
    """The rehearsal came to a stop: there was nothing left to do."""


@dataclass(slots=True)
class Rehearsal:
    """One rehearsal in progress.

    Attributes:
        new: the run to rehearse.
        seed: same seed, same rehearsal.
        spread: of the hands-on times, as ``plan.spread`` defines it.
        advice: when each part's next move should begin; None follows the recipe alone.
        rng: where the draws come from.
    """

    new: NewRun
    seed: int
    spread: float = SPREAD
    advice: Advice | None = None
    clock: ManualClock = field(default_factory=lambda: ManualClock(START_WALL_MS))
    entries: list[LogEntry] = field(default_factory=list)
    state: RunState = field(default_factory=RunState)
    rng: Random = field(init=False)
    timeline: Timeline = field(init=False)

    def __post_init__(self) -> None:
        self.rng = Random(self.seed)
        self.timeline = Timeline(self.clock, None)

    def run(self) -> Record:
        """Rehearse from setup to completion.

        Raises:
            Refused: the run can't be set up.
            RehearsalError: it comes to a stop.
        """
        self._set_up()
        for _ in range(MAX_PRESSES):
            if self.state.bench.phase in OVER:
                return make_record(self.entries)
            self._do_next()
        raise RehearsalError(f"not over after {MAX_PRESSES} presses")

    @property
    def now_ms(self) -> int:
        """Bench time."""
        return self.timeline.stamp().noted_ms

    def _set_up(self) -> None:
        stamp = self.timeline.stamp()
        uid = f"{Random(self.seed).getrandbits(128):032x}"
        for event in self.new.created(Now(stamp.noted_ms, self._by), uid=uid):
            self._append(event)

    @property
    def _by(self) -> str:
        return f"simulated hands, seed {self.seed}"

    def _append(self, event: object) -> None:
        stamp = self.timeline.stamp()
        entry = LogEntry(len(self.entries) + 1, "rehearsal", event, stamp)  # type: ignore[arg-type]
        self.entries.append(entry)
        self.state = evolve(self.state, entry.event)

    def _press(self, command: c.Command) -> None:
        for event in decide(self.state, command, Now(self.now_ms, self._by)):
            self._append(event)

    def _do_next(self) -> None:
        bench = self.state.bench
        advice = self.advice(bench, self.now_ms) if self.advice is not None else NO_PLAN
        actions = agenda(bench, self.now_ms, advice)
        moves = [a for a in actions if a.part is not None]
        open_now = [a for a in actions if a.blocked is None]
        # Simulated hands finish what they hold, even if something else is late by then.
        held = [a for a in open_now if a.kind in (ActionKind.ANSWER, ActionKind.FINISH)]
        free = next(iter([*held, *open_now]), None)
        stuck = moves and all(a.blocked for a in moves) and not _waits_for_bath(bench)
        if free is None or stuck:
            self._break_deadlock(actions)
            return
        in_hand = free.kind in (ActionKind.ANSWER, ActionKind.FINISH)
        before_ms = self.now_ms
        if not in_hand:
            self.clock.advance(max(0, free.due_ms - self.now_ms))
            self._wait_till_back(free)
        if self.now_ms == before_ms:  # otherwise look again: time itself changes what comes next
            self._do(free)

    def _wait_till_back(self, action: Action) -> None:
        """Nothing starts in the hours away, or if it would run into them by plan. Work already in
        the hands is finished past the hours.
        """
        windows = away_windows(self.new.away, self.timeline.stamp())
        until_s = 0
        for window in windows:
            if window.from_s < until_s + max(1, action.move_s) and window.to_s < ENDLESS_S:
                until_s = window.to_s
        self.clock.advance(until_s * 1000)

    def _do(self, action: Action) -> None:
        if action.kind in (ActionKind.ANSWER, ActionKind.FINISH):
            action = self._worked_off(action)
        bench = self.state.bench
        if action.kind is ActionKind.READING:
            station = bench.places[action.to_station or ""].station
            self.clock.advance(READING_S * 1000)
            self._press(c.Read(station.id, self._temperature(station)))
        elif action.kind is ActionKind.ANSWER and action.part and action.check:
            known = known_of(bench, bench.parts[action.part])
            answer = action.check.simulate(self.rng, known)
            self._press(c.Answer(action.part, action.check.id, answer))
        elif action.kind is ActionKind.ASK and action.check is not None:
            looked_up = action.check.simulate(self.rng, {})
            self._press(c.Prepare(action.item, said=str(looked_up)))
        elif action.kind is ActionKind.RESUME and action.part and action.command is None:
            # Cracked, pitted or failed too often: scrap a part that its recipe stopped.
            self._press(c.Scrap(action.part, bench.parts[action.part].held or ""))
        elif action.command is not None:
            if action.kind is ActionKind.MAKE_UP:
                self.clock.advance(action.move_s * 1000)
            elif isinstance(action.command, c.Begin) and action.command.loads:
                (work_s,) = draw_times_s(self.rng, action.move_s, self.spread, 1)
                self.clock.advance(round(work_s * 1000))
            self._press(action.command)

    def _worked_off(self, action: Action) -> Action:
        """Let the hands-on work take its time, once for each step. Returns what ends it. A bath's
        reading can get too old in the meantime; then one press ends less of the move.
        """
        part = self.state.bench.parts[action.part or ""]
        if self.now_ms == part.since_ms:
            for step in joined_steps(self.state.bench, part, self.now_ms):
                (work_s,) = draw_times_s(self.rng, step.hands_s, self.spread, 1)
                self.clock.advance(round(work_s * 1000))
        return action_for(self.state.bench, part, self.now_ms) or action

    def _temperature(self, station: Station) -> str:
        window = station.temperature
        if window is None:
            return "20 C"
        low, high = window.min.base, window.max.base
        aim = window.target.base if window.target is not None else (low + high) / 2
        drawn = Quantity(self.rng.triangular(low, high, aim), "C").to(window.min.unit)
        return f"{show_number(drawn.value, 0)} {drawn.unit}"

    def _break_deadlock(self, actions: tuple[Action, ...]) -> None:
        """Every part waits for another, so replace a bath that is out of service. Only a move frees
        a station, not time, so if none is out of service, nothing ever will.
        """
        for name, place in self.state.bench.places.items():
            if place.closed is not None:
                self._press(c.OpenStation(name))
                return
        words = "; ".join(a.blocked for a in actions if a.blocked)
        raise RehearsalError(f"nothing more can be done: {words or 'no action is open'}")


def _waits_for_bath(bench: Bench) -> bool:
    """Whether parts are waiting for a bath that heats, cools or must be read again."""
    return any(not_ready(place) or bad_reading(place) for place in bench.places.values())


def rehearse(
    new: NewRun, seed: int, *, spread: float = SPREAD, advice: Advice | None = None
) -> Record:
    """The record of one rehearsed run.

    Args:
        new: the run to rehearse.
        seed: same seed, same luck.
        spread: of the hands-on times: the standard deviation of their logarithm.
        advice: plans the moves; None for a plan without one.
    """
    return Rehearsal(new, seed, spread, advice).run()


@dataclass(frozen=True, slots=True)
class Tally:
    """The result of many rehearsals.

    Attributes:
        trials: how many rehearsals.
        median_s: the median time from start to end.
        longest_s: the longest.
        late: how many had at least one overrun.
        by_step: how many overruns each (part, step) had.
    """

    trials: int
    median_s: float
    longest_s: float
    late: int
    by_step: dict[tuple[str, str], int]


def tally(records: list[Record]) -> Tally:
    """Count the overruns of many rehearsals."""
    lengths = [record.lines[-1].elapsed_s for record in records]
    by_step: dict[tuple[str, str], int] = {}
    late = 0
    for record in records:
        stays = [d for d in record.deviations if d.what == "overrun"]
        late += bool(stays)
        for stay in stays:
            key = (stay.part or "", stay.step or "")
            by_step[key] = by_step.get(key, 0) + 1
    return Tally(len(records), median(lengths), max(lengths), late, by_step)
