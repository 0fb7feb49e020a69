"""The board: draws what ``view`` says and passes presses to the desk."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.worker import Worker, WorkerState, get_current_worker

from benchtimer.bench.asking import Question, begins_later_ms
from benchtimer.bench.moment import Moment
from benchtimer.bench.plans import Advice
from benchtimer.run.actions import Action
from benchtimer.run.commands import Begin
from benchtimer.run.refusals import Refused
from benchtimer.store.log import StoreError
from benchtimer.tui.bindings import bindings
from benchtimer.tui.boardpages import BoardPages
from benchtimer.tui.compositor import NarrowCompositor
from benchtimer.tui.dialogs import ChoicePage, LinePage
from benchtimer.tui.drawing import Drawing
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.lines import CachedLine, FixedLine, HazardText, TouchKey, TouchRow
from benchtimer.values import replace
from benchtimer.view.alarm import OVERDUE, alarms_at, message_of
from benchtimer.view.board_text import Board, frame_rows, make_board
from benchtimer.view.desk import Desk
from benchtimer.view.header import BAND_EDGES, band
from benchtimer.view.keys import KEYS
from benchtimer.view.space import Size
from benchtimer.view.space_label import space_label
from benchtimer.view.words import clock_time

TICK_S = 1.0
"""How often the clock is read."""

PRACTICE_TICK_S = 0.2
"""... and in fast practice."""

PAGES = (
    "help", "first_aid", "menu", "home", "note", "go", "add", "timer", "hazards", "stations",
    "work", "log", "judge", "compare", "prepare", "palette",
)  # fmt: skip
"""The board's actions that open a page."""

BANDS = ("header", "then", "undo")
"""Lines whose background alternates with each beat while something is late."""


