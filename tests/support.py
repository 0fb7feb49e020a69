"""A small recipe and a bench without a disk, for tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchtimer.bench.moment import Moment, moment_of
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.plans import Advice, part_key, stage_of
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from benchtimer.run.actions import NO_PLAN, ActionKind, PlanTimes
from benchtimer.run.agenda import agenda
from benchtimer.run.commands import Command
from benchtimer.run.decide import Now, create, decide
from benchtimer.run.events import Event
from benchtimer.run.evolve import fold
from benchtimer.run.readiness import wants_reading
from benchtimer.run.refusals import ReadingFirst
from benchtimer.run.run_state import Bench, Part, PartPhase, RunPhase, RunState
from benchtimer.run.setup import setup_pages
from benchtimer.run.surroundings import ALONE, Surroundings
from benchtimer.shop.shop_state import shop_of
from benchtimer.store.log import Stamp
from benchtimer.view.alarm import Alarm, alarms_at

MINUTE = 60_000

SMALL = """
schema = 1
title = "Dip and look"

[[station]]
id = "tank"
title = "Tank"
holds = 1
temperature = { min = "60 C", max = "70 C", ceiling = "80 C", every = "10 min" }

[[station]]
id = "rack"
title = "Rack"
holds = 4

[[hazard]]
before = "tank"
title = "Hot tank"
text = "It is hot."
wear = ["gloves"]

[[step]]
id = "prepare"
title = "Prepare"
hands = "60 s"

[[step]]
id = "dip"
title = "Dip"
at = "tank"
hands = "20 s"
dwell = { min = "4 min", target = "5 min", max = "8 min" }

[[step]]
id = "look"
title = "Look"
hands = "30 s"
[[step.check]]
id = "even"
kind = "yes-no"
ask = "Is it even?"
send = { no = { to = "prepare", limit = 2, expect = 0.5 } }

[[step]]
id = "hang"
title = "Hang up"
at = "rack"
hands = "10 s"
dwell = { min = "1 h", target = "2 h" }
[[step.check]]
id = "heat"
kind = "reading"
ask = "How warm is it?"
min = "20 C"
max = "30 C"
ceiling = "50 C"

