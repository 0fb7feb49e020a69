"""Engine, store and clock against a simple model, press by press, through kills and jumps."""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any, ClassVar

import pytest
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from benchtimer.bench.bench_time import EARLIEST_MS
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.evolve import fold
from benchtimer.run.readiness import not_ready
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import RunState
from benchtimer.store.lease import LeaseTaken
from benchtimer.store.log import FILE_NAME, EventLog
from tests.faults.reference import (
    CHECKS,
    DEGREES,
    STEPS,
    Bench,
    No,
    Reference,
    verdict_of,
    waits,
)
from tests.faults.row import Row
from tests.faults.tally import Tally
from tests.support import GEARED, MINUTE, small_recipe, table

NOON = 1_770_000_000_000
NAMES = ("bolster", "ferrule", "butt cap")
SMALL = table(small_recipe())
STEP_COUNT = 60
RUNS = 2
WHICH = st.integers(0, RUNS - 1)
"""The run that gets the presses."""

PARTS = st.sampled_from([*NAMES, "pin", "nobody"])
STATIONS = st.sampled_from(["tank", "rack", "nowhere"])
READINGS = st.sampled_from([*DEGREES, "nonsense"])
ANSWERS = st.one_of(
    st.builds(c.Answer, PARTS, st.just("even"), st.booleans()),
    st.builds(c.Answer, PARTS, st.just("heat"), READINGS),
    st.builds(c.Answer, PARTS, st.just("colour"), st.sampled_from(["black", "grey", "red"])),
    st.builds(c.Answer, PARTS, st.just("words"), st.sampled_from(["well", " "])),
)
OTHERS = st.one_of(
    st.builds(c.Begin, PARTS, st.booleans()),
    st.builds(c.TakeOut, PARTS),
    st.builds(c.PutBack, PARTS),
    st.builds(c.Read, STATIONS, READINGS),
    st.builds(c.SkipReading, STATIONS, st.sampled_from([*c.NO_READING, "no wish to"])),
    st.builds(c.Heat, STATIONS),
    st.builds(c.BeginMakeUp, STATIONS),
    st.builds(c.EndMakeUp, STATIONS),
    st.builds(c.SendBack, PARTS, st.sampled_from(STEPS)),
    st.builds(c.Skip, PARTS, st.sampled_from([*STEPS, None]), st.just("no time")),
    st.builds(c.Hold, st.one_of(st.none(), PARTS)),
    st.builds(c.Resume, st.one_of(st.none(), PARTS)),
    st.builds(c.AddPart, st.just("pin"), st.just("small")),
    st.builds(c.CloseStation, STATIONS),
    st.builds(c.OpenStation, STATIONS),
    st.builds(c.Note, st.just("a word"), st.one_of(st.none(), PARTS)),
    st.builds(c.Judge, PARTS, st.sampled_from(c.VERDICTS)),
    st.just(c.Acknowledge("Hot tank")),
)
GIVEN: dict[str, tuple[str | bool, ...]] = {
    "even": (True, False), "heat": ("25 C", "90 C"), "colour": ("black", "grey"),
    "words": ("well",),
}  # fmt: skip

FITTING: dict[type[c.Command], list[c.Command]] = {
    c.TakeOut: [c.TakeOut(name) for name in NAMES],
    c.PutBack: [c.PutBack(name) for name in NAMES],
    c.Finish: [c.Finish(name) for name in NAMES],
    c.SendBack: [c.SendBack(name, step) for name in NAMES for step in STEPS],
    c.Skip: [c.Skip(name, step, "late") for name in NAMES for step in (*STEPS[2:], None)],
    c.Hold: [c.Hold(name) for name in (*NAMES, None)],
    c.Resume: [c.Resume(name) for name in (*NAMES, None)],
    c.Answer: [
        c.Answer(name, check, answer)
        for name in NAMES
        for check, answers in GIVEN.items()
        for answer in answers
    ],
    c.OpenStation: [c.OpenStation(name) for name in ("tank", "rack")],
    c.Read: [c.Read("tank", "65 C"), c.Read("tank", "140 F")],
    c.SkipReading: [c.SkipReading("tank", "by eye")],
}  # fmt: skip
"""Presses rarely possible by chance: the test picks one that is possible."""

