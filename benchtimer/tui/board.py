"""The board: draws what ``view`` says and passes presses to the desk."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import Worker, WorkerState, get_current_worker

from benchtimer.advice import Advice
from benchtimer.bench import Watcher
from benchtimer.records.compare import attempts_text
from benchtimer.records.export import as_text
from benchtimer.run import commands as c
from benchtimer.run.state import OVER
from benchtimer.store.log import StoreError
from benchtimer.tui.alarm import Bell
from benchtimer.tui.desk import Desk
from benchtimer.tui.dialogs import ChoicePage, LinePage, TextPage, ask_in_turn
from benchtimer.tui.judging import judge_in_turn
from benchtimer.tui.keys import KEYS, footer, help_lines
from benchtimer.tui.menu import Offer, offers
from benchtimer.tui.view import Lane, Size, caution_lines, make_board

if TYPE_CHECKING:
    from benchtimer.tui.app import BenchApp

URGENCIES = ("wait", "now", "late", "calm")


class Line(Static):
    """Text that is drawn again only when it changes."""

    def __init__(self, name: str) -> None:
        super().__init__("", markup=False, id=name)
        self._said = ""

    def say(self, text: str) -> None:
        """Show a text."""
        if text != self._said:
            self._said = text
            self.update(text)

    def press(self, urgency: str) -> None:
        """Show how pressing it is."""
        for name in URGENCIES:
            self.set_class(name == urgency, name)


class LaneRow(Line):
    """A part's lane; a touch picks the part."""

    def __init__(self, number: int) -> None:
        super().__init__(f"lane-{number}")
        self.number = number


