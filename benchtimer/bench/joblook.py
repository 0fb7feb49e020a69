"""Where jobs, bench, shelf and hours meet: the shop as the policy of the jobs sees it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from benchtimer.bench.baths import BathBook
from benchtimer.bench.jobbook import JobBook
from benchtimer.bench.wallclock import ShopZone
from benchtimer.job.job_state import Job
from benchtimer.job.known import Known
from benchtimer.job.workload import Moment, OnBench, OpenJob, Workload, workload_of
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.shelf import Shelf
from benchtimer.records.jobknown import known_from
from benchtimer.run.evolve import fold
from benchtimer.shop.hours import Hours
from benchtimer.store.log import EventLog, Stamp

RECORDS = 400
"""How many of the newest runs are read for times and chances."""


@dataclass
class JobLook:
    """A look at the jobs of a log.

    Attributes:
        log: the log.
        shelf: where recipes are found.
        hours: when you work.
        stamp: now.
    """

    log: EventLog
    shelf: Shelf
    hours: Hours
    stamp: Stamp

    @property
    def book(self) -> JobBook:
        """The jobs."""
        return JobBook(self.log)

    @property
    def moment(self) -> Moment:
        """Now, on both clocks."""
        return Moment(self.stamp.wall_ms // 1000, self.stamp.noted_ms, ShopZone(self.stamp))

    @property
    def today(self) -> date:
        """The date on the shop's wall."""
        return datetime.fromtimestamp(self.moment.unix_s, self.moment.zone).date()

    def on_bench(self) -> list[OnBench]:
        """The open runs."""
        lines = reversed(self.log.runs(open_only=True))
        return [
            OnBench(line.name, fold(entry.event for entry in self.log.entries(line.name)).bench)
            for line in lines
        ]

    def recipes(self, names: Sequence[str]) -> dict[str, Recipe]:
        """The recipes of these names that are there and right."""
        found = {}
        for name in dict.fromkeys(names):
            try:
                found[name] = self.shelf.find(name)
            except RecipeError:
                continue  # the plan says which part it stops
        return found

    def workload(self, jobs: Sequence[Job] | None = None, *, hurry: bool = False) -> Workload:
        """The shop with its open jobs, or with these.

        Args:
            jobs: the jobs to plan; all open ones if None.
            hurry: let dwells end at their min.
        """
        book = self.book
        chosen = book.jobs(open_only=True) if jobs is None else jobs
        opened = [OpenJob(job, book.progress(job)) for job in chosen]
        names = [r for job in chosen for part in job.order.parts for r in part.recipes]
        recipes = self.recipes(names)
        baths = self._baths(recipes)
        return workload_of(
            opened, self.on_bench(), recipes, self.hours, self.moment, baths=baths, hurry=hurry
        )

    def _baths(self, recipes: Mapping[str, Recipe]) -> dict[str, str]:
        """The bath of the bath book that each station would get."""
        tied, _ = BathBook(self.log).tie(recipes, {}, self.stamp.noted_ms)
        return tied

    def known(self) -> Known:
        """What the records say of times, chances and sessions."""
        return known_from(self.log, RECORDS, self.hours, self.moment)
