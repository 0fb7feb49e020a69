"""Simulated hands that work jobs by the policy and press every step at the real engine.

``AtBench`` plays the policy and presses every move at a bench: it sets up runs, reads pages and
baths, begins parts, answers checks, loads and pulls parts. A press the engine refuses ends the
test, and after each move the part must be where the policy expects it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from math import exp
from random import Random
from typing import Protocol

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.clock import ManualClock
from benchtimer.job.chain import Chain
from benchtimer.job.order import split_identity
from benchtimer.job.policy import Draws, Play
from benchtimer.job.shop_work import OUT, REST, ShopWork
from benchtimer.job.workload_builder import standing_of
from benchtimer.job.worktime import WorkTime
from benchtimer.orders import new_run
from benchtimer.recipe.checks import Check
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.decide import Now, create, decide
from benchtimer.run.events import Event
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import HazardFirst, ReadingFirst
from benchtimer.run.run_state import Bench, Part, PartPhase, RunPhase, RunState
from benchtimer.run.setup import known_of
from benchtimer.shop.shop_state import Shop as BenchShop
from benchtimer.shop.shop_state import shop_of

NEAR_S = 2
"""Engine and policy agree if this close: the engine keeps whole milliseconds."""


class Workbench(Protocol):
    """Sets up runs and takes their presses."""

    def lay_out(self, new: NewRun, time: float) -> str:
        """Set up a run and return its name."""
        ...

    def press(self, run: str, command: c.Command, time: float) -> None:
        """Press at a second of the shop."""
        ...

    def bench(self, run: str) -> Bench:
        """The bench of a run, other runs included."""
        ...

    def own(self, run: str) -> Bench:
        """A run without the effects of the other runs."""
        ...

    def find(self, called: str, recipe: str) -> str | None:
        """The open run that has this part of a job in this recipe, if any."""
        ...

    def noted_ms(self, time: float) -> int:
        """Bench time at a second of the shop."""
        ...


@dataclass
class Memory:
    """A workbench without a disk.

    Attributes:
        states: the open runs; ``over`` has the others.
        logged: the events of all runs, in order.
    """

    states: dict[str, RunState] = field(default_factory=dict)
    over: dict[str, Bench] = field(default_factory=dict)
    logged: dict[str, list[Event]] = field(default_factory=dict)
    _seen: BenchShop | None = None

    def lay_out(self, new: NewRun, time: float) -> str:
        """Set up a run and return its name."""
        name = f"run {len(self.logged) + 1}"
        events = create(
            Now(_ms(time)), uid="0" * 32, title=new.title, recipes=new.recipes,
            parts=list(new.parts), properties=new.properties, jobs=new.jobs,
            taken=self._shop().numbers,
        )  # fmt: skip
        self.logged[name] = events
        self.states[name] = fold(events)
        self._seen = None
        return name

    def press(self, run: str, command: c.Command, time: float) -> None:
        """Press at a second of the shop."""
        events = decide(self.states[run], command, Now(_ms(time)), self._shop().around(run))
        self.logged[run] += events
        self.states[run] = fold(events, self.states[run])
        self._seen = None
        if isinstance(command, c.Complete):
            self.over[run] = self.states.pop(run).bench

    def bench(self, run: str) -> Bench:
        """The bench of a run, other runs included."""
        return self._shop().bench(run) if run in self.states else self.over[run]

    def own(self, run: str) -> Bench:
        """A run without the effects of the other runs."""
        return self.states[run].bench

    def _shop(self) -> BenchShop:
        if self._seen is None:
            self._seen = shop_of(self.states)
        return self._seen

    def find(self, called: str, recipe: str) -> str | None:
        """None: each part gets its own run for each recipe."""
        del called, recipe
        return None

    def noted_ms(self, time: float) -> int:
        """Bench time at a second of the shop."""
        return _ms(time)


@dataclass
class OnDisk:
    """A workbench with the real log; its clock advances to each press."""

    driver: OpenBench
    clock: ManualClock
    zero_ms: int

    def _go(self, time: float) -> None:
        self.clock.advance(max(0, self.zero_ms + _ms(time) - self.clock.wall_ms))

    def lay_out(self, new: NewRun, time: float) -> str:
        """Set up a run and return its name."""
        self._go(time)
        return self.driver.set_up(new)

    def press(self, run: str, command: c.Command, time: float) -> None:
        """Press at a second of the shop."""
        self._go(time)
        self.driver.press(run, command)

    def bench(self, run: str) -> Bench:
        """The bench of a run, other runs included."""
        return self.driver.state(run).bench

    def own(self, run: str) -> Bench:
        """A run without the effects of the other runs."""
        return self.bench(run)

    def find(self, called: str, recipe: str) -> str | None:
        """The open run that has this part of a job in this recipe, if any."""
        for run in self.driver.names:
            bench = self.bench(run)
            for name, who in bench.jobs.items():
                part = bench.parts[name]
                if who == called and part.recipe == recipe and not part.is_out:
                    return run
        return None

    def noted_ms(self, time: float) -> int:
        """Bench time at a second of the shop."""
        self._go(time)
        return self.driver.stamp().noted_ms


TEMPER = "400 F"
"""The answer about a blade's temper where a recipe asks."""

