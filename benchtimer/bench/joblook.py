"""The shop with its open jobs as the policy sees it: jobs, bench, recipes and hours together.

Sessions planned and worked, and with them what is known of the chances of jobs. A bench opens
without it: only a plan of jobs needs the policy.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from datetime import date, datetime

from benchtimer.bench.bath_book import BathBook
from benchtimer.bench.jobbook import JobBook
from benchtimer.bench.wallclock import ShopZone
from benchtimer.job.better import best_plan
from benchtimer.job.job_events import JOB_STREAM
from benchtimer.job.job_state import Job
from benchtimer.job.known import KnownChances, Sessions
from benchtimer.job.policy import Draws, play
from benchtimer.job.workload import OnBench, PlanMoment, UnfinishedJob, Workload
from benchtimer.job.workload_builder import workload_of
from benchtimer.learn.learned import Learned
from benchtimer.learn.sums import OWN
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.record_lookup import learned_from
from benchtimer.run.events import Created
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import OVER
from benchtimer.shop.hours import Hours, open_spans
from benchtimer.store.log import EventLog, Stamp
from benchtimer.store.standing import standing
from benchtimer.values import dataclass, field, replace


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

    def closed_on(self, job: Job) -> date | None:
        """The day a job was delivered or dropped; None while it is open."""
        if job.closed_ms is None:
            return None
        unix_ms = self.stamp.wall_ms - (self.stamp.noted_ms - job.closed_ms)
        return datetime.fromtimestamp(unix_ms / 1000, self.moment.zone).date()

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

    def workload(self, *, hurry: bool = False) -> Workload:
        """The shop with its open jobs; ``hurry`` lets dwells end at their min."""
        jobs = self.book.jobs(open_only=True)
        opened = [UnfinishedJob(job, self.book.progress(job)) for job in jobs]
        names = [r for job in jobs for part in job.order.parts for r in part.recipes]
        recipes = self.recipes(names)
        baths = self._baths(recipes)
        return workload_of(
            opened, self.on_bench(), recipes, self.hours, self.moment,
            baths=baths, learned=self.learned(recipes), hurry=hurry,
        )  # fmt: skip

    def changed(self, *, hurry: bool = False, longer: bool = False) -> Workload:
        """The shop with its best plan, had you other habits.

        Args:
            hurry: dwells end at their min.
            longer: each session lasts an hour more.
        """
        hours = self.hours
        if longer:
            week = tuple(replace(span, end_min=span.end_min + 60) for span in hours.week)
            hours = replace(hours, week=week)
        return best_plan(replace(self, hours=hours).workload(hurry=hurry)).load

    def _baths(self, recipes: Mapping[str, Recipe]) -> dict[str, str]:
        """The bath of the bath book that each station would get."""
        tied, _ = BathBook(self.log).tie(recipes, {}, self.stamp.noted_ms)
        return tied

    def learned(self, recipes: Mapping[str, Recipe]) -> Learned:
        """What runs that are over taught about some recipes, by their ids."""
        return learned_from(self.log, recipes, self.stamp.wall_ms, self.by, sources=self.learn_from)


MOST_RUNS_TIMED = 400
"""How many of the newest runs are read for presses."""

MOST_SESSIONS = 60
"""Only the newest sessions count, this many: habits change."""

EARLY_S = 1800
"""A press this long before a session belongs to it."""

LATE_MOST = 0.5
"""Work that begins after this share of a session says nothing about a late start."""


def known_of(look: JobLook, load: Workload) -> KnownChances:
    """What the records say of times, chances and sessions.

    Args:
        look: the jobs.
        load: the shop with its open jobs.
    """
    return KnownChances(load.learned, sessions_worked(look))


def sessions_worked(look: JobLook) -> Sessions:
    """Sessions of your hours in which a job had something to do: how many, lost, how late.

    They count from the first job to the last press. A session without a press counts as lost if
    the policy would have had work for it, as the jobs were then; one in which everything had to
    soak, cure or wait for longer hours does not count.
    """
    written_s = _jobs_written_s(look.log)
    pressed = _pressed_s(look.log)
    if not written_s or look.hours.is_always or not pressed:
        return Sessions()
    from_s, zone = round(written_s[0]), look.moment.zone
    until_s = min(look.moment.unix_s, pressed[-1])
    days = max(1, (look.moment.unix_s - from_s) // 86_400 + 1)
    spans = open_spans(look.hours, zone, from_s, days)
    spans = tuple((b + from_s, e + from_s) for b, e in spans if b > 0 and b + from_s <= until_s)
    past = _Past(look, sorted([*written_s, *pressed]))
    planned = lost = 0
    late: list[float] = []
    for begin, end in spans[-MOST_SESSIONS:]:
        first = bisect_left(pressed, begin - EARLY_S)
        if first < len(pressed) and pressed[first] < end:
            planned += 1
            late_s = max(0.0, pressed[first] - begin)
            if late_s <= LATE_MOST * (end - begin):
                late.append(late_s)
        elif past.had_work(begin, end):
            planned += 1
            lost += 1
    return Sessions(planned, lost, tuple(late))


def _jobs_written_s(log: EventLog) -> list[float]:
    """When something was written of any job."""
    streams = log.streams(JOB_STREAM)
    return sorted(e.stamp.wall_ms / 1000 for stream in streams for e in log.entries(stream))


def _pressed_s(log: EventLog) -> list[float]:
    """When keys were pressed in real runs."""
    found: list[float] = []
    for line in log.runs(limit=MOST_RUNS_TIMED):
        entries = log.entries(line.name)
        first = entries[0].event if entries else None
        if isinstance(first, Created) and first.speed == 1:
            counted = standing(entries)
            pressed = (e for e in entries if e.seq in counted and e.event.press)
            found += [e.stamp.wall_ms / 1000 for e in pressed]
    return sorted(found)


@dataclass
class _Past:
    """The jobs as they were; they change only when something is pressed or written."""

    look: JobLook
    changes: list[float]
    loads: dict[int, Workload] = field(default_factory=dict)

    def had_work(self, begin: int, end: int) -> bool:
        """Whether the policy had work at a job in a session."""
        number = bisect_right(self.changes, begin)
        if number not in self.loads:
            self.loads[number] = self.look.before(begin).workload()
        load = self.loads[number]
        before_s = begin - load.moment.unix_s
        played = play(
            load.shop, Draws(), from_s=before_s, until_s=before_s + end - begin, acts=True
        )
        return any(load.shop.pieces[act.piece].job for act in played.acts)