LAST = st.one_of(
    *[st.just(c.Start())] * 8,
    *[st.just(c.Complete())] * 2,
    st.builds(c.Abort),
    st.builds(c.Scrap, PARTS),
)
AGO_MS = st.sampled_from([-1000, 0, 1000, 10_000, MINUTE, 10 * MINUTE])
WHILE_MS = st.sampled_from([0, 1, 1000, 20_000, MINUTE, 5 * MINUTE, 3_600_000, 9 * 3_600_000])
JUMPS_MS = st.sampled_from([-86_400_000, -3_600_000, -1500, 1500, 3_600_000, 315_576_000_000])


class Shop(RuleBasedStateMachine):
    """Any presses at any time; the machine dies, sleeps and loses its clock."""

    steps: ClassVar[int] = 0
    presses: ClassVar[int] = 0
    kills: ClassVar[int] = 0
    seen: ClassVar[Counter[str]] = Counter()

    def __init__(self) -> None:
        super().__init__()
        self.home = Path(tempfile.mkdtemp(prefix="benchtimer-model-"))
        self.folder = self.home / "0"
        self.clock = ManualClock(NOON, boot="first")
        self.now_ms = NOON
        self.driver = drive(self.folder, self.clock)
        self.watcher: OpenBench | None = None
        self.undated = False
        self.names: list[str] = []
        self.models = [Reference(NAMES, NOON) for _ in range(RUNS)]
        for model in self.models:
            model.beside = [other for other in self.models if other is not model]
        self.run = 0

    @property
    def name(self) -> str:
        """The run that gets the presses."""
        return self.names[self.run]

    @property
    def model(self) -> Reference:
        """Its model."""
        return self.models[self.run]

    @initialize(ahead=st.lists(st.tuples(WHICH, st.sampled_from(NAMES)), max_size=20))
    def set_up(self, ahead: list[tuple[int, str]]) -> None:
        """Two runs of three parts each over the same tank, usually under way."""
        parts = [(name, "small") for name in NAMES]
        new = NewRun("Test", {"small": SMALL}, parts)
        self.names = [self.driver.set_up(new) for _ in range(RUNS)]
        for run in sorted({run for run, _ in ahead}):
            self.run = run
            for command in GEARED:
                self._press(command)
        for run, name in ahead:
            self.go_on(run=run, name=name, good=True, after_ms=MINUTE)

    def _press(self, command: c.Command) -> None:
        Shop.presses += 1
        if self.undated:
            self.driver.writer.notice_clock()
            self._catch_up()
        wanted = taken = True
        try:
            self.model.do(command, self.now_ms)
        except No:
            wanted = False
        try:
            self.driver.press(self.name, command)
        except Refused:
            taken = False
        assert taken == wanted, f"{command}: taken {taken}, by the model {wanted}"

    @rule(run=WHICH, command=st.one_of(ANSWERS, OTHERS, OTHERS), after_ms=WHILE_MS)
    def press(self, run: int, command: c.Command, after_ms: int) -> None:
        """Any press."""
        self.run = run
        self._advance(after_ms)
        self._press(command)

    @rule(run=WHICH, name=st.sampled_from(NAMES), good=st.sampled_from([True, True, False]),
          after_ms=WHILE_MS)  # fmt: skip
    def go_on(self, run: int, name: str, good: bool, after_ms: int) -> None:
        """The recipe's next press for a part."""
        self.run = run
        self._advance(after_ms)
        part = self.model.bench["parts"][name]
        asked = [k for k in CHECKS.get(part["step"], ()) if part["answers"].get(k, True)]
        if part["phase"] == "in hand" and asked:
            answers: dict[str, str | bool] = {
                "even": good, "heat": "25 C" if good else "65 C",
                "colour": "black" if good else "grey", "words": "well",
            }  # fmt: skip
            self._press(c.Answer(name, asked[0], answers[asked[0]]))
            return
        wish = c.Finish(name) if part["phase"] == "in hand" else c.Begin(name, anyway=good)
        if not self.model.takes(wish, self.now_ms):  # the page or the bath may come first
            self._press(c.Acknowledge("Hot tank"))
            self._press(c.Read("tank", "65 C"))
        self._press(wish)

    @rule(run=WHICH, kind=st.sampled_from(list(FITTING)), number=st.integers(0, 99),
          after_ms=WHILE_MS)  # fmt: skip
    def press_what_fits(self, run: int, kind: type[c.Command], number: int, after_ms: int) -> None:
        """A possible press of some kind, if there is one."""
        self.run = run
        self._advance(after_ms)
        fit = [x for x in FITTING[kind] if self.model.takes(x, self.now_ms)]
        if fit:
            self._press(fit[number % len(fit)])

    @rule(run=WHICH, name=st.sampled_from(NAMES), dwelt_ms=WHILE_MS, out_ms=WHILE_MS)
    def look_at_and_put_back(self, run: int, name: str, dwelt_ms: int, out_ms: int) -> None:
        """Pull a part for a look and put it back: its dwell continues."""
        self.run = run
        self._advance(dwelt_ms)
        self._press(c.TakeOut(name))
        self._advance(out_ms)
        self._press(c.PutBack(name))

    @rule(
        run=WHICH,
        command=st.one_of(st.builds(c.Undo), st.builds(c.Redo), st.builds(c.BackDate, AGO_MS)),
    )
    def correct(self, run: int, command: c.Command) -> None:
        """Undo, redo or backdate."""
        self.run = run
        self._advance(1000)
        self._press(command)

    @rule(run=WHICH, command=LAST)
    def start_or_end(self, run: int, command: c.Command) -> None:
        """Rare presses."""
        self.run = run
        self._press(command)

    @rule(after_ms=WHILE_MS)
    def wait(self, after_ms: int) -> None:
        """Time passes; the machine may sleep through it."""
        self._advance(after_ms)
        self.driver.writer.notice_clock()
        self._catch_up()

    @rule(jump_ms=JUMPS_MS, noticed=st.booleans())
    def set_wall_clock(self, jump_ms: int, noticed: bool) -> None:
        """Set the wall clock."""
        self.clock.set_wall(self.clock.wall_ms + jump_ms)
        if noticed:
            self.driver.writer.notice_clock()
            self._catch_up()

    @rule(after_ms=WHILE_MS)
    def close_and_reopen(self, after_ms: int) -> None:
        """Close and open the program."""
        self.driver.close()
        self._advance(after_ms)
        self._open()

    @rule(after_ms=WHILE_MS)
    def kill_and_reopen(self, after_ms: int) -> None:
        """Kill the process: what remains is its log, never closed."""
        Shop.kills += 1
        self._let_watcher_go()
        left = self.home / str(int(self.folder.name) + 1)
        left.mkdir()
        for name in (FILE_NAME, f"{FILE_NAME}-wal"):
            if (self.folder / name).exists():
                shutil.copy(self.folder / name, left / name)
        self.driver.close()
        shutil.rmtree(self.folder)
        self.folder = left
        self._advance(after_ms)
        self._open()

    @rule(off_ms=st.sampled_from([0, MINUTE, 9 * 3_600_000, -3_600_000, -1_700_000_000_000]))
    def switch_off_and_on(self, off_ms: int) -> None:
        """The machine was off: a new count, and the wall clock is right or nonsense."""
        self.driver.close()
        self.clock.restart(f"{self.clock.boot}'", off_ms)
        self._open()

    @rule()
    def refuse_a_second_driver(self) -> None:
        """A second driver must be refused."""
        with pytest.raises(LeaseTaken):
            drive(self.folder, self.clock)

    @rule()
    def look_on(self) -> None:
        """A watcher opens the bench, or refreshes."""
        if self.watcher is None:
            self.watcher = look_on(self.folder, self.clock)
        self.watcher.refresh()
        for name in self.names:
            assert self.watcher.state(name) == self.driver.state(name)
        if self.watcher.stamp() != self.driver.stamp():
            # A watcher's time depends on the last entry; a restart may have no run to write one.
            assert not self._is_timed

    @precondition(lambda self: self.watcher is not None)
    @rule()
    def look_away(self) -> None:
        """The watcher closes."""
        self._let_watcher_go()

    @invariant()
    def the_program_agrees_with_the_model(self) -> None:
        """Compare parts, times, holds, stations and what can be undone."""
        Shop.steps += 1
        for name, model in zip(self.names, self.models, strict=False):
            Shop.seen.update(part["phase"] for part in model.bench["parts"].values())
            state = self.driver.state(name)
            assert reported(state) == expected(model.bench)
            assert len(state.past) == len(model.past)
            assert len(state.future) == len(model.future)
        noted_ms = self.driver.stamp().noted_ms
        if not self._is_timed:
            assert noted_ms >= self.now_ms
            self.now_ms = noted_ms  # no run is under way: time may follow the wall clock
        assert noted_ms == self.now_ms

    @property
    def _is_timed(self) -> bool:
        """Whether any run has timers."""
        return any(model.bench["phase"] in ("running", "held") for model in self.models)

    def _advance(self, ms: int) -> None:
        self.clock.advance(ms)
        self.now_ms += ms

    def _open(self) -> None:
        """Open the bench again and compare it with the disk, from the first entry on."""
        log = EventLog(self.folder, read_only=True)
        stamp = log.entries_after(log.last_seq() - 1)[0].stamp
        if stamp.boot != self.clock.boot:  # only the wall clock knows, if it isn't nonsense
            wall_ms = self.clock.wall_ms
            known = wall_ms >= max(stamp.wall_ms, EARLIEST_MS)
            tells = self._is_timed and known and not self.undated  # otherwise nothing is written
            self.now_ms = stamp.noted_ms + (wall_ms - stamp.wall_ms if tells else 0)
            self.undated = not tells
        self.driver = drive(self.folder, self.clock)
        self._catch_up()
        for name in self.names:
            assert self.driver.state(name) == fold(x.event for x in log.entries(name))
        log.close()

    def _catch_up(self) -> None:
        """While no clock knows how long the machine was off, time may advance later.

        ``clocks`` checks by how much; here it must never go back.
        """
        if self.undated:
            told_ms = self.driver.stamp().noted_ms
            assert told_ms >= self.now_ms
            self.undated = told_ms == self.now_ms
            self.now_ms = told_ms

    def _let_watcher_go(self) -> None:
        if self.watcher is not None:
            self.watcher.close()
            self.watcher = None

    def teardown(self) -> None:
        """Close everything."""
        self._let_watcher_go()
        self.driver.close()
        shutil.rmtree(self.home)


