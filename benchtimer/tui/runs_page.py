"""The list of all runs, newest first, with filters; it reads more as you scroll."""

from __future__ import annotations

from benchtimer.learn.monthly_rates import rates_of, rates_text
from benchtimer.records.inert import visible
from benchtimer.records.record_lookup import records_of
from benchtimer.records.worked import worked_in
from benchtimer.run.commands import VERDICTS
from benchtimer.run.run_state import OVER
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog, RunLine, StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.dialogs import ChoicePage, TextPage
from benchtimer.tui.row_page import RowPage
from benchtimer.view.home_rows import late_rows
from benchtimer.view.pagekeys import RUNS_FILTERS, RUNS_KEYS, RUNS_MORE
from benchtimer.view.row import Row
from benchtimer.view.run_rows import STATES, Filter, lead_line, run_row

PAGE = 100
"""How many runs are read at first; each time the end is close, twice as many."""

RATED = 500
"""How many of the newest runs the rates include."""

NOT_ASKED = "any"


class RunsScreen(RowPage):
    """Every run."""

    KEYS = RUNS_KEYS
    BINDINGS = bindings(RUNS_KEYS)
    TITLE_WORDS = "All runs"

    def __init__(self) -> None:
        super().__init__()
        self._wanted = Filter()
        self._limit = PAGE
        self._lines: list[RunLine] = []
        self._verdicts: dict[str, tuple[str, ...]] = {}
        self._more = False

    def on_mount(self) -> None:
        """Read the newest."""
        self.look_again()
        super().on_mount()

    def look_again(self) -> None:
        """Read the runs that match; report problems with the log."""
        try:
            read = self._read(self._limit)
            while self._wanted.state and len(read) == self._limit and self._too_few(read):
                self._limit *= 4
                read = self._read(self._limit)
            self._more = len(read) == self._limit
            self._lines = [line for line in read if self._wanted.takes(line)]
            fresh = [line.name for line in self._lines if line.name not in self._verdicts]
            self._verdicts |= dict.fromkeys(fresh, ()) | self.bench.verdicts(fresh)
            self.heard("")
        except StoreError as error:
            self.heard(str(error))
        self.draw()

    def on_screen_resume(self) -> None:
        """Something may have been judged in the meantime."""
        self._verdicts = {}
        super().on_screen_resume()

    def _too_few(self, read: list[RunLine]) -> bool:
        return sum(map(self._wanted.takes, read)) < PAGE

    def _read(self, limit: int) -> list[RunLine]:
        if self._wanted.is_indexed:
            return self.bench.find(self._wanted.query, limit)
        return self.bench.recent(limit)

    def lead(self) -> str:
        """What is late, large; how many there are."""
        count = f" {lead_line(self._wanted, len(self._lines), self._more)}"
        return "\n".join(
            [*late_rows(self.bench.moment(), self.terminal, plain=self.bench_app.plain), count]
        )

    def make_rows(self) -> list[Row]:
        """One row per run."""
        size = self.terminal
        rows = [run_row(line, self._verdicts.get(line.name, ()), size) for line in self._lines]
        return rows or [Row((" No runs match." if self._wanted.said else " No runs yet.",))]

    def on_rows_near_end(self) -> None:
        """Read more when the end is close."""
        if self._more:
            self._limit *= 2
            self.look_again()

    def touched(self, key: str) -> None:
        """A touch shows the record."""
        self._show(key)

    def action_open(self) -> None:
        """The record of the marked run."""
        self._show(self.rows.chosen)

    def _show(self, name: str) -> None:
        if name:
            self.attempt(lambda: self.bench_app.show_record(name))

    def action_bench(self) -> None:
        """The marked run on the bench."""
        name = self.rows.chosen
        if name in self.bench_app.open_runs():
            self.bench_app.show_run(name)
        elif name:
            phase = next(line.phase for line in self._lines if line.name == name)
            self.say(f"Run {name} is {phase if phase in OVER else 'not on this bench'}.")

    def action_again(self) -> None:
        """Set up the marked run again."""
        if self.rows.chosen:
            self.set_up_again(self.rows.chosen)

    def _want(self, name: str, text: str) -> None:
        self._wanted = self._wanted.with_(name, text)
        self._limit = PAGE
        self.say("")
        self.look_again()
        self.action_move("first")

    def _choose(self, name: str, title: str, options: list[str]) -> None:
        def chosen(index: int | None) -> None:
            if index is not None:
                self._want(name, options[index] if index else "")

        options = [NOT_ASKED, *options]
        self.app.push_screen(ChoicePage(title, options), chosen)

    def action_filter(self) -> None:
        """Choose a filter."""
        self.offer("Which runs?", RUNS_FILTERS)

    def action_part(self) -> None:
        """By a part's name."""
        self.ask(
            "Which part? petty* is any name that starts with petty", lambda t: self._want("part", t)
        )

    def action_recipe(self) -> None:
        """By recipe."""
        self._choose("recipe", "Runs of which recipe?", list(self.bench_app.recipe_files.paths()))

    def action_verdict(self) -> None:
        """By how a part came out."""
        self._choose("verdict", "Runs with a part that was ...", list(VERDICTS))

    def action_state(self) -> None:
        """By state."""
        self._choose("state", "Runs that are ...", list(STATES))

    def action_words(self) -> None:
        """By words."""
        self.ask(
            "Runs with which words in title, notes, answers?", lambda t: self._want("words", t)
        )

    def action_date(self) -> None:
        """By date."""
        self.ask("Which dates? 2026, 2026-11 or 2026-11-25", lambda t: self._want("date", t))

    def action_more(self) -> None:
        """Offer the actions without a key."""
        self.offer("More about the runs", RUNS_MORE)

    def action_rates(self) -> None:
        """How the work comes out; a thread reads the records with its own log."""
        self.say("Reading the records")
        self.run_worker(self._count_rates, thread=True, exclusive=True, group="rates")

    def _count_rates(self) -> None:
        try:
            log = EventLog(self.bench.folder, read_only=True)
            try:
                text = rates_text(rates_of(list(worked_in(records_of(log, Query(), RATED)))))
            finally:
                log.close()
        except StoreError as error:
            text = str(error)
        self.app.call_from_thread(self._show_rates, text)

    def _show_rates(self, text: str) -> None:
        if self.is_current:
            self.say("")
            self.app.push_screen(TextPage("Rates", visible(text)))

    def action_clear(self) -> None:
        """Show all runs again."""
        self._wanted = Filter()
        self._limit = PAGE
        self.look_again()
        self.action_move("first")