[[step]]
id = "judge"
title = "Judge"
hands = "30 s"
[[step.check]]
id = "colour"
kind = "choice"
ask = "Which colour?"
options = ["black", "grey"]
send = { grey = { to = "dip", limit = 1 } }
[[step.check]]
id = "words"
kind = "note"
ask = "Anything else?"
"""

TEMPERED = SMALL.replace(
    'min = "20 C"\nmax = "30 C"\nceiling = "50 C"',
    'ceiling_from = { property = "temper", margin = "45 F" }',
).replace(
    "[[station]]",
    '[[property]]\nid = "temper"\nask = "At what heat was it tempered?"\n[[station]]',
    1,
)
"""The small recipe for blades, whose temper sets a ceiling."""


GEARED = (c.Acknowledge("Hot tank"), c.Start())
"""The presses that start a run of the small recipe."""

READY = (*GEARED, c.Read("tank", "65 C"))
"""The same presses and a reading of the tank, so that the first part can go in."""


def start(driver: OpenBench, name: str) -> None:
    """Set a run up as its board asks, page by page and bath by bath, and start it."""
    while (bench := driver.state(name).bench).phase is RunPhase.IDLE:
        action = agenda(bench, driver.stamp().noted_ms)[0]
        if action.kind is ActionKind.ASK:  # the flash point of an oil
            driver.press(name, c.Prepare(action.item, said="80 C"))
        else:
            assert action.command is not None
            driver.press(name, action.command)


def small_recipe(text: str = SMALL) -> Recipe:
    """The small recipe, or another one."""
    return parse_recipe(text.encode(), name="small.toml", default_id="small")


OWN = "2026-03-27-2"
"""The run of a maker with other open runs."""


def _clock(t_ms: int) -> str:
    """Bench time as a time of day, counted from midnight."""
    return f"{t_ms // 3_600_000:02}:{t_ms // MINUTE % 60:02}"


@dataclass
class Hands:
    """A maker who presses keys at a run in memory.

    Attributes:
        geared: has also read the pages that the start does not ask for.
        reads: reads a bath when the engine asks, and then retries the refused press.
        beside: hands at the other runs on the bench, by run name.
    """

    names: tuple[str, ...] = ("bolster", "ferrule", "butt cap")
    recipe: Recipe = field(default_factory=small_recipe)
    now_ms: int = 1_000_000
    started: bool = True
    geared: bool = True
    reads: bool = True
    state: RunState = field(default_factory=RunState)
    events: list[Event] = field(default_factory=list)
    beside: dict[str, Hands] = field(default_factory=dict)

    def __post_init__(self) -> None:
        created = create(
            Now(self.now_ms),
            uid="0" * 32,
            title="Test",
            recipes={"small": recipe_table(self.recipe)},
            parts=[(name, "small") for name in self.names],
        )
        self._take(created)
        if self.started:
            asked = {page.title for page in setup_pages(self.state.bench)}
            for hazard in self.recipe.hazard:
                if self.geared or hazard.title in asked:
                    self(c.Acknowledge(hazard.title))
            self(c.Start())

    def __call__(self, command: Command, after_ms: int = 1000) -> list[Event]:
        """Press a key, one second later by default."""
        self.now_ms += after_ms
        try:
            events = decide(self.state, command, Now(self.now_ms), self.around)
        except ReadingFirst:
            if not self.reads:
                raise
            self._read_all()
            events = decide(self.state, command, Now(self.now_ms), self.around)
        self._take(events)
        return events

    @property
    def around(self) -> Surroundings:
        """The limits that the other runs on the bench set for this one."""
        if not self.beside:
            return ALONE
        others = {name: hands.state for name, hands in self.beside.items()}
        return shop_of({**others, OWN: self.state}, clock=_clock).around(OWN)

    def _read_all(self) -> None:
        """Enter a reading inside the window for each bath that needs one."""
        for name, place in self.state.bench.places.items():
            window = place.station.temperature
            if window is not None and wants_reading(self.state.bench, place, self.now_ms):
                reading = str(window.target or window.min)
                self._take(decide(self.state, c.Read(name, reading), Now(self.now_ms)))

    def _take(self, events: list[Event]) -> None:
        self.events += events
        self.state = fold(events, self.state)

    def part(self, name: str = "bolster") -> Part:
        """A part as it is now."""
        return self.state.bench.parts[name]

    def to_tank(self, name: str = "bolster", prepare_ms: int = MINUTE) -> None:
        """Bring a new part to the tank."""
        self(c.Begin(name))
        self(c.Finish(name), prepare_ms)
        if self.part(name).phase is PartPhase.WAITING:
            self(c.Begin(name), 0)  # the bath needed a new reading first
        self(c.Finish(name), 20_000)


def moment_at(
    states: RunState | Mapping[str, RunState],
    stamp: Stamp,
    plan: PlanTimes = NO_PLAN,
    end_ms: int | None = None,
    run: str = "r",
) -> Moment:
    """The moment of a bench with one run or several.

    Args:
        states: the state of the run, or the states of several by name.
        stamp: the time.
        plan: the planner's times for the parts of the one run.
        end_ms: when the last part is done, by the plan.
        run: the name of the one run.
    """
    if not isinstance(states, RunState):
        return moment_of(stamp, shop_of(states))
    stages = {part_key(run, name): stage_of(p) for name, p in states.bench.parts.items()}
    begin, latest = (
        {part_key(run, name): t_ms for name, t_ms in times.items()}
        for times in (plan.begin_ms, plan.put_off_ms)
    )
    return moment_of(stamp, shop_of({run: states}), Advice(begin, latest, stages, end_ms=end_ms))


def alarms_of(run: str, bench: Bench, now_ms: int, plan: PlanTimes = NO_PLAN) -> list[Alarm]:
    """The alarms of a bench with one run, at a bench time."""
    stamp = Stamp(now_ms, None, now_ms, 1_770_000_000_000 + now_ms, 0)
    return alarms_at(moment_at(RunState(bench), stamp, plan, run=run))


def kinds(events: list[Event]) -> list[str]:
    """The names of events, for short comparisons."""
    return [type(event).__name__ for event in events]


def table(recipe: Recipe) -> dict[str, Any]:
    """A recipe's table."""
    return recipe_table(recipe)
