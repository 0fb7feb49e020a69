"""The jobs as the log keeps them: every job's stream, and how far its parts are."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import partial

from benchtimer.bench.wallclock import date_of
from benchtimer.job.job_decide import Around, DeliverJob, JobCommand, decide_job
from benchtimer.job.job_events import JOB_STREAM
from benchtimer.job.job_progress import (
    JobRun,
    PartProgress,
    PartStatus,
    progress_of,
    unfinished,
)
from benchtimer.job.job_state import Job, JobHistory, evolve_job, fold_job
from benchtimer.job.order import split_identity
from benchtimer.quantity import did_you_mean
from benchtimer.run.event_builder import Now
from benchtimer.run.events import Event, Judged, Scrapped
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import BadValue
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog, LogEntry, Stamp, read_through
from benchtimer.store.standing import standing
from benchtimer.values import dataclass

MOST_RUNS = 1000
"""How many runs of one job are read."""


@dataclass
class JobBook:
    """The jobs of one log.

    Attributes:
        log: the log.
        until_ms: only what was written up to then, by the wall clock; everything if None.
    """

    log: EventLog
    until_ms: int | None = None

    def names(self) -> list[str]:
        """Every job there ever was, by name."""
        return [stream.removeprefix(JOB_STREAM) for stream in self.log.streams(JOB_STREAM)]

    def entries(self, name: str) -> list[LogEntry]:
        """The log of one job; empty if there is no job with that name."""
        return self._read(JOB_STREAM + self.spelled(name))

    def _read(self, stream: str) -> list[LogEntry]:
        entries, until_ms = self.log.entries(stream), self.until_ms
        return [e for e in entries if until_ms is None or e.stamp.wall_ms <= until_ms]

    def spelled(self, name: str) -> str:
        """A job's name as it was opened, whatever capitals you typed."""
        folded = name.strip().casefold()
        known = (known for known in self.names() if known.casefold() == folded)
        return next(known, name.strip())

    def history(self, name: str) -> JobHistory:
        """A job's stream, folded."""
        name = self.spelled(name)
        return read_through(self.log.path, self.entries(name), partial(_folded, name))

    def job(self, name: str) -> Job | None:
        """A job by its name; None if there is no such job."""
        return self.history(name).job

    def jobs(self, *, open_only: bool = False) -> list[Job]:
        """The jobs, earliest due date first."""
        found = [job for name in self.names() if (job := self.job(name)) is not None]
        found = [job for job in found if job.is_open or not open_only]
        return sorted(found, key=lambda job: (job.order.due, job.opened_ms, job.name))

    def runs(self, name: str) -> list[JobRun]:
        """The runs that parts of a job were in, oldest first."""
        lines = reversed(self.log.find(Query(job=name), MOST_RUNS))
        return [run for line in lines if (run := self._run(line.name)) is not None]

    def _run(self, name: str) -> JobRun | None:
        entries = self._read(name)
        if not entries:
            return None
        return read_through(self.log.path, entries, partial(_job_run, name))

    def progress(self, job: Job) -> list[PartProgress]:
        """How far along the parts of a job are."""
        return progress_of(job, self.runs(job.name))

    def want_parts(self, recipes: Mapping[str, str]) -> list[str]:
        """Refuse parts that don't exist, are of no open job, or are in a run of the recipe already.

        Args:
            recipes: the recipe of each part, by what the log calls it.

        Returns:
            A warning for each part whose turn for its recipe has not come.

        Raises:
            Refused: naming the part and what there is.
        """
        return [
            early
            for called, recipe in recipes.items()
            if (early := self._want_part(called, recipe))
        ]

    def _want_part(self, called: str, recipe: str) -> str:
        """Refuse a part as ``want_parts`` says; its warning, or nothing."""
        name, part = split_identity(called)
        what = f'Can\'t set up "{called}"'
        job = self.job(name)
        if job is None:
            hint = did_you_mean(name, self.names()) or "benchtimer job list shows the jobs"
            raise BadValue(what, f'there is no job "{name}"', hint[:1].upper() + hint[1:])
        if not job.is_open:
            raise BadValue(what, f"the job is {job.status}", "Use another job, or none")
        found = (p for p in self.progress(job) if p.name.casefold() == part.casefold())
        mine = next(found, None)
        if mine is None:
            names = [p.name for p in job.order.parts]
            raise BadValue(what, f'the job has no part "{part}"', f"Known: {', '.join(names)}")
        busy = mine.status in (PartStatus.IN_WORK, PartStatus.HELD)
        if busy and mine.run is not None and mine.recipe == recipe:
            why = f"run {mine.run} has it for {recipe} already"
            raise BadValue(what, why, "Continue that run, or end it first")
        due = mine.status is PartStatus.READY and mine.recipe == recipe
        return (
            ""
            if due or recipe not in mine.chain
            else f"{called} is {mine.words}; this run is {recipe}."
        )

    def write(
        self, name: str, command: JobCommand, stamp: Stamp, *, by: str, recipes: Collection[str]
    ) -> Job | None:
        """Write into a job's stream. Returns the job, or None if its opening was taken back.

        Args:
            name: the job's name.
            command: what is wished.
            stamp: both clocks now.
            by: who writes.
            recipes: the recipes there are.

        Raises:
            Refused: it can't be written; nothing changed.
            StoreError: it could not be written; nothing changed.
        """
        history = self.history(name)
        job = history.job
        left: Sequence[str] = ()
        if isinstance(command, DeliverJob) and job is not None:
            left = unfinished(self.progress(job))
        today = date_of(stamp)
        others = [known for known in self.names() if known != history.name]
        around = Around(today, recipes, others, left)
        event = decide_job(history, command, Now(stamp.noted_ms, by), around)
        self.log.append(JOB_STREAM + history.name, [event], stamp)
        return evolve_job(history, event).job


def _folded(name: str, entries: Sequence[LogEntry]) -> JobHistory:
    history = fold_job(name, (entry.event for entry in entries))
    _ = history.job  # dates are read only here
    return history


def _job_run(name: str, entries: Sequence[LogEntry]) -> JobRun:
    counted = standing(entries)
    live: list[Event] = [entry.event for entry in entries if entry.seq in counted]
    verdicts = {x.part: x.verdict for x in live if isinstance(x, Judged)}
    bench = fold(entry.event for entry in entries).bench
    scrapped = {x.part: x.reason for x in live if isinstance(x, Scrapped)}
    return JobRun(name, entries[0].event.t_ms, bench, verdicts, scrapped)
