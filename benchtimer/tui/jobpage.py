"""The page of one job: how far along its parts are, whether it will be ready, delivery."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from textual.worker import get_current_worker

from benchtimer.bench.joblook import JobLook, known_of
from benchtimer.job import job_decide as d
from benchtimer.job.better import better
from benchtimer.job.job_progress import PartProgress, PartStatus
from benchtimer.job.job_state import Job
from benchtimer.job.order import identity, parse_join, parse_part
from benchtimer.job.outlook import Outlook, add_more, outlooks
from benchtimer.job.sessions import JobsPlan
from benchtimer.run.refusals import Refused
from benchtimer.store.log import EventLog, StoreError
from benchtimer.times import parse_date
from benchtimer.tui.bindings import bindings
from benchtimer.tui.dialogs import LinePage
from benchtimer.tui.row_page import RowPage
from benchtimer.tui.setups import set_up_parts
from benchtimer.values import replace
from benchtimer.view.jobrows import job_rows, plan_rows
from benchtimer.view.pagekeys import JOB_KEYS
from benchtimer.view.row import Row
from benchtimer.view.space import Size

TRIALS = 400
"""Trials for the chance on the page; ``job plan`` uses more."""


class JobScreen(RowPage):
    """One job.

    Args:
        name: the job's name.
    """

    KEYS = JOB_KEYS
    CAUTIOUS = True
    BINDINGS = bindings(JOB_KEYS)

    def __init__(self, name: str) -> None:
        super().__init__()
        self._called = name
        self._job: Job | None = None
        self._parts: Sequence[PartProgress] = ()
        self._outlook: Outlook | None = None
        self._plan: JobsPlan | None = None
        self._drawn: dict[Size, list[Row]] = {}
        """The rows of the plan, for the present size."""

    def title_words(self) -> str:
        """The name of the job."""
        return f"job: {self._called}"

    def on_mount(self) -> None:
        """Read the job; its trials start when the page comes to the front."""
        self._read()
        super().on_mount()

    def _read(self) -> None:
        look = self.bench_app.job_look()
        try:
            self._job = look.book.job(self._called)
            self._parts = look.book.progress(self._job) if self._job is not None else ()
        except StoreError as error:
            self.heard(str(error))

    def look_again(self) -> None:
        """Read the job again; its trials run in a thread with their own log."""
        self._read()
        self.draw()
        if self._job is not None and self._job.is_open:
            self.run_worker(self._try, thread=True, group="trials", exclusive=True,
                            exit_on_error=False)  # fmt: skip

    def _try(self) -> None:
        worker = get_current_worker()
        log = EventLog(self.bench.folder, read_only=True)
        try:
            for plan, outlook in self._found(replace(self.bench_app.job_look(), log=log)):
                if worker.is_cancelled:
                    return
                self.app.call_from_thread(self._tried, plan, outlook)
        finally:
            log.close()

    def _found(self, look: JobLook) -> Iterator[tuple[JobsPlan, Outlook | None]]:
        """The plan, then its chance, then what would help: each better while you look."""
        load = look.workload()
        known = known_of(look, load)
        plan: JobsPlan | None = None
        for plan in better(load):
            yield plan, None
        if plan is None:
            return
        outlook: Outlook | None = None
        for _, by_job in outlooks(plan.load, plan, known, trials=TRIALS):
            outlook = by_job.get(self._called)
            yield plan, outlook
        if outlook is not None and not load.blocked_of(self._called):
            for _ in add_more(outlook, plan.load, known, look.changed, trials=TRIALS // 2):
                yield plan, outlook

    def _tried(self, plan: JobsPlan, outlook: Outlook | None) -> None:
        if plan is not self._plan or outlook is not None:
            self._plan, self._outlook = plan, outlook
            self._drawn.clear()
            self.draw()

    def make_rows(self) -> list[Row]:
        """What ``job_rows`` says."""
        if self._job is None:
            return [Row((f" There is no job {self._called}.",))]
        size = self.terminal
        if self._plan is not None and size not in self._drawn:
            plain = self.bench_app.plain
            self._drawn = {size: plan_rows(self._plan, self._called, size, plain=plain)}
        drawn = self._drawn.get(size, [])
        return job_rows(self._job, self._parts, self._outlook, drawn, size)

    def touched(self, key: str) -> None:
        """A touch does what SPACE does."""
        self._do(key)

    def action_open(self) -> None:
        """Do what the marked row is for."""
        self._do(self.rows.chosen)

    def _do(self, key: str) -> None:
        kind, _, rest = key.partition(":")
        job = self._job
        if self.read_only or job is None:
            return
        if kind == "part":
            self._part(next(part for part in self._parts if part.name == rest))
        elif kind == "due":
            self._ask("Due when? 2026-12-11 or Fri", lambda text: self._due(job, text))
        elif kind == "change":
            self._ask(
                "Part, such as blade=etch-darken > hot-wax",
                lambda text: d.ChangeJob(
                    job.order.with_part(parse_join(text) if ":" in text else parse_part(text))
                ),
            )
        elif kind == "deliver":
            self._ask("Delivered to whom, or how?", d.DeliverJob)
        elif kind == "drop":
            self._ask("Why drop this job?", d.DropJob)

    def _part(self, part: PartProgress) -> None:
        if part.status is PartStatus.SCRAPPED:
            self._ask(
                f"Why replace {part.name} with a new blank?",
                lambda words: d.ReplacePart(part.name, words),
            )
        elif part.status is PartStatus.READY:
            set_up_parts(self, part.recipe, [identity(self._called, part.name)])
        elif part.run is not None and part.run in self.bench_app.open_runs():
            self.bench_app.show_run(part.run)
        else:
            self.say(f"{part.name} is {part.words}.")

    def _due(self, job: Job, text: str) -> d.JobCommand:
        """The job with another due date."""
        day = parse_date(text, self.bench_app.job_look().today)
        return d.ChangeJob(replace(job.order, due=day))

    def _ask(self, title: str, command: Callable[[str], d.JobCommand]) -> None:
        """Ask for a line and write what it means; a line that is refused stays, with why."""

        def refused(text: str) -> str:
            try:
                self._write(command(text))
            except (StoreError, Refused, ValueError) as error:
                return str(error)
            return ""

        self.app.push_screen(LinePage(title, refuse=refused))

    def _write(self, command: d.JobCommand) -> None:
        recipes = list(self.bench_app.recipe_files.paths())
        self.bench.write_job(self._called, command, recipes)

    def action_undo(self) -> None:
        """Take the last entry of the job back, but not its opening: the page is the job's."""
        if len(self.bench_app.job_look().book.history(self._called).counts) < 2:
            self.say("Nothing to undo. Drop the job if it was a mistake.")
            return
        self.attempt(lambda: self._write(d.TakeJobEntryBack()))
        self.look_again()
