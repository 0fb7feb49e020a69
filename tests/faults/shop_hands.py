"""Three runs at once, worked by one pair of hands that follows the shop's large line.

A knife in the temper oven, a blade in the soak and two fittings in the salts are set up one after
the other and worked from one agenda, planned as one problem. The hands are exact: work takes as
long as the recipe says, and every press comes at the agenda's time. Answers, readings and setup
times are random. An overrun or a dwell cut short in any log is a window the agenda lost.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from benchtimer.bench.advice import advise
from benchtimer.bench.moment import Moment, moment_of
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.plans import NO_ADVICE, Advice
from benchtimer.orders import new_run
from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.model import Station
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.rehearsal import READING_S, START_WALL_MS
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.decide import Now, create, decide
from benchtimer.run.events import Deviated
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import OVER, Part, RunState
from benchtimer.run.setup import known_of
from benchtimer.shop.shop_state import Shop, shop_of
from benchtimer.store.log import Stamp
from tests.faults.obey import drawn_run
from tests.faults.row import Row
from tests.faults.tally import Tally

KEPT = "every window of every run"
NODES = 60
"""States the planner may open after each press."""
MOST_PRESSES = 3000
MINUTE_MS = 60_000


@dataclass
class ShopHands:
    """One maker with several runs.

    Attributes:
        orders: the runs to set up, by bench time.
        seed: same seed, same day.
        now_ms: bench time.
        states: the runs by name, oldest first.
        advice: the planner's latest answer.
        lost: missed windows.
        together: most parts in places at once, over how many runs.
    """

    orders: list[tuple[int, NewRun]]
    seed: int
    now_ms: int = START_WALL_MS
    states: dict[str, RunState] = field(default_factory=dict)
    advice: Advice = NO_ADVICE
    lost: list[str] = field(default_factory=list)
    together: int = 0
    presses: int = 0

    def __post_init__(self) -> None:
        self.draws = Random(self.seed)

    def work(self) -> None:
        """Set up each run at its time, and work until all are closed.

        Raises:
            AssertionError: the work stalls.
        """
        while self.orders or any(s.bench.phase not in OVER for s in self.states.values()):
            assert self.presses < MOST_PRESSES, "not over"
            if self.orders and self.now_ms >= self.orders[0][0]:
                self._set_up(self.orders.pop(0)[1])
            self._do_next()

    @property
    def shop(self) -> Shop:
        """Everything on the bench."""
        return shop_of(self.states)

    def moment(self) -> Moment:
        """The bench now, with the planner's latest answer."""
        return moment_of(_stamp(self.now_ms), self.shop, self.advice)

    def _set_up(self, new: NewRun) -> None:
        events = create(
            Now(self.now_ms), uid="0" * 32, title=new.title, recipes=new.recipes,
            parts=list(new.parts), properties=new.properties, taken=self.shop.numbers,
        )  # fmt: skip
        self.states[f"2026-01-05-{len(self.states) + 1}"] = fold(events)
        self._plan()

    def _plan(self) -> None:
        self.advice = advise(self.shop, self.now_ms, (), self.advice, nodes=NODES)

    def _do_next(self) -> None:
        moment = self.moment()
        open_now = [a for a in moment.actions if a.blocked is None]
        # Finish the work in hand first: the hands are in one place at a time.
        held = [a for a in open_now if a.kind in (ActionKind.ANSWER, ActionKind.FINISH)]
        action = next(iter([*held, *open_now]), None)
        comes_ms = self.orders[0][0] if self.orders else None
        if comes_ms is not None and not held and (action is None or action.due_ms > comes_ms):
            self.now_ms = max(self.now_ms, comes_ms)
        elif action is None:
            self._replace_bath(moment)
        elif not held and action.due_ms > self.now_ms:
            self.now_ms = action.due_ms  # time alone changes what comes next, so check again
        else:
            self._do(moment, action)

    def _replace_bath(self, moment: Moment) -> None:
        """With every part waiting, refill a bath that is out of service and put it back.

        Raises:
            AssertionError: none is out of service, so no part can ever move.
        """
        for run, state in self.states.items():
            for name, place in state.bench.places.items():
                if place.closed is not None and state.bench.phase not in OVER:
                    self._press(run, c.OpenStation(name))
                    return
        raise AssertionError(f"nothing can be done: {[a.blocked for a in moment.actions]}")

    def _do(self, moment: Moment, action: Action) -> None:
        bench = moment.bench_of(action)
        part = bench.parts.get(action.part or "")
        if self._works_off(action, part):
            return  # a reading may have lapsed meanwhile, so check again
        if action.kind is ActionKind.READING:
            station = bench.places[action.to_station or ""].station
            self.now_ms += READING_S * 1000
            self._press(action.run, c.Read(station.id, self._temperature(station)))
        elif action.kind is ActionKind.ANSWER and part is not None and action.check is not None:
            answer = action.check.simulate(self.draws, known_of(bench, part))
            self._press(action.run, c.Answer(part.name, action.check.id, answer))
        elif action.kind is ActionKind.ASK and action.check is not None:
            looked_up = str(action.check.simulate(self.draws, {}))
            self._press(action.run, c.Prepare(action.item, said=looked_up))
        elif action.kind is ActionKind.RESUME and part is not None and action.command is None:
            self._press(action.run, c.Scrap(part.name, part.held or ""))
        elif action.command is not None:
            if action.kind is ActionKind.MAKE_UP:
                self.now_ms += action.move_s * 1000
            self._press(action.run, action.command)

    def _works_off(self, action: Action, part: Part | None) -> bool:
        """Let each step's hands-on work take its time once; return whether it just did."""
        in_hand = action.kind in (ActionKind.ANSWER, ActionKind.FINISH)
        if part is None or not in_hand or self.now_ms != part.since_ms or not action.move_s:
            return False
        self.now_ms += action.move_s * 1000
        return True

    def _press(self, run: str, command: c.Command) -> None:
        state, around = self.states[run], self.shop.around(run)
        events = decide(state, command, Now(self.now_ms), around)
        self.states[run] = fold(events, state)
        self.presses += 1
        self.lost += [
            f"{run}: {event.part} {event.what}, {event.limit}, was {event.found}"
            for event in events
            if isinstance(event, Deviated) and event.what in ("early", "overrun")
        ]
        self.together = max(self.together, len(self._in_places()))
        self._plan()

    def _in_places(self) -> set[str]:
        """The runs with a part in a place whose window ends."""
        found = set()
        for run, part in self.shop.parts():
            dwell = self.states[run].bench.step_of(part).dwell
            if part.station is not None and dwell is not None and not dwell.is_rest:
                found.add(run)
        return found

    def _temperature(self, station: Station) -> str:
        window = station.temperature
        if window is None:
            return "20 C"
        low, high = window.min.base, window.max.base
        aim = window.target.base if window.target is not None else (low + high) / 2
        drawn = Quantity(self.draws.triangular(low, high, aim), "C").to(window.min.unit)
        return f"{show_number(drawn.value, 0)} {drawn.unit}"


