"""A bench: the runs to look at, the time, and a writer if it is driven from here."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.bath.bath_decide import BathCommand
from benchtimer.bath.bath_events import BathEvent
from benchtimer.bath.bath_state import Bath
from benchtimer.bench.bath_book import BathBook
from benchtimer.bench.bench_time import Timeline, bench_clock
from benchtimer.bench.jobbook import JobBook
from benchtimer.bench.moment import Moment, moment_of
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.openruns import OpenRuns
from benchtimer.bench.own_units import shop_in, unit_of
from benchtimer.bench.plans import Plans
from benchtimer.bench.wallclock import day_and_time, moment_at
from benchtimer.clock import Clock
from benchtimer.job.job_decide import JobCommand
from benchtimer.job.job_state import Job
from benchtimer.learn.learned import Learned
from benchtimer.learn.sums import OWN
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.record import Record, make_record
from benchtimer.records.record_lookup import learned_from, records_of, run_name
from benchtimer.run.commands import Command
from benchtimer.run.events import Event
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import OVER, RunState
from benchtimer.shop.clashes import OpenBath
from benchtimer.shop.hours import Hours
from benchtimer.shop.shop_state import Shop, shop_of
from benchtimer.store.index import Query
from benchtimer.store.lease import is_held
from benchtimer.store.log import EventLog, LogEntry, RunLine, Stamp, StoreError, read_through
from benchtimer.values import replace

if TYPE_CHECKING:
    from benchtimer.bench.joblook import JobLook
    from benchtimer.bench.writer import Writer
    from benchtimer.records.last_time import LastTime

MOST_RECORDS = 10
"""How many runs of a part the screen compares."""


SET_MS = 10_000
"""A smaller change of the wall clock changes no time of day on the screen."""


class LookingOn(Refused):
    """Another process drives this bench, so this one can only watch."""

    def __init__(self) -> None:
        super().__init__("Watching only", "nothing can be changed here", "")

    def __str__(self) -> str:
        return "Watching only: nothing can be changed here."


class OpenBench:
    """A bench: the runs to look at, the time, and a writer if it is driven from here.

    Args:
        folder: the data folder.
        log: its log.
        clock: the machine's clock.
        speed: 1, or how many times faster practice runs.

    Attributes:
        by: who presses the keys; empty for a watcher.
        learn_from: which runs teach times and rates (``learn.sums``).
        complaint: why the last record could not be saved as a file, if it could not.
        notices: what to say about each new run before it starts, by its name.
        runs: the runs as this process last saw them.
        timeline: bench time.

    Raises:
        StoreError: the log can't be read.
    """

    def __init__(self, folder: Path, log: EventLog, clock: Clock, speed: float) -> None:
        self.folder = folder
        self.speed = speed
        self.by = ""
        self.learn_from: tuple[str, ...] = (OWN,)
        self.complaint: str | None = None
        self.notices: dict[str, list[str]] = {}
        self.plans = Plans(folder)
        self._learned: dict[str, Learned] = {}
        self._learned_beside: tuple[tuple[str, bool], ...] = ()
        self._shop: tuple[tuple[object, ...], dict[str, RunState], Shop] | None = None
        self._kept: tuple[OpenBath, ...] | None = None
        self._moment: Moment | None = None
        self.unit = ""
        self._asked_unit = ""
        self._shown: tuple[Shop, str, Shop] | None = None
        self._writer: Writer | None = None
        self._log = log
        self._clock = bench_clock(clock, log, speed)
        self.runs = OpenRuns(log)
        # Get the number first, so that anything written during the read is read again.
        self._seq = log.last_seq()
        self.timeline = Timeline(
            self._clock, log.last_entry(), speed, log.last_dated(), log.open_from_ms()
        )

    @property
    def writer(self) -> Writer:
        """What writes here.

        Raises:
            LookingOn: another process drives this bench.
        """
        if self._writer is None:
            raise LookingOn
        return self._writer

    def write_with(self, writer: Writer) -> None:
        """Drive this bench from here."""
        self._writer = writer

    @property
    def read_only(self) -> bool:
        """Whether nothing can be changed here."""
        return self._writer is None

    @property
    def book(self) -> BathBook | None:
        """The bath book, if it can be written from here."""
        return self._writer.baths if self._writer is not None else None

    @property
    def names(self) -> list[str]:
        """The runs on the bench, oldest first, with those that ended while it was open."""
        return self.runs.names

    def open_runs(self) -> list[str]:
        """The runs on the bench that are not over, oldest first."""
        return [name for name in self.names if self.state(name).bench.phase not in OVER]

    def state(self, name: str) -> RunState:
        """The state of a run as this process last saw it."""
        return self.runs.state(name)

    def stamp(self) -> Stamp:
        """Bench time and both clocks now."""
        return self.timeline.stamp()

    def shop(self, stamp: Stamp) -> Shop:
        """Every run that is not over, and what they share. It is kept until the next press, clock
        change or day.
        """
        states = {name: self.state(name) for name in self.names}
        day = moment_at(stamp.wall_ms, stamp)
        shift = (stamp.wall_ms - stamp.noted_ms) // SET_MS
        book = self._book_open()
        about = (id(book), *map(id, states.values()), shift, day and day.date())
        if self._shop is None or self._shop[0] != about:
            said = partial(day_and_time, stamp=stamp)
            self._shop = about, states, shop_of(states, book, said)
        return self._shop[2]

    def _book_open(self) -> tuple[OpenBath, ...]:
        """The open baths in the bath book whose contents must not meet others.

        The book is read again only after a change.
        """
        if self._kept is None:
            book = BathBook(self._log)
            baths = [book.history(name).bath for name in book.names()]
            self._kept = tuple(
                OpenBath(bath.name, bath.of, bath.chemistry)
                for bath in baths
                if bath is not None and bath.is_open and bath.chemistry
            )
        return self._kept

    def read_book_again(self) -> None:
        """The bath book has changed."""
        self._kept = None

    def shown_shop(self, stamp: Stamp) -> Shop:
        """The shop with every temperature in one unit: the maker's, if one is set."""
        return self._shown_in(stamp)[2]

    def _shown_in(self, stamp: Stamp) -> tuple[Shop, str, Shop]:
        """The shop, the unit it is shown in, and the shop in that unit."""
        shop = self.shop(stamp)
        if self._shown is None or self._shown[0] is not shop or self._asked_unit != self.unit:
            unit = unit_of(shop, self.unit)
            self._shown, self._asked_unit = (shop, unit, shop_in(shop, unit)), self.unit
        return self._shown

    def moment(self, stamp: Stamp | None = None) -> Moment:
        """The bench now, or at a time already read; made once for each moment."""
        stamp = stamp if stamp is not None else self.stamp()
        _, unit, shop = self._shown_in(stamp)
        advice, last = self.plans.advice, self._moment
        same = last is not None and last.shop is shop and last.advice is advice
        if last is None or not same or last.stamp != stamp:
            last = self._moment = moment_of(stamp, shop, advice, unit)
        return last

    @property
    def driven(self) -> bool:
        """Whether any process drives this bench now, as far as this process can know."""
        return self._writer is not None or is_held(self.folder)

    @property
    def unsaved(self) -> str:
        """What must stay on the screen while something is not on the disk; empty otherwise."""
        return self._writer.unsaved if self._writer is not None else ""

    @property
    def unsaved_entries(self) -> int:
        """How many entries are not on the disk."""
        return self._writer.unsaved_entries if self._writer is not None else 0

    @property
    def probe_troubles(self) -> Sequence[str]:
        """What you must know about the probes."""
        return tuple(self._writer.probes.troubles) if self._writer is not None else ()

    def look(self) -> None:
        """Check the log and the clock for anything new, and save what can be saved.

        Raises:
            StoreError: the log can't be read, or another program has written.
        """
        if self._writer is not None:
            self._writer.notice_clock()
        else:
            self.refresh()

    def refresh(self) -> Sequence[LogEntry]:
        """Read what another process wrote; the new entries."""
        self._log.want_own_file()
        self.plans.refresh()
        fresh = self._log.entries_after(self._seq)
        if fresh:
            self.runs.follow(fresh)
            if any(isinstance(entry.event, BathEvent) for entry in fresh):
                self.read_book_again()
            self._seq = fresh[-1].seq
            self.timeline = Timeline(self._clock, fresh[-1], self.speed)
        return fresh

    def set_up(self, new: NewRun) -> str:
        """Set up a run, as ``Writer.set_up`` says."""
        return self.writer.set_up(new)

    def press(self, name: str, command: Command, at: Stamp | None = None) -> Sequence[Event]:
        """Do what is asked in a run, as ``Writer.press`` says.

        Args:
            name: the run's name.
            command: what to do.
            at: both clocks at the press; now if None.
        """
        return self.writer.press(name, command, at)

    def write_bath(self, name: str, command: BathCommand) -> Bath | None:
        """Write into the bath book, as ``Writer.write_bath`` says."""
        return self.writer.write_bath(name, command)

    def write_job(self, name: str, command: JobCommand, recipes: Collection[str]) -> Job | None:
        """Write into a job's stream, as ``Writer.write_job`` says.

        Args:
            name: the job's name.
            command: what to write.
            recipes: ids of the known recipes.
        """
        return self.writer.write_job(name, command, recipes)

    def silence(self, due: Mapping[str, str], for_ms: int) -> None:
        """Note that alarms were silenced, as ``Writer.silence`` says; who watches notes nothing."""
        if self._writer is not None:
            self._writer.silence(due, for_ms)

    def last_moment(self) -> Moment:
        """The last moment that was used; now if there was none."""
        return self._moment if self._moment is not None else self.moment()

    def record(self, name: str) -> Record:
        """The record of a run as it is now; without its baths if the disk can't be read."""
        try:
            return BathBook(self._log).record(name)
        except StoreError:
            if self._log.trouble is None:
                raise
            return make_record(self._log.entries(name))

    def learned(self, name: str) -> Learned:
        """What finished runs taught about the recipes of a run on the bench. It is read once, and
        again when a run is added or ends.
        """
        beside = tuple((run, self.state(run).bench.phase in OVER) for run in self.names)
        if beside != self._learned_beside:
            self._learned_beside, self._learned = beside, {}
        if name not in self._learned:
            self._learned[name] = self._learn(name)
        return self._learned[name]

    def _learn(self, name: str) -> Learned:
        bench = self.state(name).bench
        try:
            first = self._log.first_entry(name)
            changes = getattr(first.event, "adjustments", ()) if first is not None else ()
            return self.learned_of(bench.sources, changes)
        except StoreError:  # reported elsewhere; until it works, use the recipes' own times
            return Learned()

    def learned_of(self, recipes: Mapping[str, Recipe], adjustments: Sequence[str] = ()) -> Learned:
        """What finished runs taught about these recipes.

        Args:
            recipes: by key.
            adjustments: the changes for one run, as texts.

        Raises:
            StoreError: the log can't be read.
        """
        return learned_from(
            self._log, recipes, self.stamp().wall_ms, self.by,
            sources=self.learn_from, adjustments=adjustments,
        )  # fmt: skip

    def planned_with(self, shop: Shop) -> Shop:
        """The shop as the planner sees it: with your own times and rates."""
        states = {
            run: replace(
                state,
                bench=replace(state.bench, recipes=self.learned(run).applied(state.bench.recipes)),
            )
            for run, state in shop.states.items()
        }
        return replace(shop, states=states)

    def again(self, name: str, names: Sequence[str] = ()) -> NewRun:
        """An earlier run to set up again; see ``bench.newrun``.

        Args:
            name: the run, or ``last``.
            names: what its parts are called now; none: new names, free on this bench.

        Raises:
            NoSuchRun: there is none by that name.
            Refused: more or fewer names than it had parts.
        """
        from benchtimer.bench.newrun import run_again

        entries = self._log.entries(run_name(self._log, name))
        taken = [part for run in self.names for part in self.state(run).bench.parts]
        return read_through(self._log.path, entries, lambda some: run_again(some, names, taken))

    def last_time(self, recipe: Recipe) -> LastTime | None:
        """The last accepted try of a recipe.

        Raises:
            StoreError: the log can't be read.
        """
        from benchtimer.records.last_time import last_time

        return last_time(self._log, recipe)

    def records_with(self, part: str) -> list[Record]:
        """The records of the newest runs with a part; of the runs here if the disk is gone."""
        try:
            return list(records_of(self._log, Query(part=part), MOST_RECORDS))
        except StoreError:
            if self._log.trouble is None:
                raise
            here = [name for name in self.names if part in self.state(name).bench.parts]
            return [self.record(name) for name in here]

    def job_look(self, recipe_files: RecipeFiles, hours: Hours) -> JobLook:
        """The jobs now.

        Args:
            recipe_files: where recipes are found.
            hours: when you work.
        """
        from benchtimer.bench.joblook import JobLook

        return JobLook(self._log, recipe_files, hours, self.stamp(), self.by, self.learn_from)

    def has_jobs(self) -> bool:
        """Whether a job was ever opened here."""
        return bool(JobBook(self._log).names())

    def recent(self, limit: int = 20) -> list[RunLine]:
        """The newest runs of the log."""
        return self._log.runs(limit=limit)

    def find(self, query: Query, limit: int = 100) -> list[RunLine]:
        """The newest runs that match a query."""
        return self._log.find(query, limit)

    def verdicts(self, names: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """How parts came out in each of these runs that was judged."""
        return self._log.terms("verdict", names)

    def close(self) -> None:
        """Release the log; what is still not saved goes where ``Writer.parting`` says."""
        if self._writer is not None:
            self._writer.close()
        else:
            self._log.close()


def look_on(folder: Path, clock: Clock, *, speed: float = 1) -> OpenBench:
    """A bench to watch while another process drives it.

    Args:
        folder: the data folder.
        clock: the machine's clock.
        speed: 1, or how many times faster practice runs.

    Raises:
        StoreError: there is no log, or it can't be read.
    """
    log = EventLog(folder, read_only=True)
    with ExitStack() as opened:
        opened.callback(log.close)
        bench = OpenBench(folder, log, clock, speed)
        for line in reversed(log.runs(open_only=True)):
            bench.runs.load(line.name)
        opened.pop_all()  # a log that could be opened stays open
    return bench