_RECIPES = RecipeFiles()


@cache
def run_of(recipe: str, called: str) -> NewRun:
    """The run of a recipe with one part of a job."""
    asks = any(prop.id == "temper" for prop in _RECIPES.find(recipe).property)
    return new_run(_RECIPES, recipe, [called], about=[f"{called}.temper={TEMPER}"] if asks else [])


def _ms(time: float) -> int:
    return round(1000 * time)


class OwnLuck(Draws):
    """Luck independent of the promise: its own random stream, one draw after another.

    Args:
        rng: the random source.
        spread: of the hands-on times.
        chances: the true chance of each send-back answer, by its key; the recipe's if None.
    """

    def __init__(
        self, rng: Random, spread: float, chances: Callable[[str, float], float] | None = None
    ) -> None:
        super().__init__()
        self._rng, self._spread, self._chances = rng, spread, chances

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the hands-on time of a step."""
        del piece, index, visit
        return exp(self._rng.gauss(0, self._spread))

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part back."""
        del piece, visit
        for number, look in enumerate(chain.links[index].looks):
            left = self._rng.random()
            for a, (answer, chance) in enumerate(zip(look.answers, look.chances, strict=True)):
                left -= chance if self._chances is None else self._chances(answer.key, chance)
                if left < 0:
                    return number, a
        return None


@dataclass(frozen=True, slots=True)
class _Done:
    """One step of a move: its length, and the answer that sent the part back, if any."""

    index: int
    hands_s: float
    sent: str | None = None


class _Heard(Draws):
    """Draws that also pass their results to a play at the bench."""

    def __init__(self, draws: Draws, at_bench: AtBench) -> None:
        super().__init__()
        self._draws, self._at_bench = draws, at_bench

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the hands-on time of a step."""
        factor = self._draws.hands(piece, index, visit)
        self._at_bench.heard(piece, index, factor)
        return factor

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part back."""
        return self._draws.sent(piece, chain, index, visit)