class BoardScreen(Screen[None]):
    """One run: the next action large, the lanes below it."""

    BINDINGS = [
        Binding(k.key, k.action, k.help, show=False, priority=k.key in ("tab",)) for k in KEYS
    ]

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._lanes: list[LaneRow] = []
        self._bell = Bell()
        self._trouble = ""

    @property
    def _bench_app(self) -> BenchApp:
        return self.app  # type: ignore[return-value]

    def compose(self) -> ComposeResult:
        """The fixed lines, and room for the lanes."""
        yield Line("header")
        yield Line("next")
        yield Line("then")
        yield VerticalScroll(Line("caution"), id="lanes", can_focus=False)
        yield Line("stations")
        yield Line("message")
        yield Line("undo")
        yield Static(footer(read_only=self.desk.read_only), markup=False, id="keys")

    def on_mount(self) -> None:
        """Begin to tick. A tick looks at the clock; it counts nothing."""
        self.refresh_board()
        self.call_after_refresh(self.refresh_board)  # the room for the lanes is known now
        self.set_interval(0.2 if self.desk.bench.speed != 1 else 1.0, self.tick)

    def on_resize(self) -> None:
        """Draw for the new size, after the burst of sizes is over."""
        self.set_timer(0.1, self.refresh_board)

    def on_screen_resume(self) -> None:
        """Draw again when a page in front has gone."""
        self.refresh_board()

    def tick(self) -> None:
        """Look at the clock, at new entries, and at what is due."""
        self._look_or_say()
        self._ring()
        self._ask_planner()
        if self.is_current:
            self.refresh_board()

    def _look_or_say(self) -> None:
        """Timers count on without the disk; the trouble stays in sight until it is over."""
        if self.desk.message == self._trouble:
            self.desk.message = ""
        self._trouble = ""
        try:
            self._look()
        except StoreError as error:
            self.desk.message = self._trouble = str(error)

    def _look(self) -> None:
        bench = self.desk.bench
        if isinstance(bench, Watcher):
            bench.refresh()
            self._bench_app.follow_watcher(self)
        else:
            bench.notice_clock()

    def refresh_board(self) -> None:
        """Draw what has changed."""
        if not self.is_mounted or not self._nodes:
            return
        desk, stamp = self.desk, self.desk.bench.stamp()
        shown = desk.shown(stamp)
        size = Size(self.size.width, self.size.height)
        marks = self._bench_app.marks
        board = make_board(
            desk.state, desk.actions(stamp), shown, stamp, size,
            name=desk.name, entry=desk.entry, marks=marks,
            reading=desk.reading or desk.reads_caution(shown, stamp),
            end_ms=desk.advice.end_ms,
            advised=desk.advice.for_bench(desk.state.bench),
        )  # fmt: skip
        self._say("header", board.header)
        self._say("next", "\n".join(board.next_lines), board.urgency)
        self._say("then", board.then_line)
        self._say("caution", "\n".join(board.caution))
        if bool(board.caution) != self.has_class("reading-caution"):
            self.set_class(bool(board.caution), "reading-caution")
            self.query_one("#lanes", VerticalScroll).scroll_home(animate=False)
            self.call_after_refresh(self.refresh_board)  # how much fits is known after that
        self._draw_lanes(board.lanes)
        self._say("stations", board.stations)
        told = desk.message or desk.warning
        if board.caution and self._more_below():
            told = "MORE BELOW: SPACE shows it"
        self._say("message", told)
        self.set_class(not told, "quiet")  # an empty line is a lane's worth of room
        self.set_class(size.height < 22, "low")
        self._say("undo", board.undo_line)

    def _say(self, name: str, text: str, urgency: str | None = None) -> None:
        line = self.query_one(f"#{name}", Line)
        line.say(text)
        if urgency is not None:
            line.press(urgency)

    def _draw_lanes(self, lanes: tuple[Lane, ...]) -> None:
        box = self.query_one("#lanes", VerticalScroll)
        while len(self._lanes) < len(lanes):
            row = LaneRow(len(self._lanes) + 1)
            self._lanes.append(row)
            box.mount(row)
        tall = len(lanes) * 2 <= box.size.height
        for row, lane in zip(self._lanes, lanes, strict=True):
            picked = lane.part == self.desk.picked
            line = f">{lane.line[1:]}" if picked else lane.line
            row.say(f"{line}\n{lane.bar}" if tall else line)
            row.press(lane.urgency)
            row.set_class(picked, "picked")

    def _ask_planner(self) -> None:
        """Ask in a thread, so that no key waits for an answer."""
        if self.desk.wants_advice():
            question = self.desk.ask_planner()
            self.run_worker(
                partial(self._think, question),
                thread=True,
                exclusive=True,
                group="planner",
                exit_on_error=False,
            )

    def _think(self, question: Callable[[Callable[[], bool]], Advice]) -> None:
        worker = get_current_worker()
        advice = question(lambda: worker.is_cancelled)
        if not worker.is_cancelled:
            self.app.call_from_thread(self._advised, advice)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """A planner that fails is said; the board goes on by the nearest deadline."""
        if event.state is WorkerState.ERROR:
            self.desk.message = (
                f"The planner failed, the board goes on without: {event.worker.error}"
            )

    def _advised(self, advice: Advice) -> None:
        self.desk.heed(advice)
        self.refresh_board()

    def _ring(self) -> None:
        due = self.desk.alarms(self.desk.bench.stamp())
        keys = {(name, a.kind.value, a.part or a.to_station or "") for name, a in due}
        if self._bell.should_ring(keys):
            self.app.bell()

    def on_key(self, event: events.Key) -> None:
        """Digits, and what else a figure is written with."""
        if event.character and event.character in "0123456789.-" and not self.desk.read_only:
            event.stop()
            self.desk.digit(event.character)
            self.refresh_board()
        elif event.key == "backspace":
            self.desk.rub_out()
            self.refresh_board()

    def on_click(self, event: events.Click) -> None:
        """A touch on the large line confirms, on a lane picks its part."""
        if isinstance(event.widget, LaneRow):
            self.desk.pick(event.widget.number)
        elif event.widget is not None and event.widget.id == "next":
            self.action_confirm()
        elif event.widget is not None and event.widget.id == "undo":
            self.action_undo()
        self.refresh_board()

    def _more_below(self) -> bool:
        """Whether a caution is being read that has not been shown to its end."""
        box = self.query_one("#lanes", VerticalScroll)
        return self.has_class("reading-caution") and box.max_scroll_y > box.scroll_target_y

    def action_confirm(self) -> None:
        """Do what the large line says; a long caution is first read to its end."""
        if self._more_below():
            self.query_one("#lanes", VerticalScroll).scroll_page_down(animate=False)
            self.call_after_refresh(self.refresh_board)
            return
        wanted = self.desk.confirm()
        self._after_press()
        if wanted == "write":
            action = self.desk.shown(self.desk.bench.stamp())
            ask = action.check.ask if action is not None and action.check is not None else "Write"
            self.app.push_screen(LinePage(ask), self._written)

    def _written(self, text: str | None) -> None:
        if text:
            self.desk.write(text)
            self._after_press()

    def _after_press(self) -> None:
        self._bell.hush()
        self._ask_planner()
        self.refresh_board()
        if not self.desk.read_only and self.desk.state.bench.phase in OVER:
            self._bench_app.show_end(self.desk)

    def action_say(self, answer: bool) -> None:
        """Yes or no."""
        self.desk.say(answer)
        self._after_press()

    def action_undo(self) -> None:
        """Take the last press back."""
        self.desk.undo()
        self._after_press()

    def action_redo(self) -> None:
        """Let it count again."""
        self.desk.redo()
        self._after_press()

    def action_back_date(self, seconds: int) -> None:
        """The last press was earlier."""
        self.desk.back_date(seconds)
        self._after_press()

    def action_early(self) -> None:
        """Lift before the least time."""
        self.desk.early()
        self._after_press()

    def action_pick_next(self, step: int) -> None:
        """Pick another part, or move the caution that is being read."""
        if self.has_class("reading-caution"):
            self.query_one("#lanes", VerticalScroll).scroll_relative(y=step, animate=False)
            return
        self.desk.pick_next(step)
        self.refresh_board()

    def action_let_go(self) -> None:
        """Back to the most pressing action."""
        self.desk.let_go()
        self.refresh_board()

    def action_next_run(self) -> None:
        """Show the next run on the bench."""
        self._bench_app.show_next_run(self.desk)

    def action_work(self) -> None:
        """The recipe's own words on the work shown."""
        action = self.desk.shown(self.desk.bench.stamp())
        bench = self.desk.state.bench
        if action is None or action.part is None or action.index is None:
            return
        step = bench.recipe_of(bench.parts[action.part]).step[action.index]
        self.app.push_screen(TextPage(step.title, step.text or "The recipe says no more."))

    def action_log(self) -> None:
        """The record so far."""
        record = self.desk.bench.record(self.desk.name)
        self.app.push_screen(TextPage(f"Record of run {self.desk.name}", as_text(record)))

    def action_judge(self) -> None:
        """How the part picked came out, or each part that is through."""
        desk = self.desk
        parts = desk.state.bench.parts.values()
        told = [p.name for p in parts if p.name == desk.picked or (p.is_out and not desk.picked)]
        if not told:
            desk.message = "No part is through yet. Pick one to judge it all the same."
        judge_in_turn(self.app, desk, told, self._after_press)

    def action_compare(self) -> None:
        """What differed between the attempts of the part shown, over this run and earlier ones."""
        action = self.desk.shown(self.desk.bench.stamp())
        shown = action.part if action is not None else None
        name = self.desk.picked or shown or next(iter(self.desk.state.bench.parts))
        text = attempts_text(self.desk.bench.records_with(name), name)
        self.app.push_screen(TextPage(f"Attempts of {name}", text))

    def action_cautions(self) -> None:
        """All cautions of the run's recipes."""
        told: list[str] = []
        for recipe in self.desk.state.bench.recipes.values():
            for caution in recipe.caution:
                told += [caution.title.upper(), *caution_lines(caution, 70)[:-1], ""]
        text = "\n".join(told) or "The recipes of this run name no cautions."
        self.app.push_screen(TextPage("Cautions", text))

    def action_help(self) -> None:
        """The keys."""
        self.app.push_screen(TextPage("Keys", "\n".join(help_lines(read_only=self.desk.read_only))))

    def action_leave(self) -> None:
        """Leave; the run stays on the bench."""
        self.app.exit()

    def action_note(self) -> None:
        """Write a note, about the part picked if one is."""
        part = self.desk.picked
        ask = f"Note about {part}" if part else "Note"
        self._ask(ask, lambda text: self.desk.press(c.Note(text, part)))

    def action_add(self) -> None:
        """Let a part join with a recipe of this run."""
        recipes = list(self.desk.state.bench.recipes)
        if len(recipes) == 1:
            self._name_part(recipes[0])
            return
        self.app.push_screen(
            ChoicePage("Which recipe does the new part follow?", recipes),
            lambda i: self._name_part(recipes[i]) if i is not None else None,
        )

    def _name_part(self, key: str) -> None:
        known = self.desk.state.bench.recipes[key].property
        asks = [("", "Name of the new part"), *((p.id, p.ask) for p in known)]

        def join(told: dict[str, str]) -> None:
            name = told.pop("")
            self.desk.press(c.AddPart(name, key, properties=told))
            self._after_press()

        ask_in_turn(self.app, asks, join)

    def _ask(self, title: str, then: object) -> None:
        def written(text: str | None) -> None:
            if text and callable(then):
                then(text)
                self._after_press()

        self.app.push_screen(LinePage(title), written)

    def action_menu(self) -> None:
        """What is done seldom."""
        bench = self.desk.state.bench
        action = self.desk.shown(self.desk.bench.stamp())
        name = self.desk.picked or (action.part if action is not None else None)
        self._offer("More", offers(bench, bench.parts.get(name or "")))

    def _offer(self, title: str, told: list[Offer]) -> None:
        page = ChoicePage(title, [_shown(offer) for offer in told])
        self.app.push_screen(page, partial(self._chosen, told))

    def _chosen(self, told: list[Offer], index: int | None) -> None:
        if index is None:
            return
        offer = told[index]
        if offer.command is not None:
            self.desk.press(offer.command)
            self._after_press()
        elif offer.choices:
            self._offer(offer.text, list(offer.choices))
        elif offer.with_words is not None:
            make = offer.with_words
            self._ask(offer.ask, lambda text: self.desk.press(make(text)))
        elif offer.in_book is not None:
            write = offer.in_book
            self._ask(offer.ask, lambda text: self.desk.write_bath(offer.bath, write(text)))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A watcher has no keys that change anything."""
        del parameters
        changing = {k.action.partition("(")[0] for k in KEYS if k.changes}
        return not (self.desk.read_only and action in changing)


def _shown(offer: Offer) -> str:
    """An offer's line; one that can't be taken now says so."""
    can = offer.command or offer.choices or offer.with_words or offer.in_book
    return offer.text if can else f"({offer.text}: not now)"
