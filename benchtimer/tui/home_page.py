"""Home: open runs, waiting parts, earlier runs, and the recipes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from textual import events
from textual.worker import get_current_worker

from benchtimer.job.job_decide import OpenJob
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run.run_state import OVER
from benchtimer.store.log import EventLog, RunLine, StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.row_page import RowPage
from benchtimer.tui.setups import set_up_parts
from benchtimer.values import replace
from benchtimer.view.alarm import alarms_at
from benchtimer.view.home_rows import (
    KEPT,
    NEW,
    TONIGHT,
    first_pick,
    home_rows,
    is_pressing,
    kept_rows,
    lead_rows,
    numbered,
)
from benchtimer.view.pagekeys import HOME_KEYS
from benchtimer.view.row import Row

if TYPE_CHECKING:
    from benchtimer.job.evening import Evening
    from benchtimer.view.jobrows import OpenJobLine

LATELY = 9
"""How many finished runs are shown."""


class HomeScreen(RowPage):
    """The first page of an empty bench, one key away from every other page."""

    KEYS = HOME_KEYS
    CAUTIOUS = True
    BINDINGS = bindings(HOME_KEYS)
    TITLE_WORDS = "benchtimer: home"
    TICKS = True

    def __init__(self) -> None:
        super().__init__()
        self._lately: list[RunLine] = []
        self._verdicts: dict[str, tuple[str, ...]] = {}
        self._recipes: dict[str, str] = {}
        self._jobs: list[OpenJobLine] = []
        self._evening: Evening | None = None
        self._picked = False

    def on_mount(self) -> None:
        """Read the earlier runs, and start the ticks."""
        self._recipes = dict.fromkeys(self.bench_app.recipe_files.paths(), "")
        self.look_again()
        super().on_mount()
        self.call_after_refresh(self._read_titles_apart)

    def _read_titles_apart(self) -> None:
        titles = partial(self._read_titles, self.bench_app.recipe_files)
        self.run_worker(titles, thread=True, group="titles", exit_on_error=False)

    def draw(self) -> None:
        """Draw what has changed; at first the mark is on the most urgent run."""
        super().draw()
        if self.is_there and not self._picked:
            self._picked = True
            self.rows.point_at_key(first_pick(self.bench.moment()))

    def _read_titles(self, recipe_files: RecipeFiles) -> None:
        """Read the recipes' titles in a thread: there can be many, on a slow disk."""
        worker = get_current_worker()
        titles = {}
        for name in list(self._recipes):
            if worker.is_cancelled:
                return
            titles[name] = _title(recipe_files, name)
        self.app.call_from_thread(self._titled, titles)

    def _titled(self, titles: dict[str, str]) -> None:
        self._recipes = titles
        self.draw()

    def look_again(self) -> None:
        """Read the newest runs; if the log can't be read, say so and keep what is known."""
        try:
            newest = self.bench.recent(LATELY + len(self._open_names()))
            self._lately = [line for line in newest if line.phase in OVER][:LATELY]
            self._verdicts = self.bench.verdicts([line.name for line in self._lately])
            self._look_at_jobs()
            self.heard("")
        except StoreError as error:
            self.heard(str(error))
        self.draw()

    def _look_at_jobs(self) -> None:
        """Work out the open jobs and what fits into the hours left, in a thread."""
        if self.bench.has_jobs():
            self.run_worker(
                self._work_out, thread=True, group="evening", exclusive=True, exit_on_error=False
            )

    def _work_out(self) -> None:
        from benchtimer.job.evening import evening_of  # the planner; home opens sooner without it

        worker, mine = get_current_worker(), self.bench_app.job_look()
        log = EventLog(self.bench.folder, read_only=True)  # the thread's own log
        try:
            look = replace(mine, log=log)
            book = look.book
            jobs = [(job, book.progress(job)) for job in book.jobs(open_only=True)]
            if not worker.is_cancelled:
                self.app.call_from_thread(self._worked_out, jobs, self._evening)
            evening = evening_of(look.workload()) if jobs else None
        finally:
            log.close()
        if not worker.is_cancelled:
            self.app.call_from_thread(self._worked_out, jobs, evening)

    def _worked_out(self, jobs: list[OpenJobLine], evening: Evening | None) -> None:
        first = self._evening is None and evening is not None
        self._jobs, self._evening = jobs, evening
        self.draw()
        # SPACE sets up tonight's work right away
        if first and not is_pressing(self.bench.moment()):
            self.rows.point_at_key(TONIGHT)

    def _open_names(self) -> list[str]:
        return self.bench_app.open_runs()

    def lead(self) -> str:
        """The most urgent action of all, in large letters."""
        return "\n".join(lead_rows(self.bench.moment(), self.terminal, plain=self.bench_app.plain))

    def leads_late(self) -> bool:
        """Whether that is a late part."""
        moment = self.bench.moment()
        return moment.first is not None and moment.first.is_late(moment.now_ms)

    def make_rows(self) -> list[Row]:
        """What ``home_rows`` says."""
        jobs = self._job_rows() if self._jobs else []
        draft = self.bench_app.kept_draft
        parts = [part.name for part in draft.parts] if draft is not None else []
        kept = kept_rows(parts, list(draft.recipes) if draft is not None else [], self.terminal)
        return (
            kept
            + jobs
            + home_rows(
                self.bench.moment(),
                self._lately,
                self._verdicts,
                self._recipes,
                self.terminal,
                read_only=self.read_only,
            )
        )

    def _job_rows(self) -> list[Row]:
        from benchtimer.view.jobrows import home_job_rows

        today = self.bench_app.job_look().today
        return home_job_rows(
            self._evening, self._jobs, today, self.terminal, looks_on=self.read_only
        )

    def on_key(self, event: events.Key) -> None:
        """A digit opens the run with that number."""
        keys = numbered(self.make_rows())
        if event.key.isdecimal() and 1 <= int(event.key) <= len(keys):
            event.stop()
            self._open(keys[int(event.key) - 1])

    def touched(self, key: str) -> None:
        """A touch opens."""
        self._open(key)

    def action_open(self) -> None:
        """Open the marked row."""
        self._open(self.rows.chosen)

    def action_go(self) -> None:
        """Show the work that is due, whichever row is marked; if none is, open that row."""
        calls = alarms_at(self.bench.moment())
        self._open(f"run:{calls[0].run}" if calls else self.rows.chosen)

    def _open(self, key: str) -> None:
        kind, _, rest = key.partition(":")
        if kind == "run":
            self.bench_app.show_run(rest)
        elif kind == "wait":
            self.bench_app.show_run(rest.partition(":")[2])
        elif kind == "record":
            self.attempt(lambda: self.bench_app.show_record(rest))
        elif kind == "job":
            self.bench_app.show_job(rest)
        elif key == TONIGHT and self._evening is not None:
            for recipe, names in list(self._evening.begins().items())[:1]:
                set_up_parts(self, recipe, names)
        elif key == NEW:
            self.action_new()
        elif key == KEPT:
            self.action_kept()
        elif kind == "recipe" and not self.read_only:
            self.bench_app.plan_run(rest)

    def action_new(self) -> None:
        """Plan a new run."""
        if not self.read_only:
            self.bench_app.plan_run()

    def action_job(self) -> None:
        """Open a job, and show its page."""
        if self.read_only:
            return
        from benchtimer.tui.joborderpage import JobOrderPage

        recipes, look = list(self.bench_app.recipe_files.paths()), self.bench_app.job_look()
        page = JobOrderPage(
            recipes,
            look.book.names(),
            look.today,
            lambda name, order: self.bench.write_job(name, OpenJob(order), recipes),
        )
        self.app.push_screen(page, lambda name: self.bench_app.show_job(name) if name else None)

    def action_kept(self) -> None:
        """Continue the plan you left."""
        if self.bench_app.kept_draft is None:
            self.say("No saved plan. P plans a new run.")
        elif not self.read_only:
            self.bench_app.plan_run()

    def action_runs(self) -> None:
        """The list of every run."""
        self.bench_app.show_runs()

    def _run_meant(self) -> str:
        """The marked run, or the one on the bench, or the newest finished one."""
        kind, _, rest = self.rows.chosen.partition(":")
        if kind in ("run", "record"):
            return rest
        if kind == "wait":
            return rest.partition(":")[2]
        names = [*self._open_names(), *(line.name for line in self._lately)]
        return names[0] if names else ""

    def action_record(self) -> None:
        """The record of a run, even an open one."""
        name = self._run_meant()
        if name:
            self.attempt(lambda: self.bench_app.show_record(name))
        else:
            self.say("There is no run yet.")

    def action_prepare(self) -> None:
        """The checklist of a run on the bench."""
        name = self._run_meant()
        if name in self._open_names():
            self.bench_app.show_preparation(name)
        else:
            self.say("That run is not on the bench; P plans a new one.")

    def action_again(self) -> None:
        """Set up a run again."""
        name = self._run_meant()
        if name:
            self.set_up_again(name)
        else:
            self.say("There is no run yet.")


def _title(recipe_files: RecipeFiles, name: str) -> str:
    try:
        return recipe_files.find(name).title
    except RecipeError as error:
        return f"can't be read: {str(error).splitlines()[0]}"