class AtBench(Play):
    """A play of the policy, pressed at a workbench.

    Args:
        shop: the jobs to do.
        draws: the random results.
        bench: the workbench that takes the presses.
        worked: the hours actually worked.

    Attributes:
        presses: the number of presses so far.
        scrapped: parts stopped by their recipe, in order.
    """

    def __init__(
        self,
        shop: ShopWork,
        draws: Draws,
        bench: Workbench,
        worked: WorkTime | None = None,
    ) -> None:
        self.bench = bench
        self.presses = 0
        self.scrapped: list[str] = []
        self._runs: dict[tuple[int, int], str] = {}
        self._steps: list[_Done] = []
        self._backs: list[float] = []
        self._moves = False
        self._rng = Random(1)
        super().__init__(shop, _Heard(draws, self), worked or shop.hours, acts=True)

    # ------------------------------------------------------------------ listen to the policy

    def heard(self, k: int, index: int, factor: float) -> None:
        """The hands-on time of a step at the bench."""
        self._steps.append(_Done(index, self.chains[k].links[index].hands_s * factor))

    def _looked(self, k: int, index: int, sent: tuple[int, int] | None, time: float) -> int | None:
        before = dict(self.sent[k])
        to = super()._looked(k, index, sent, time)
        if to is not None:
            key = next(key for key, n in self.sent[k].items() if n != before.get(key, 0))
            self._steps[-1] = _Done(index, self._steps[-1].hands_s, key)
        return to

    def _move(self, k: int, first: int, start: float, *, pulled: bool) -> float:
        self._steps, self._moves = [], True
        self._backs.clear()
        end = super()._move(k, first, start, pulled=pulled)
        self._moves = False
        time = start
        for done in self._steps:
            put_down = bool(self._backs) and done is self._steps[-1]
            time = self._work(k, done, time, put_down=put_down)
        for back in self._backs:
            self._send_back(k, back)
        self._agree(k, end)
        return end

    def _put_back(self, k: int, index: int, time: float) -> float:
        end = super()._put_back(k, index, time)
        if self._moves:
            self._backs.append(end)
        else:
            self._send_back(k, end)
        return end

    # ------------------------------------------------------------------ presses

    def _send_back(self, k: int, time: float) -> None:
        """Send a part back by hand to where the policy puts it."""
        link = self.chains[k].links[self.step[k]]
        run = self._runs[k, link.number]
        self._press(run, c.SendBack(self._name(run, k), link.step, "its pull can't be"), time)

    def _work(self, k: int, done: _Done, time: float, *, put_down: bool) -> float:
        """Press one step from beginning to end; return when it ended."""
        link = self.chains[k].links[done.index]
        run = self._run(k, link.number, time)
        name = self._name(run, k)
        for _ in range(2):  # a pull is never refused, but a page or a bath reading may follow it
            if self._part(run, name).phase is not PartPhase.IN_HAND:
                self._press(run, c.Begin(name), time)
        part = self._part(run, name)
        step = self.bench.bench(run).step_of(part)
        assert (part.phase, step.id) == (PartPhase.IN_HAND, link.step), (name, part, link.step)
        time += done.hands_s
        sent = done.sent.rpartition("/")[::2] if done.sent is not None else None
        for check in step.check:
            key = f"{link.recipe}/{step.id}/{check.id}"
            wanted = sent[1] if sent is not None and sent[0] == key else None
            self._press(run, c.Answer(name, check.id, self._said(run, name, check, wanted)), time)
            if wanted is not None:
                self._after_send(k, run, name, time)
                return time
        part = self._part(run, name)
        in_hand = part.phase is PartPhase.IN_HAND and self.bench.bench(run).step_of(part) is step
        if in_hand and not put_down:
            self._press(run, c.Finish(name), time)
        self._close(k, link.number, time)
        return time

    def _after_send(self, k: int, run: str, name: str, time: float) -> None:
        part = self._part(run, name)
        if part.held is not None:  # stopped: a new blank begins
            self._press(run, c.Scrap(name, part.held), time)
            self.scrapped.append(self.shop.pieces[k].name)
            self._complete(run, time)
            self._runs = {at: r for at, r in self._runs.items() if at[0] != k}

    def _said(self, run: str, name: str, check: Check, wanted: str | None) -> str | bool:
        """An answer that sends the part back as wanted, or one that doesn't."""
        known = known_of(self.bench.bench(run), self._part(run, name))
        for _ in range(10_000):
            answer = check.simulate(self._rng, known)
            verdict = check.judge(answer, known)
            passes = verdict.key not in check.send and not verdict.above_ceiling
            if verdict.key == wanted if wanted is not None else passes:
                return answer
        raise AssertionError(f"{check.id} is never answered with {wanted}")

    def _run(self, k: int, number: int, time: float) -> str:
        """The run of a piece in a recipe of its chain; sets one up if needed."""
        if (k, number) not in self._runs:
            called, recipe = self.shop.pieces[k].name, self.chains[k].recipes[number]
            if number and (k, number - 1) in self._runs:
                self._close(k, number - 1, time, last=True)
            found = self.bench.find(called, recipe)
            run = found or self.bench.lay_out(run_of(recipe, called), time)
            self._runs[k, number] = run
            self._set_up(run, time)
        return self._runs[k, number]

    def _set_up(self, run: str, time: float) -> None:
        """Read, mix, heat and answer what the run asks for, and start it."""
        # A closed run takes its answers along, so each run gives its own.
        while (bench := self.bench.own(run)).phase is RunPhase.IDLE:
            action = agenda(bench, self._noted(time))[0]
            command = action.command
            if action.kind is ActionKind.ASK:  # the flash point of an oil
                command = c.Prepare(action.item, said="80 C")
            assert command is not None
            self._press(run, command, time)
            if isinstance(command, c.Heat):  # the policy itself waits for the heat
                self._read(run, command.station, time)

    def _read(self, run: str, station: str, time: float) -> None:
        window = self.bench.bench(run).places[station].station.temperature
        if window is not None:
            self.bench.press(run, c.Read(station, str(window.target or window.min)), time)

    def _noted(self, time: float) -> int:
        return self.bench.noted_ms(time)

    def _close(self, k: int, number: int, time: float, *, last: bool = False) -> None:
        """End a finished part, after its last dwell if it has one, and its run."""
        run = self._runs.get((k, number))
        if run is None:
            return
        name = self._name(run, k)
        if last and self._part(run, name).phase is PartPhase.DWELLING:
            self._press(run, c.Begin(name), time)
        self._complete(run, time)

    def _complete(self, run: str, time: float) -> None:
        bench = self.bench.bench(run)
        if bench.phase is RunPhase.RUNNING and all(p.is_out for p in bench.parts.values()):
            self._press(run, c.Complete(), time)

    def _press(self, run: str, command: c.Command, time: float) -> None:
        """Press, after reading any page or bath the engine asks for first."""
        for _ in range(20):
            try:
                self.presses += 1
                self.bench.press(run, command, time)
                return
            except HazardFirst as first:
                self.bench.press(run, c.Acknowledge(first.hazard), time)
            except ReadingFirst as first:
                self._read(run, first.place, time)
        raise AssertionError(f"{run} never takes {command}")

    def _name(self, run: str, k: int) -> str:
        """The short name of a piece in a run."""
        called = self.shop.pieces[k].name
        jobs = self.bench.bench(run).jobs
        return next((n for n, who in jobs.items() if who == called), split_identity(called)[1])

    def _part(self, run: str, name: str) -> Part:
        return self.bench.bench(run).parts[name]

    def _agree(self, k: int, time: float) -> None:
        """Check that the part is where the policy expects it."""
        link = self.chains[k].links[min(self.step[k], len(self.chains[k].links) - 1)]
        run = self._runs.get((k, link.number))
        if run is None or self.where[k] == OUT:
            return  # it waits for a recipe that is not set up yet
        part = self._part(run, self._name(run, k))
        seen = standing_of(self.bench.bench(run), part, self._noted(time))
        step = seen.step + self.chains[k].starts[link.number]
        assert (seen.where, step) == (self.where[k], self.step[k]), (part, link.step)
        if seen.where != REST:
            assert abs(seen.since_s) <= NEAR_S, (part, seen.since_s)