class BoardScreen(BoardPages):
    """Everything on the bench: the next action in large letters, the lanes of all parts below."""

    BINDINGS = bindings(KEYS)
    OPENS = frozenset(key.key for key in KEYS if key.action in PAGES)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._compositor = NarrowCompositor()
        self.desk = desk
        self._trouble = ""
        self._beat = False
        self._hazard: tuple[str, ...] = ()
        self._more = False

    def compose(self) -> ComposeResult:
        """The fixed lines, and space for the picture."""
        yield FixedLine("header")
        yield FixedLine("next")
        yield TouchRow(id="answers")
        yield FixedLine("then", indent=1)
        yield Drawing("picture")
        yield VerticalScroll(HazardText("hazard"), id="page", can_focus=False)
        yield CachedLine("message")
        yield FixedLine("undo", indent=1)
        yield KeyFooter()

    def on_mount(self) -> None:
        """Start the ticks. A tick reads the clock; it counts nothing."""
        self.refresh_board()
        self.call_after_refresh(self.refresh_board)  # the space for the picture is known now
        page = self.query_one("#page", VerticalScroll)
        self.watch(page, "virtual_size", self._check_more, init=False)
        self.watch(page, "show_vertical_scrollbar", self._check_more, init=False)
        self.set_interval(TICK_S if self.desk.bench.speed == 1 else PRACTICE_TICK_S, self.tick)

    def on_resize(self) -> None:
        """Draw for the new size, once the resizing stops."""
        self.set_timer(0.1, self.refresh_board)

    def on_screen_resume(self) -> None:
        """Draw again after a page in front has closed."""
        self.refresh_board()

    def tick(self) -> None:
        """Check the clock, new entries, and what is due."""
        self._look_or_say()
        moment = self.desk.bench.moment()
        self._call(moment)
        self._ask_planner()
        if self.is_current:
            self.refresh_board(moment, by_itself=True)

    def _look_or_say(self) -> None:
        """Timers continue without the disk; the problem stays on the screen until it is over."""
        if self.desk.message == self._trouble:
            self.desk.message = ""
        self._trouble = ""
        try:
            self._look()
        except StoreError as error:
            self.desk.message = self._trouble = str(error)

    def _look(self) -> None:
        self.desk.bench.look()
        if self.desk.read_only:
            self.bench_app.follow_watcher()

    def refresh_board(self, moment: Moment | None = None, *, by_itself: bool = False) -> None:
        """Draw what has changed.

        Args:
            moment: the bench now; read if None.
            by_itself: only time has passed; no key was pressed.
        """
        if not self.is_there:
            return
        desk = self.desk
        moment = moment if moment is not None else desk.bench.moment()
        shown = desk.shown(moment)
        self._more = self._more_below()
        look = replace(
            desk.look(shown, moment, self.bench_app.marks),
            more=self._more,
            plain=self.bench_app.plain,
        )
        size = Size(self.size.width, self.size.height)
        board = make_board(moment, shown, size, look)
        self.set_class(look.glance and not board.hazard, "glance")
        self.set_class(frame_rows(size, reads_hazard=bool(board.hazard)) == 0, "low")
        desk.saw(moment, shown, by_itself=by_itself)
        # the part that a page in front is about stays picked
        if shown is not None and self.is_current:
            desk.name = shown.run
        self._draw(board, size, moment)
        label = space_label(desk, shown, moment, more=self._more)
        self.query_one(KeyFooter).say("space", label)
        if board.hazard:
            self.call_after_refresh(self._check_more)
        if board.hazard != self._hazard:  # each hazard is read from the top
            self._hazard = board.hazard
            self.set_class(bool(board.hazard), "reading-hazard")
            self.query_one("#page", VerticalScroll).scroll_home(animate=False)
            self.call_after_refresh(self.refresh_board)  # how much fits is known only after that

    def _draw(self, board: Board, size: Size, moment: Moment) -> None:
        beat = self._beat
        calling = message_of(alarms_at(moment), size.width - BAND_EDGES) if beat else ""
        for name in BANDS:
            self.query_one(f"#{name}", FixedLine).beat(beat)
        self._say("header", band(calling, size.width) if beat else board.header)
        self._say("next", "\n".join(board.next_lines), board.urgency)
        self._say("then", band("", size.width - 1) if beat else board.then_line)
        self._say("hazard", "\n".join(board.hazard))
        self.query_one("#picture", Drawing).draw(board.scene)
        self._say_or_hide("message", board.message)
        self._say("undo", board.undo_line)
        self.query_one("#answers", TouchRow).show(board.answers, board.rooms.answers)
        self.query_one(KeyFooter).enlarge(board.rooms.keys > 1)

    def _check_more(self) -> None:
        """How much of a page fits is known only after layout; SPACE must say what it does."""
        if self._more_below() != self._more:
            self.refresh_board()

    def _say_or_hide(self, name: str, lines: Sequence[str]) -> None:
        self._say(name, "\n".join(lines))
        self.query_one(f"#{name}").set_class(not lines, "empty")

    def _say(self, name: str, text: str, urgency: str | None = None) -> None:
        line = self.query_one(f"#{name}", CachedLine)
        line.say(text)
        if urgency is not None:
            line.press(urgency)

    def _ask_planner(self) -> None:
        """Ask the planner in a thread, so that no key waits for the answer."""
        desk = self.desk
        moment = desk.bench.last_moment()
        if desk.asking.is_due(moment):
            self.run_worker(
                partial(self._think, desk.asking.question(moment)),
                thread=True,
                exclusive=True,
                group="planner",
                exit_on_error=False,
            )

    def _think(self, question: Question) -> None:
        worker, desk = get_current_worker(), self.desk
        presses = desk.asking.presses()

        def is_stale() -> bool:
            self.bench_app.let_keys_pass()
            return worker.is_cancelled or desk.asking.presses() != presses

        advice = question(is_stale)
        if not is_stale():
            self.app.call_from_thread(self._advised, advice)
            desk.bench.plans.publish()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """If the planner fails, say so; the board continues with the nearest deadline."""
        if event.state is WorkerState.ERROR:
            self.desk.message = (
                f"The planner failed. The board keeps running without it: {event.worker.error}"
            )

    def _advised(self, advice: Advice) -> None:
        self.desk.bench.plans.keep(advice)
        self.refresh_board(by_itself=True)

    def _call(self, moment: Moment) -> None:
        """Ring, and show the alarm over the whole screen."""
        alarms = alarms_at(moment)
        call = self.bench_app.caller.call_for(alarms)
        late = (
            any(alarm.level == OVERDUE for alarm in alarms) and not self.bench_app.caller.is_silent
        )
        self._beat = late and not self._beat
        if call is not None:
            self.bench_app.ring(call)

    def is_deliberate(self, key: str) -> bool:
        """Digits can come fast while you enter a figure."""
        if not key.isdecimal():
            return super().is_deliberate(key)
        moment = self.desk.meant()
        action = self.desk.shown(moment)
        types = action is not None and self.desk.takes_figure(action, moment.now_ms)
        return not types and super().is_deliberate(key)

    def on_key(self, event: events.Key) -> None:
        """Digits, and other characters of a figure."""
        if event.character and event.character in "0123456789.-" and not self.desk.read_only:
            if self.desk.digit(event.character):
                event.stop()
                self.refresh_board()
        elif event.key == "backspace":
            self.desk.rub_out()
            self.refresh_board()

    async def on_click(self, event: events.Click) -> None:
        """A touch on the large line confirms, on a lane picks its part, on a key presses it."""
        touched = event.widget
        if isinstance(touched, TouchKey):
            await self._touch(touched.key)
        elif isinstance(touched, Drawing):
            part = touched.part_at(event.y)
            if part is not None:
                self.desk.pick_number(part)
        elif touched is not None and touched.id == "next":
            self.action_confirm()
        elif touched is not None and touched.id == "undo":
            self.action_desk("undo")
        self.refresh_board()

    async def _touch(self, key: str) -> None:
        """Does the same as the key itself."""
        action = next((k.action for k in KEYS if k.key == key), None)
        if action is not None:
            await self.run_action(action)
        elif key == "backspace":
            self.desk.rub_out()
        else:
            self.desk.digit(key)

    def _more_below(self) -> bool:
        """Whether a hazard is shown that has not been read to its end."""
        box = self.query_one("#page", VerticalScroll)
        return self.has_class("reading-hazard") and box.max_scroll_y > box.scroll_target_y

    def action_confirm(self) -> None:
        """Do what the large line says; a long hazard must first be read to its end."""
        if self._more_below():
            if not self.desk.too_soon():
                self.query_one("#page", VerticalScroll).scroll_page_down(animate=False)
                self.call_after_refresh(self.refresh_board)
            return
        wanted = self.desk.confirm()
        self._after_press()
        if wanted == "early":
            self._ask_early()
        asked = self.desk.shown(self.desk.meant()) if wanted == "write" else None
        if asked is not None and asked.check is not None:
            page = LinePage(f"{asked.part}: {asked.check.ask}")
            self.app.push_screen(page, partial(self._written, asked))

    def _ask_early(self) -> None:
        """Ask the planner, in a thread, what is lost if a part is begun before its time."""
        desk = self.desk
        if desk.begins_early is None:
            return
        moment, action = desk.begins_early
        command, presses = action.command, desk.asking.presses()
        assert isinstance(command, Begin)  # noqa: S101 - the desk has looked
        try:
            question = desk.asking.begun_now(moment, action.run, command)
        except Refused:
            self._begin_early(action)  # the desk says why not
            return

        def think() -> None:
            worker = get_current_worker()
            lost = question(lambda: worker.is_cancelled or desk.asking.presses() != presses)
            if not worker.is_cancelled and desk.asking.presses() == presses:
                self.app.call_from_thread(self._early_known, action, presses, lost)

        self.run_worker(think, thread=True, exclusive=True, group="early", exit_on_error=False)

    def _early_known(self, action: Action, presses: dict[str, int], lost: str) -> None:
        """Begin the part where nothing is lost, else ask; a press made meanwhile counts more."""
        desk = self.desk
        if desk.asking.presses() != presses or not self.is_current:
            return
        if not lost:
            self._begin_early(action)
            return
        moment = desk.bench.moment()
        label = moment.bench_of(action).parts[action.part or ""].label
        later_ms = begins_later_ms(moment, action) or moment.now_ms
        wait = f"Wait: it begins at {clock_time(later_ms, moment.stamp)}"

        def chosen(index: int | None) -> None:
            if index == 1 and desk.asking.presses() == presses:
                self._begin_early(action)

        title = f"Begin {label} now? That costs a window: {lost}"
        self.app.push_screen(ChoicePage(title, [wait, "Begin it now"]), chosen)

    def _begin_early(self, action: Action) -> None:
        if action.command is not None:
            self.desk.press(action.command, action.run)
            self._after_press()

    def _written(self, asked: Action, text: str | None) -> None:
        if text:
            self.desk.write(text, asked)
            self._after_press()

    def _after_press(self) -> None:
        self.bench_app.caller.attend()
        ended = self.desk.ended
        self.refresh_board(self.desk.after_press())
        self.call_after_refresh(self._ask_planner)  # planning must not delay drawing
        if ended:
            self.bench_app.show_end(ended)

    def action_desk(self, press: str, *values: bool | int) -> None:
        """A press that only the desk interprets; ``press`` names its method."""
        getattr(self.desk, press)(*values)
        self._after_press()

    def action_pick_next(self, step: int) -> None:
        """Pick another part, or scroll the hazard."""
        if self.has_class("reading-hazard"):
            self.query_one("#page", VerticalScroll).scroll_relative(y=step, animate=False)
            return
        self.desk.pick_next(step)
        self.refresh_board()

    def action_let_go(self) -> None:
        """Back to the most urgent action."""
        self.desk.let_go()
        self.refresh_board()

    def action_glance(self) -> None:
        """The next action on the whole screen, or the board again."""
        self.desk.glance = not self.desk.glance
        self.refresh_board()

    def action_silence(self) -> None:
        """Silence alarms for a minute."""
        if self.desk.silence():
            self.bench_app.caller.silence()
            self._beat = False
        self.refresh_board()

    def action_palette(self) -> None:
        """Find a command by its name."""
        self.app.action_command_palette()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A watcher has no keys that change anything."""
        del parameters
        changing = {k.action.partition("(")[0] for k in KEYS if k.changes}
        return not (self.desk.read_only and action in changing)
