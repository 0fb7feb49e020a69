"""Clock faults: set by a day or ten years, slow, asleep, restarted, started in 1970.

The campaign keeps its own correct clock and does to the machine's clocks what time services,
people, batteries and lids do. After each step the bench must show the elapsed time of that
clock, or an unchanged time while it can't be known. The log must have each setting of the clock
once, and nothing else.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.run.events import ClockJumped, Reopened
from tests.faults.bench_work import NOON, PARTS, Hands, dies, folder, on_disk, same_benches
from tests.faults.row import Row
from tests.support import READY, SMALL, small_recipe, table

SECOND, MINUTE, HOUR, DAY = 1000, 60_000, 3_600_000, 86_400_000
YEAR = 365 * DAY
STEPS = 12

_WIDE = {"small": table(small_recipe(SMALL.replace("holds = 1", "holds = 3", 1)))}
WIDE = NewRun("Campaign", _WIDE, [(name, "small") for name in PARTS])
"""A run with room for several parts in the tank."""


@dataclass
class World:
    """The true time, and a bench on a machine that doesn't know it.

    Attributes:
        passed_ms: true time since the beginning.
        unknown_ms: the part of it that can't be known now.
        jumps: settings of the clock the log must have.
        wrong: the faults found.
    """

    place: Path
    rng: random.Random
    clock: ManualClock = field(default_factory=lambda: ManualClock(NOON, boot="boot 0"))
    passed_ms: int = 0
    unknown_ms: int = 0
    jumps: list[int] = field(default_factory=list)
    wrong: str = ""
    driver: OpenBench = field(init=False)
    hands: Hands = field(init=False)
    name: str = ""
    boots: int = 0

    def __post_init__(self) -> None:
        self.driver = drive(self.place, self.clock)
        self.hands = Hands(self.driver, self.clock, self.rng)
        self.name = self.hands.set_up()
        self.begin_ms = self.driver.stamp().noted_ms

    def passes(self, ms: int) -> None:
        """Let time pass on the running machine."""
        self.clock.advance(ms)
        self.passed_ms += ms

    def ticks(self) -> None:
        """Let the board read the clock."""
        self.driver.writer.notice_clock()

    def set_by(self, ms: int) -> None:
        """Set the wall clock."""
        self.clock.set_wall(self.clock.wall_ms + ms)
        if abs(ms) >= 2 * SECOND:
            self.jumps.append(ms)

    def closes(self) -> None:
        """End the program, properly or not."""
        if self.rng.random() < 0.5:
            self.driver.close()
        else:
            dies(self.driver)

    def opens(self) -> None:
        """Start the program again."""
        self.driver = self.hands.driver = drive(self.place, self.clock)

    def restarts(self, off_ms: int) -> None:
        """Restart the machine; its wall clock kept going."""
        self.boots += 1
        self.clock.restart(f"boot {self.boots}", off_ms)
        self.passed_ms += off_ms

    def check(self, after: str) -> None:
        """Check that the bench knows what can be known."""
        if self.wrong:
            return
        said_ms = self.driver.stamp().noted_ms - self.begin_ms
        if said_ms != self.passed_ms - self.unknown_ms:
            off_s = (said_ms - self.passed_ms + self.unknown_ms) / 1000
            self.wrong = f"after {after} the timers are {off_s:g} s off"
        elif not same_benches(self.driver, self.hands.states()):
            self.wrong = f"after {after} the bench is another"


def _sleep(world: World) -> str:
    """The lid is closed for nine hours; the count continues."""
    world.passes(9 * HOUR + world.rng.randrange(MINUTE))
    world.ticks()
    return "nine hours asleep"


def _jump(world: World) -> str:
    """The clock is set, once or twice in a row, by a day back to ten years forward."""
    for _ in range(world.rng.choice((1, 1, 2))):
        world.set_by(world.rng.choice((-DAY, -HOUR, HOUR, DAY, 30 * DAY, 10 * YEAR)))
        world.passes(world.rng.randrange(3 * SECOND))
        world.ticks()
    return "setting the clock"


def _summer_time(world: World) -> str:
    """The hour changes in local time; the wall clock the program reads does not."""
    world.clock.offset_s += world.rng.choice((-3600, 3600))
    world.ticks()
    return "the change of the hour"


def _smear(world: World) -> str:
    """A leap second is smeared over a day, with readings throughout."""
    way = world.rng.choice((-1, 1))
    for _ in range(100):
        world.passes(864 * SECOND)
        world.clock.set_wall(world.clock.wall_ms + way * 10)
        world.ticks()
    return "a smeared leap second"


def _reopen(world: World) -> str:
    """The program is closed and opened; sometimes the clock is set meanwhile."""
    world.closes()
    world.passes(world.rng.randrange(2 * HOUR))
    if world.rng.random() < 0.4:
        world.set_by(world.rng.choice((-DAY, DAY, 10 * YEAR)))
    world.opens()
    return "opening again"


def _power_cut(world: World) -> str:
    """The machine restarts: only the wall clock knows how long that took."""
    world.closes()
    world.restarts(world.rng.randrange(8 * HOUR))
    world.opens()
    return "a restart of the machine"


def _flat_battery(world: World) -> str:
    """The machine restarts in 1970, once or twice; the clock is set later."""
    world.closes()
    off_ms = world.rng.randrange(MINUTE, 8 * HOUR)
    true_ms = world.clock.wall_ms + off_ms
    world.restarts(off_ms)
    world.clock.set_wall(world.rng.randrange(DAY))
    world.jumps.append(0)  # the opening reports it, as far as it can be seen
    world.unknown_ms = off_ms
    world.opens()
    world.check("a start in 1970")
    worked_ms = world.rng.randrange(HOUR)
    world.passes(worked_ms)
    world.ticks()
    if world.rng.random() < 0.5:
        world.closes()
        again_ms = world.rng.randrange(HOUR)
        world.restarts(again_ms)
        world.unknown_ms = 0
        world.clock.set_wall(true_ms + worked_ms + again_ms)
        world.opens()
        return "the clock set before the next start"
    world.clock.set_wall(true_ms + worked_ms)
    world.jumps.append(0)
    world.unknown_ms = 0
    world.ticks()
    return "the clock set after a start in 1970"


WAYS = (_sleep, _jump, _jump, _summer_time, _smear, _reopen, _power_cut, _flat_battery)


def _timers(rng: random.Random) -> str:
    """One bench through a dozen clock faults."""
    with folder() as place:
        world = World(place, rng)
        try:
            for _ in range(STEPS):
                world.passes(rng.randrange(10 * MINUTE))
                before = world.clock.wall_ms, world.clock.count_ms
                world.hands.work(1, [world.name])
                world.passed_ms += world.clock.count_ms - before[1]
                world.check(rng.choice(WAYS)(world))
            return world.wrong or _entries(world)
        finally:
            world.driver.close()


def _entries(world: World) -> str:
    """The log must have each setting of the clock once, with its size."""
    events = [entry.event for entry in on_disk(world.place)]
    result = [x.by_ms for x in events if isinstance(x, ClockJumped)]
    wanted = [ms for ms in world.jumps if ms]
    if len(result) != len(world.jumps) or any(not _near(result, ms) for ms in wanted):
        return f"the log tells {result} of the clock, and it was {world.jumps}"
    if not all(x.away_ms >= 0 for x in events if isinstance(x, Reopened)):
        return "time away is negative"
    return ""


def _near(result: list[int], ms: int) -> bool:
    return any(abs(x - ms) < 2 * SECOND for x in result)


def _alarms(rng: random.Random) -> str:
    """Parts fall due while the machine sleeps; the most urgent must be called first."""
    with folder() as place:
        clock = ManualClock(NOON, boot="b")
        driver = drive(place, clock)
        try:
            name = driver.set_up(WIDE)
            for ready in READY:
                driver.press(name, ready)
            parts = rng.sample(PARTS, rng.randrange(2, len(PARTS) + 1))
            for part in parts:
                for work in (c.Begin(part), c.Finish(part), c.Finish(part)):
                    clock.advance(rng.randrange(1, MINUTE))
                    driver.press(name, work)
            clock.advance(9 * HOUR)
            clock.set_wall(clock.wall_ms + rng.choice((0, -DAY, DAY)))
            driver.writer.notice_clock()
            now_ms = driver.stamp().noted_ms
            called = agenda(driver.state(name).bench, now_ms)[: len(parts)]
            if not all(action.is_late(now_ms) for action in called):
                return "something that can wait is called for before a late part"
            order = [action.part for action in called]
            return "" if order == parts else f"{order} are called for, and {parts} would be right"
        finally:
            driver.close()


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` clock faults, a dozen to a bench, and a quarter as many long sleeps."""
    rng = random.Random(seed)
    alarms = max(1, tries // 5)
    benches = max(1, (tries - alarms) // STEPS)
    timers = _tried(_timers, benches, rng)
    fault = (
        "mixed, a dozen on each bench: the clock set by -1 day to +10 years, the hour changed, a "
        "leap second smeared, 9 hours asleep, program or machine restarted, started in 1970"
    )
    kept = "timers right to the millisecond or said to wait, every setting in the log once"
    asleep = "parts due while the machine slept for 9 hours"
    row = _row(fault, timers, kept)
    return [
        replace(row, tried=benches * STEPS),
        _row(asleep, _tried(_alarms, alarms, rng), "the late ones called first, in order"),
    ]


def _tried(one: Callable[[random.Random], str], tries: int, rng: random.Random) -> list[str]:
    found = []
    for _ in range(tries):
        try:
            found.append(one(rng))
        except Exception as error:  # any exception is a loss
            found.append(f"{type(error).__name__}: {error}")
    return found


def _row(fault: str, found: list[str], kept: str) -> Row:
    wrong = [text for text in found if text]
    return Row(fault, len(found), len(wrong), kept, next(iter(wrong), ""))