def _stamp(now_ms: int) -> Stamp:
    return Stamp(now_ms, None, now_ms, now_ms, 0)


def drawn_day(seed: int) -> ShopHands:
    """Three runs set up at random times, so they meet in different places."""
    draws, shelf = Random(seed), RecipeFiles()
    knife = new_run(shelf, "temper-cycles", ["knife"])
    blade = new_run(shelf, "etch-darken", ["blade"])
    fittings = new_run(shelf, "hot-black", ["bolster", "ferrule"])
    orders = [
        (START_WALL_MS + draws.randrange(0, 240) * MINUTE_MS, new)
        for new in (knife, blade, fittings)
    ]
    return ShopHands(sorted(orders, key=lambda order: order[0]), seed)


def tight_day(seed: int) -> ShopHands:
    """Random recipes with tight windows over the same small tanks, one or two parts a run."""
    drawn = drawn_run(seed)
    runs = [
        NewRun(f"run {number}", drawn.recipes, drawn.parts[number::3])
        for number in range(3)
        if drawn.parts[number::3]
    ]
    draws = Random(seed)
    comes_ms = sorted(START_WALL_MS + draws.randrange(0, 30) * MINUTE_MS for _ in runs)
    return ShopHands(list(zip(comes_ms, runs, strict=True)), seed)


def lost(day: ShopHands) -> str | None:
    """The losses of a day, in words; None without a loss."""
    try:
        day.work()
    except AssertionError as error:
        return f"seed {day.seed}: {error}"
    return f"seed {day.seed}: {day.lost[0]}" if day.lost else None


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` days of three runs, and as many with tight windows."""
    rows = []
    for make, what in ((drawn_day, "of three trades"), (tight_day, "with tight windows")):
        tally = Tally()
        for number in range(tries):
            tally.tried += 1
            wrong = lost(make(seed * 1_000_000 + number))
            if wrong is not None:
                tally.wrong(wrong)
        rows.append(tally.row(f"days {what}, three runs by exact hands that obey one line", KEPT))
    return rows
