"""What the driver of a bench and a watcher have in common."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from benchtimer.bench.advised import Advice
from benchtimer.bench.again import run_again
from benchtimer.bench.joblook import JobLook
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.openruns import OpenRuns
from benchtimer.bench.plans import Plans
from benchtimer.bench.timeline import Timeline
from benchtimer.bench.wallclock import day_and_time, moment_at
from benchtimer.recipe.shelf import Shelf
from benchtimer.records.archive import records_of, run_name
from benchtimer.records.record import Record
from benchtimer.run.actions import Action
from benchtimer.run.agenda import agenda
from benchtimer.run.state import Bench, State
from benchtimer.shop.clashes import Kept
from benchtimer.shop.hours import Hours
from benchtimer.shop.state import Shop, shop_of
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog, RunLine, Stamp, read_through

SO_MANY = 10
"""How many runs of a part are compared on the screen."""


class Shown:
    """What driver and watcher have in common: runs to look at, and the time.

    Args:
        folder: the data folder.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.plans = Plans(folder)
        self._shop: tuple[tuple[object, ...], dict[str, State], Shop] | None = None
        self._agendas: dict[str, tuple[int, Bench, Advice, tuple[Action, ...]]] = {}

    _log: EventLog
    _runs: OpenRuns
    _timeline: Timeline

    @property
    def names(self) -> list[str]:
        """The runs on the bench, oldest first."""
        return self._runs.names

    def state(self, name: str) -> State:
        """The state of a run, as this process last knew it."""
        return self._runs.state(name)

    def stamp(self) -> Stamp:
        """Bench time and both clocks now."""
        return self._timeline.stamp()

    def shop(self, stamp: Stamp) -> Shop:
        """Every run that is not over, and what they have in common.

        It is made once for as long as nothing is pressed, no clock is set and the day is the same.
        """
        states = {name: self.state(name) for name in self.names}
        day = moment_at(stamp.wall_ms, stamp)
        shift_s = (stamp.wall_ms - stamp.noted_ms) // 1000
        about = (*map(id, states.values()), shift_s, day.date() if day is not None else None)
        if self._shop is None or self._shop[0] != about:
            said = partial(day_and_time, stamp=stamp)
            self._shop = about, states, shop_of(states, self.book_open(stamp), said)
        return self._shop[2]

    def book_open(self, stamp: Stamp) -> Sequence[Kept]:
        """The baths of the bath book that are open; none where the book is not read."""
        del stamp
        return ()

    def agenda(self, name: str, stamp: Stamp) -> tuple[Action, ...]:
        """The agenda of a run as the planner advises: the same for everybody who looks.

        It is worked out once for each moment.
        """
        bench, advice = self.state(name).bench, self.plans.of(name)
        last = self._agendas.get(name)
        if last and last[0] == stamp.noted_ms and last[1] is bench and last[2] is advice:
            return last[3]
        told = agenda(bench, stamp.noted_ms, advice.times(bench))
        self._agendas[name] = (stamp.noted_ms, bench, advice, told)
        return told

    def again(self, name: str, names: Sequence[str] = ()) -> NewRun:
        """An earlier run to be set up once more; see ``bench.again``.

        Args:
            name: the run, or ``last``.
            names: what its parts are called now; none: new names, free on this bench.

        Raises:
            NoSuchRun: there is none of that name.
            Refused: more or fewer names than it had parts.
        """
        entries = self._log.entries(run_name(self._log, name))
        taken = [part for run in self.names for part in self.state(run).bench.parts]
        return read_through(self._log.path, entries, lambda told: run_again(told, names, taken))

    def records_with(self, part: str) -> list[Record]:
        """The records of the newest runs that a part of this name was in, oldest first."""
        return list(records_of(self._log, Query(part=part), SO_MANY))

    def job_look(self, shelf: Shelf, hours: Hours) -> JobLook:
        """A look at the jobs now.

        Args:
            shelf: where recipes are found.
            hours: when you work.
        """
        return JobLook(self._log, shelf, hours, self.stamp())

    def recent(self, limit: int = 20) -> list[RunLine]:
        """The newest runs of the log."""
        return self._log.runs(limit=limit)

    def find(self, query: Query, limit: int = 100) -> list[RunLine]:
        """The newest runs that a query leads to."""
        return self._log.find(query, limit)

    def verdicts(self, names: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """How parts came out in each of these runs that has been judged."""
        return self._log.terms("verdict", names)