def reported(state: RunState) -> dict[str, Any]:
    """The program's state in the model's terms."""
    bench = state.bench
    return {
        "phase": bench.phase.value,
        "held": bench.held is not None,
        "geared": bench.acknowledged.get("Hot tank"),
        "session": (bench.session_ms, bench.active_ms),
        "closed": {name for name, place in bench.places.items() if place.closed is not None},
        "verdict": bench.places["tank"].reading and bench.places["tank"].reading.verdict,
        "skipped": bench.places["tank"].skipped and bench.places["tank"].skipped.t_ms,
        "waits": not_ready(bench.places["tank"]) is not None,
        "parts": {
            part.name: {
                "phase": part.phase.value,
                "step": bench.step_of(part).id,
                "where": part.station,
                "since": part.since_ms,
                "held": part.held is not None,
                "answers": {key: given.above_ceiling for key, given in part.answers.items()},
                "backs": {key.split("/")[1]: n for key, n in part.sent.items()},
            }
            for part in bench.parts.values()
        },
    }


def expected(bench: Bench) -> dict[str, Any]:
    """The model's state, without its internal fields."""
    kept = ("phase", "step", "where", "since", "answers", "backs")
    return {
        "phase": bench["phase"],
        "held": bench["held"] is not None,
        "geared": bench["geared"],
        "session": (bench["session"], bench["active"]),
        "closed": set(bench["closed"]),
        "verdict": verdict_of(bench["readings"]["tank"]),
        "skipped": bench["skipped"],
        "waits": waits(bench),
        "parts": {
            name: {key: part[key] for key in kept} | {"held": part["held"] is not None}
            for name, part in bench["parts"].items()
        },
    }


def play(steps: int, seed_number: int) -> None:
    """Play about this many steps; an assertion says where program and model differ."""
    machine = seed(seed_number)(type("Shop", (Shop,), {}))
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=max(1, steps // STEP_COUNT),
            stateful_step_count=STEP_COUNT,
            deadline=None,
            database=None,
            phases=(Phase.generate, Phase.shrink),
            suppress_health_check=list(HealthCheck),
        ),
    )


def campaign(tries: int, seed: int) -> list[Row]:
    """At least this many steps, in batches with their own seeds."""
    tally = Tally()
    first, kills = Shop.steps, Shop.kills
    batch = 0
    while Shop.steps - first < tries and not tally.lost:
        batch += 1
        try:
            play(min(tries, 20_000), seed + batch)
        except AssertionError as error:
            tally.wrong(f"seed {seed + batch}: {str(error)[:500]}")
    tally.tried = Shop.steps - first
    return [
        tally.row(
            "any press at any time, accepted or refused, with undo, backdating, clock jumps, "
            f"restarts and {Shop.kills - kills:,} kills between",
            "the same presses accepted, and every part, time and hold as a simple model has it",
        )
    ]
