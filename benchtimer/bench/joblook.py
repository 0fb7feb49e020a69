"""Where jobs, bench, recipes and hours meet: the shop as the policy of the jobs sees it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from benchtimer.bench.bath_book import BathBook
from benchtimer.bench.jobbook import JobBook
from benchtimer.bench.wallclock import ShopZone
from benchtimer.job.job_state import Job
from benchtimer.job.workload import OnBench, PlanMoment, UnfinishedJob, Workload, workload_of
from benchtimer.learn.learned import Learned
from benchtimer.learn.sums import OWN
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.record_lookup import learned_from
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import OVER
from benchtimer.shop.hours import Hours
from benchtimer.store.log import EventLog, Stamp


@dataclass
class JobLook:
    """A look at the jobs of a log.

    Attributes:
        log: the log.
        recipe_files: where recipes are found.
        hours: when you work.
        stamp: now.
        by: whose times count.
        learn_from: which runs teach times and rates (``learn.sums``).
        until_ms: jobs and runs as they were then, by the wall clock; as they are if None.
    """

    log: EventLog
    recipe_files: RecipeFiles
    hours: Hours
    stamp: Stamp
    by: str = ""
    learn_from: tuple[str, ...] = (OWN,)
    until_ms: int | None = None

    def before(self, unix_s: int) -> JobLook:
        """The jobs as they were, looked at then."""
        ago_ms = self.stamp.wall_ms - 1000 * unix_s
        then = replace(self.stamp, wall_ms=1000 * unix_s, noted_ms=self.stamp.noted_ms - ago_ms)
        return replace(self, stamp=then, until_ms=1000 * unix_s)

    @property
    def book(self) -> JobBook:
        """The jobs."""
        return JobBook(self.log, self.until_ms)

    @property
    def moment(self) -> PlanMoment:
        """Now, on both clocks."""
        return PlanMoment(self.stamp.wall_ms // 1000, self.stamp.noted_ms, ShopZone(self.stamp))

    @property
    def today(self) -> date:
        """The date on the shop's wall."""
        return datetime.fromtimestamp(self.moment.unix_s, self.moment.zone).date()

    def on_bench(self) -> list[OnBench]:
        """The open runs; of a moment that is past, those of open jobs."""
        if self.until_ms is not None:
            book = self.book
            runs = [run for job in book.jobs(open_only=True) for run in book.runs(job.name)]
            benches = {run.name: run.bench for run in runs if run.bench.phase not in OVER}
            return [OnBench(*one) for one in benches.items()]
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
                found[name] = self.recipe_files.find(name)
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
        opened = [UnfinishedJob(job, book.progress(job)) for job in chosen]
        names = [r for job in chosen for part in job.order.parts for r in part.recipes]
        recipes = self.recipes(names)
        baths = self._baths(recipes)
        return workload_of(
            opened, self.on_bench(), recipes, self.hours, self.moment,
            baths=baths, learned=self.learned(recipes), hurry=hurry,
        )  # fmt: skip

    def _baths(self, recipes: Mapping[str, Recipe]) -> dict[str, str]:
        """The bath of the bath book that each station would get."""
        tied, _ = BathBook(self.log).tie(recipes, {}, self.stamp.noted_ms)
        return tied

    def learned(self, recipes: Mapping[str, Recipe]) -> Learned:
        """What runs that are over taught about some recipes, by their ids."""
        return learned_from(self.log, recipes, self.stamp.wall_ms, self.by, sources=self.learn_from)
