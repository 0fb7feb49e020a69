"""The plan of a new run: choose recipes and parts, see the day, move things, set it up."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from functools import partial

from textual.app import ComposeResult
from textual.worker import Worker, WorkerState

from benchtimer.bench.beside import is_busy
from benchtimer.bench.newrun import twin_of
from benchtimer.job.run_trials import assess_plan
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.plan.gains import what_helps
from benchtimer.plan.latest import latest_start
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import ProblemError
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.recipe.model import Recipe, Step
from benchtimer.recipe.problems import RecipeError
from benchtimer.records.inert import visible
from benchtimer.records.last_time import LastTime
from benchtimer.run.commands import Postpone
from benchtimer.run.hazards import clash_line
from benchtimer.run.refusals import Refused
from benchtimer.shop.hours import hours_words
from benchtimer.shop.shop_state import Shop
from benchtimer.store.log import Stamp, StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.dialogs import ChoicePage, TextPage, ask_in_turn
from benchtimer.tui.lines import PageText
from benchtimer.tui.orderpage import OrderPage
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.row_page import RowPage
from benchtimer.values import replace
from benchtimer.view.draft import (
    Draft,
    held_back,
    names_in,
    order_of,
    placed_draft,
    problem_beside,
    problem_of_draft,
    zero_of,
)
from benchtimer.view.pagekeys import PLAN_KEYS, PLAN_MORE
from benchtimer.view.plan_rows import PlanSheet, details, lead_lines, plan_rows
from benchtimer.view.row import Row
from benchtimer.view.words import clock_time

THINK_S = 4.0
"""How long to search for a plan; the best one so far always shows."""

HELP_S = 2.0
"""How long to search for changes that would end it earlier."""

TRIALS = 400
STEP_S = 300
AGAIN_S = 60.0
"""A plan that begins now is redone after this long."""

Answer = Callable[[PlanSheet], None]


def think(
    draft: Draft,
    now: Stamp,
    stop: Callable[[], bool],
    answer: Answer,
    baths: Mapping[str, str] | None = None,
    learned: Learned = NOTHING,
    shop: Shop | None = None,
) -> None:
    """Ask the planner about a draft, in a thread: the plan, then the chances, then what helps.

    Args:
        draft: the draft, which has parts.
        now: the time.
        stop: called now and then; True means give up, and the best plan so far is the answer.
        answer: called with each fuller answer.
        baths: names of baths of the bath book, by station address.
        learned: your own times and rates.
        shop: what is on the bench; the draft is planned around it.

    Raises:
        ProblemError, Refused: the draft can't be planned.
    """
    zero = zero_of(draft, now)
    if shop is not None and is_busy(shop):
        problem, zero = problem_beside(draft, now, shop, baths, learned), now
    else:
        problem = problem_of_draft(draft, zero, baths, learned)
    clock = time.monotonic
    outcome = solve(
        problem,
        seconds=THINK_S,
        clock=clock,
        stop=stop,
        say=lambda s: clock_time(zero.noted_ms + s * 1000, now),
    )
    sheet = PlanSheet(draft, zero, problem, outcome, learned=learned.words)
    answer(sheet)
    if sheet.plan is None or stop():
        return
    risk = assess_plan(
        problem, sheet.plan, *placed_draft(draft, baths, learned),
        seed=1, trials=TRIALS, spread=learned.spread, learned=learned,
    )  # fmt: skip
    sheet = replace(sheet, risk=risk)
    answer(sheet)
    gains = what_helps(problem, outcome, SearchLimits(HELP_S, clock, stop))
    sheet = replace(sheet, gains=gains)
    answer(sheet)
    if problem.away and sheet.plan is not None and not stop():
        limits = SearchLimits(HELP_S, clock, stop)
        answer(replace(sheet, latest=latest_start(problem, sheet.plan, limits)))


class PlanScreen(RowPage):
    """A run that is not on the bench yet.

    Args:
        draft: the choices so far.
        recipe: a recipe to add parts for right away.
    """

    KEYS = PLAN_KEYS
    CAUTIOUS = True
    BINDINGS = bindings(PLAN_KEYS)
    TITLE_WORDS = "Plan of a new run"

    def __init__(self, draft: Draft, recipe: str | None = None) -> None:
        super().__init__()
        self.draft = draft
        self.sheet: PlanSheet | None = None
        self._doubled: Draft | None = None  # its parts are already on the bench, as the page said
        self.thinking = False
        self._first = recipe
        self._stop = threading.Event()
        self._asked_at = 0.0
        self._last: dict[str, LastTime | None] = {}

    def on_mount(self) -> None:
        """Plan what is there, or ask for the first parts."""
        super().on_mount()
        self._think()
        if self._first is not None:
            self._ask_order(f"{self._first} ")
        elif not self.draft.parts:
            self.action_add()

    def on_unmount(self) -> None:
        """The answer is no longer needed."""
        self._stop.set()

    def compose(self) -> ComposeResult:
        """The page, with a line in the color of danger below its header."""
        header, *rest = super().compose()
        yield header
        yield PageText("danger")
        yield from rest

    def _draw_top(self) -> None:
        super()._draw_top()
        danger = clash_line(self.draft.recipes)
        self.query_one("#danger", PageText).say(danger and f" {danger}")

    def lead(self) -> str:
        """The question, the outcome, and the chance of an overrun."""
        now = self.bench.stamp()
        others = len(self.bench_app.open_runs())
        last = [each.line for each in self._last_times().values()]
        hint = [f"{line}. Z uses these settings" for line in last]
        return lead_lines(self.draft, self.sheet, self.thinking, self.terminal, now, others, hint)

    def _last_times(self) -> dict[str, LastTime]:
        """The last accepted try of each recipe of the run, if its parts are named."""
        for key, recipe in self.draft.recipes.items():
            if key not in self._last:
                try:
                    self._last[key] = self.bench.last_time(
                        self.bench_app.recipe_files.find(recipe.id)
                    )
                except (StoreError, RecipeError):
                    self._last[key] = None
        last = self._last
        return {key: found for key in self.draft.recipes if (found := last[key]) is not None}

    def action_last_time(self) -> None:
        """Use what the last accepted try of each recipe did differently."""
        wishes = [
            (key, c) for key, last_time in self._last_times().items() for c in last_time.changes
        ]
        if not wishes:
            self.say(
                "No changes to copy: no try was accepted, or the last one followed the recipe."
            )
        for key, change in wishes:
            self._change(partial(self._with_change, key, change))

    def _with_change(self, key: str, change: str) -> Draft:
        return self.draft.change(key, change)

    def make_rows(self) -> list[Row]:
        """The timeline."""
        now, plain = self.bench.stamp(), self.bench_app.plain
        shop = self.bench.shop(now)
        return plan_rows(self.draft, self.sheet, self.terminal, now, shop, plain=plain)

    def tick(self) -> None:
        """A plan that begins now, or whose start has passed, gets out of date."""
        old = time.monotonic() - self._asked_at > AGAIN_S
        if self.is_current and old and self._has_begun() and not self.thinking:
            self._think()
        super().tick()

    def _has_begun(self) -> bool:
        """Whether the start of the last plan is in the past."""
        zero = self.sheet.zero if self.sheet is not None else None
        begun = zero is not None and zero.noted_ms < self.bench.stamp().noted_ms
        return begun or self.draft.start_wall_ms is None

    def _change(self, change: Callable[[], Draft]) -> None:
        """Another draft, if it is valid; the planner is asked right away, in a thread."""
        draft = self.attempt(change)
        if draft is not None and draft != self.draft:
            self.draft = draft
            self.bench_app.kept_draft = draft
            self._think()

    def _think(self) -> None:
        self._stop.set()
        self._asked_at = time.monotonic()
        if not self.draft.parts:
            self.sheet, self.thinking = None, False
            self.draw()
            return
        self._stop, self.thinking = threading.Event(), True
        ask = partial(
            self._ask, self.draft, self.bench.stamp(), self._stop, self._baths(), self._learned(),
            self.bench.shop(self.bench.stamp()),
        )  # fmt: skip
        self.run_worker(ask, thread=True, exclusive=True, group="plan", exit_on_error=False)
        self.draw()

    def _baths(self) -> Mapping[str, str]:
        """The bath that each station would get; none if the book can't be read."""
        book = self.bench.book
        if book is None:
            return {}
        try:
            return book.tie(self.draft.recipes, {}, self.bench.stamp().noted_ms)[0]
        except (StoreError, Refused):
            return {}

    def _learned(self) -> Learned:
        """Your own times and rates; the recipes' if the log can't be read."""
        try:
            return self.bench.learned_of(self.draft.recipes, self.draft.changes)
        except StoreError as error:
            self.say(str(error))
            return NOTHING

    def _ask(
        self,
        draft: Draft,
        now: Stamp,
        stop: threading.Event,
        baths: Mapping[str, str],
        learned: Learned,
        shop: Shop,
    ) -> None:
        def answer(sheet: PlanSheet) -> None:
            if self.draft is draft and self.is_attached:
                self.app.call_from_thread(self._answered, sheet)

        def is_over() -> bool:
            self.bench_app.let_keys_pass()
            return stop.is_set()

        try:
            think(draft, now, is_over, answer, baths, learned, shop)
        except (ProblemError, Refused, RecipeError) as error:
            if self.draft is draft and self.is_attached:
                self.app.call_from_thread(self._failed, str(error))

    def _answered(self, sheet: PlanSheet) -> None:
        if sheet.draft is self.draft:
            self.sheet = sheet
            self.draw()

    def _failed(self, why: str) -> None:
        self.sheet = None
        self.say(why)
        self.draw()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """The planner has ended; if it failed, say so, and the run can be set up anyway."""
        if event.worker.group != "plan":
            return
        if event.state is WorkerState.ERROR:
            self.say(
                f"The planner failed. You can set the run up without a plan: {event.worker.error}"
            )
        if event.state in (WorkerState.ERROR, WorkerState.SUCCESS):
            self.thinking = False
            self.draw()

    def action_more(self) -> None:
        """Offer the actions without a key."""
        self.offer("More about this plan", PLAN_MORE)

    def action_stop(self) -> None:
        """Stop the planner."""
        self._stop.set()

    @property
    def _part(self) -> str:
        kind, _, name = self.rows.chosen.partition(":")
        return name if kind == "part" else ""

    def touched(self, key: str) -> None:
        """A touch picks a part; the empty list asks for parts."""
        if key == "add":
            self.action_add()

    def action_add(self) -> None:
        """Ask for a recipe and its parts on one line."""
        self._ask_order("")

    def _ask_order(self, value: str) -> None:
        runs = self.attempt(self.bench.recent) or []
        earlier = [part for line in runs for part in line.parts]
        page = OrderPage(
            list(self.bench_app.recipe_files.paths()), list(dict.fromkeys(earlier)), value
        )
        self.app.push_screen(
            page, lambda order: self._name_parts(*order) if order is not None else None
        )

    def _name_parts(self, name: str, parts: str) -> None:
        recipe = self.attempt(lambda: self.bench_app.recipe_files.find(name))
        if recipe is not None:
            self._ask_about(recipe, parts)

    def _ask_about(self, recipe: Recipe, text: str) -> None:
        """Ask what the recipe needs to know about each part."""
        asks = [
            (f"{name}.{p.id}", f"{name}: {p.ask}")
            for name in names_in(text)
            for p in recipe.part_properties
        ]
        ask_in_turn(
            self.app, asks, lambda given: self._change(lambda: self.draft.add(recipe, text, given))
        )

    def action_drop(self) -> None:
        """Take the part off the list."""
        name = self._part
        if name:
            self._change(lambda: self.draft.drop(name))

    def action_forward(self) -> None:
        """Move the part one place up."""
        name = self._part
        if name:
            self._change(lambda: self.draft.forward(name))

    def action_later(self, steps: int) -> None:
        """Hold the part back longer or less."""
        name = self._part
        if name:
            self._change(lambda: self.draft.later(name, steps * STEP_S))

    def action_not_before(self) -> None:
        """Hold the part back until a time."""
        name = self._part
        if name:
            zero = zero_of(self.draft, self.bench.stamp())
            self.ask(
                f"{name}: start no earlier than? 10:30, 45 min after the start, or 0 for no limit",
                lambda text: self._change(lambda: self.draft.not_before(name, text, zero)),
            )

    def action_enter(self) -> None:
        """Choose the step where a half-done part enters, then ask what was done before."""
        part = next((part for part in self.draft.parts if part.name == self._part), None)
        if part is None:
            return
        steps = self.draft.recipes[part.recipe].step
        titles = [f"{step.title}, from the start" if not i else step.title
                  for i, step in enumerate(steps)]  # fmt: skip

        def chosen(index: int | None) -> None:
            if index:
                self._ask_before(part.name, steps[index])
            elif index == 0:
                self._change(lambda: self.draft.enter(part.name, steps[0].id, ""))

        self.app.push_screen(ChoicePage(f"Which step does {part.name} start at?", titles), chosen)

    def _ask_before(self, name: str, step: Step) -> None:
        self.ask(
            f"What was already done to {name}? A note for the record; none of it counts as done",
            lambda text: self._change(lambda: self.draft.enter(name, step.id, text)),
        )

    def action_batch(self) -> None:
        """Ask how many pieces the part is."""
        name = self._part
        if name:
            self.ask(
                f"How many pieces are in {name}? They are handled as one part",
                lambda text: self._change(lambda: self.draft.batch(name, text)),
            )

    def action_change(self) -> None:
        """Change the recipe of the part for this run."""
        part = next((part for part in self.draft.parts if part.name == self._part), None)
        if part is not None:
            self.ask(
                f"Change what in {part.recipe}, for this run only? As in black.target=12 min",
                lambda text: self._change(lambda: self.draft.change(part.recipe, text)),
            )

    def action_away(self) -> None:
        """Hours when you are away."""
        self.ask(
            "When are you away? 22:00-07:00, 12:00-13:00, or none",
            lambda text: self._change(lambda: self.draft.with_away(text)),
        )

    def action_hands(self) -> None:
        """Add a pair of hands."""
        self._change(self.draft.more_hands)

    def action_start(self) -> None:
        """When it begins."""
        self.ask(
            "When does it start? 08:30, Sat 09:00, 2026-12-05 18:30, or now",
            lambda text: self._change(lambda: self.draft.with_start(text, self.bench.stamp())),
        )

    def action_worked(self) -> None:
        """When you work, by weekday."""
        self.ask(
            "When do you work? Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00, or always",
            lambda text: self._change(lambda: self.draft.with_hours(text)),
            hours_words(self.draft.hours_worked),
        )

    def action_prepare(self) -> None:
        """What to lay out, mix and heat."""
        if self.draft.parts:
            self.app.push_screen(PrepareScreen(None, self.draft.recipes))
        else:
            self.say("Choose the parts first.")

    def action_details(self) -> None:
        """Every move, the chances, what would help, and everything the last accepted try had."""
        texts = [details(self.sheet, self.bench.stamp())] if self.sheet is not None else []
        texts += [visible(f"LAST TIME\n{last.page}") for last in self._last_times().values()]
        if texts:
            self.app.push_screen(TextPage("The plan in words", "\n\n".join(texts)))

    def action_set_up(self) -> None:
        """Set it up, including which parts are held back."""
        if not self.draft.parts:
            self.action_add()
            return
        if not self.bench.read_only:
            self.attempt(self._set_up)

    def _set_up(self) -> None:
        now, new = self.bench.stamp(), order_of(self.draft)
        twin = twin_of(new, {name: self.bench.state(name) for name in self.bench.names})
        if twin is not None and self._doubled != self.draft:
            self._doubled = self.draft
            parts = ", ".join(part.name for part in self.draft.parts)
            same = f"Run {twin} has the same parts: {parts}"
            raise ValueError(f"{same}. SPACE again sets up a second one.")
        name = self.bench.set_up(new)
        self.bench_app.kept_draft = None
        held = held_back(self.draft, zero_of(self.draft, now), now)
        if len(held) == len(self.draft.parts) and len(set(held.values())) == 1:
            self.bench.press(name, Postpone(None, next(iter(held.values()))))
        else:
            for part, until_ms in held.items():
                self.bench.press(name, Postpone(part, until_ms))
        self.bench_app.show_run(name)

    def action_back(self) -> None:
        """Go back; the draft is kept."""
        self.bench_app.kept_draft = self.draft if self.draft.parts else None
        super().action_back()
