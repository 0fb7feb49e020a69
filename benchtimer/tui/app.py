"""The application: which screen is shown, and nothing else."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from functools import partial
from importlib import import_module
from math import inf
from typing import TYPE_CHECKING, Any

from rich.console import RenderableType
from textual import events
from textual.app import App
from textual.binding import Binding
from textual.driver import Driver as TextualDriver
from textual.filter import LineFilter, Monochrome, NoColor
from textual.screen import Screen
from textual.timer import Timer

from benchtimer import guide
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.settings import Settings
from benchtimer.sound.ways import UNHEARD, Ways
from benchtimer.store.log import StoreError
from benchtimer.tui.awake import Awake
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.first_aid_screen import FirstAidPage
from benchtimer.tui.front import FrontPage
from benchtimer.tui.palette import KeyCommands, KeyPalette
from benchtimer.tui.plain import PLAIN_KEYS, AsciiOnly
from benchtimer.tui.ringer import Ringer, try_alarm
from benchtimer.tui.themes import THEMES
from benchtimer.view.alarm import HURRY, AlarmPacer, Call, alarms_at, message_of
from benchtimer.view.atwork import leaves_behind, parts_at_work
from benchtimer.view.desk import INSIST_S, Desk
from benchtimer.view.first_aid_text import Rinse, aids_now
from benchtimer.view.in_sight import next_line, next_words
from benchtimer.view.keyguard import GUARD_S, QUIET_S, KeyGuard, Verdict
from benchtimer.view.text import clip
from benchtimer.view.words import clock_time

if TYPE_CHECKING:
    from benchtimer.bench.joblook import JobLook
    from benchtimer.view.draft import Draft

SOON_S = 1.0
"""The first frame is drawn by this time."""

AWAKE_S = 3.0
"""How often to check whether parts are in process."""

LATER = (
    "job.evening", "records.last_time", "records.try_comparison", "tui.guidepage",
    "tui.home_page", "tui.joborderpage", "tui.jobpage", "tui.judging", "tui.planning",
    "tui.preparing", "tui.recordpage", "tui.runs_page",
)  # fmt: skip
"""Modules that a board needs only for some keys: the first frame does not wait for them."""


KEY_S, REST_S = 0.05, 0.002
"""The planner waits this long after a key, 2 ms at a time. Python's threads share one lock: while
the planner runs, a key takes more than twice as long (measured on two quiet cores).
"""

OPENS_S = 0.5
"""How long keys wait at most for a page that is being opened."""


class BenchApp(App[None]):
    """The bench on the screen.

    Args:
        bench: the bench to drive or watch.
        name: the run to show first; the newest open one if None.
        recipe_files: where new runs find their recipes.
        guard_s: how long a second press of the same key counts as a slip; 0 for never.
        settings: what is known about the shop: alarm command, theme, hands, hours away, vessels.
        ascii_only: the terminal shows only ASCII.
        awake: keeps the computer from going to sleep while parts are in process; None lets it
            sleep.
        ways: tone and desktop notice, and what you have heard here; None for the bell alone.

    Attributes:
        bench: the bench that is driven or watched.
        plain: whether lanes are drawn with ASCII only.
        caller: decides when alarms go off; one for all boards, so that a silence applies to all.
        kept_draft: the plan you left, to continue later; None if there is none.
        failure: the error that closed the screen; None if you left it.
    """

    BINDINGS = [Binding("f1", "first_aid", "First aid", show=False, priority=True)]
    ALLOW_SELECT = False  # a mouse drag is not a press; SHIFT lets the terminal select text
    CSS_PATH = ["bench.tcss", "pages.tcss"]
    COMMANDS = {KeyCommands}
    TITLE = "benchtimer"

    def __init__(
        self,
        bench: OpenBench,
        name: str | None = None,
        *,
        recipe_files: RecipeFiles | None = None,
        guard_s: float = GUARD_S,
        settings: Settings | None = None,
        ascii_only: bool = False,
        awake: Awake | None = None,
        ways: Ways | None = None,
    ) -> None:
        super().__init__()
        self.animation_level = "none"  # alarms and countdowns call for you without a press
        self._awake = awake
        self.settings = settings if settings is not None else Settings()
        self._ascii = [AsciiOnly()] if ascii_only else []
        for known in list(self.available_themes):
            self.unregister_theme(known)
        for theme in THEMES:
            self.register_theme(theme)
        # Setting it the usual way would parse the styles twice before the first frame.
        self.set_reactive(BenchApp.theme, self.settings.screen.theme)
        self.stylesheet.set_variables(self.get_css_variables())
        self.set_class(self.no_color, "no-color")
        self.bench = bench
        bench.unit = self.settings.degrees
        self.recipe_files = recipe_files if recipe_files is not None else RecipeFiles()
        self.plain = ascii_only
        hurry = min(bench.speed, HURRY)
        self.caller = AlarmPacer(lambda: time.monotonic() * hurry)
        self._ways = ways
        self._ringer = Ringer(self, ways, self.settings.alarm.command, self.complain)
        self._rinse = Rinse(time.monotonic)
        self._pressed_at = -inf
        self.failure: Exception | None = None
        self.kept_draft: Draft | None = None
        self._first = name
        self._guard_s = guard_s
        self._guard = KeyGuard(guard_s)
        self._doubtful: tuple[events.Key, Timer] | None = None
        self._opening: events.Key | None = None
        self._behind: list[events.Key] = []
        self._door = Desk(bench, "")

    def get_driver_class(self) -> type[TextualDriver]:
        """Reads the keys and writes the screen."""
        usual = super().get_driver_class()
        if sys.platform != "win32" and usual.__name__ == "LinuxDriver":
            from benchtimer.tui.keyboard import Keyboard

            return Keyboard
        return usual

    def push_screen(
        self, screen: Any, callback: Callable[[Any], Any] | None = None, *args: Any, **more: Any
    ) -> Any:
        """Show a page in front. Its answer is dropped if the page that asked is gone by then.

        Args:
            screen: the page.
            callback: called with its answer.
            args: passed on to Textual.
            more: passed on to Textual.
        """
        asked_by = self.screen_stack[-1:]

        def answered(result: Any) -> Any:
            there = all(page in self.screen_stack for page in asked_by)
            return callback(result) if callback is not None and there else None

        return super().push_screen(screen, callback and answered, *args, **more)

    def _handle_exception(self, error: Exception) -> None:
        self.failure = self.failure or error
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """Close the screen; the command that started it prints why, in one line."""
        self.panic()

    def panic(self, *renderables: RenderableType) -> None:
        """Close the screen with exit code 1 and print nothing."""
        del renderables
        self._return_code = 1
        self._close_messages_no_wait()

    async def on_event(self, event: events.Event) -> None:
        """Every event of the terminal; a key that bounced, is held or was typed ahead stops
        here.
        """
        if isinstance(event, events.Key) and self._is_ahead(event):
            return  # on its way down, or up again after another page has come to the front
        if isinstance(event, events.Key) and event.is_forwarded and not self.screen.is_mounted:
            return  # the page it was for had no use for it, and the next one has no rows yet
        if isinstance(event, events.Key) and not event.is_forwarded:
            self._pressed_at = time.monotonic()
            await self._take_in_order(event)
            return
        await super().on_event(event)
        if isinstance(event, events.Key) and event is self._opening:
            # The app's own timer takes the keys: a page can't wait for its own end.
            self.screen.call_after_refresh(self.set_timer, 0.001, partial(self._take_behind, event))

    def let_keys_pass(self) -> None:
        """Wait, in the planner's thread, until the screen has had time to answer the last key."""
        while time.monotonic() - self._pressed_at < KEY_S:
            time.sleep(REST_S)

    async def _take_in_order(self, event: events.Key) -> None:
        """A key that opens a page is done first: what comes behind it is meant for that page."""
        if self._opening is not None:
            self._behind.append(event)
            return
        front = self.screen if self.screen_stack else None
        if isinstance(front, FrontPage) and event.key.lower() in front.OPENS:
            self._opening = event
            self.set_timer(OPENS_S, partial(self._take_behind, event))
        await self._take_key(event)

    async def _take_behind(self, event: events.Key) -> None:
        """A page was opened, or none was: the keys behind count, or are said to be early."""
        if event is not self._opening:
            return
        self._opening = None
        behind, self._behind = self._behind, []
        for key in behind:
            front = self.screen
            if self._guard_s and isinstance(front, FrontPage) and front.drops_early(key.key):
                front.note_early(key.key, key.time)
            else:
                await self.on_event(key)

    def _is_ahead(self, event: events.Key) -> bool:
        front = self.screen if self.screen_stack else None
        if not self._guard_s or not isinstance(front, FrontPage):
            return False
        is_ahead = front.is_ahead(event.key, event.time)
        if is_ahead:
            front.note_early(event.key, event.time)
        return is_ahead

    async def _take_key(self, event: events.Key) -> None:
        doubtful, self._doubtful = self._doubtful, None
        if doubtful is not None:
            doubtful[1].stop()
            quiet = event.time - doubtful[0].time >= QUIET_S
            if quiet or doubtful[0].key != event.key:  # then that key is not held down
                await super().on_event(doubtful[0])
        verdict = self._guard.verdict(event.key, event.time)
        front = self.screen
        guarded = isinstance(front, FrontPage) and front.is_deliberate(event.key)
        if not guarded or verdict is Verdict.COUNTS:
            await super().on_event(event)
        elif verdict is Verdict.WAITS:
            self._doubtful = event, self.set_timer(QUIET_S, self._count_doubtful)

    async def _count_doubtful(self) -> None:
        """Count a press that might have been from a held key: the key did not repeat."""
        doubtful, self._doubtful = self._doubtful, None
        if doubtful is not None:
            await super().on_event(doubtful[0])

    def action_command_palette(self) -> None:
        """Find a command by its name."""
        if not isinstance(self.screen, KeyPalette):
            self.push_screen(KeyPalette())

    def get_key_display(self, binding: Binding) -> str:
        """A key as people see it, by name if the terminal has no arrows."""
        shown = super().get_key_display(binding)
        return PLAIN_KEYS.get(shown, shown) if self.plain else shown

    def get_line_filters(self) -> Sequence[LineFilter]:
        """The filter for every line on its way to the terminal."""
        given = super().get_line_filters()
        plain = [NoColor() if isinstance(each, Monochrome) else each for each in given]
        return [*plain, *self._ascii]

    @property
    def marks(self) -> list[str]:
        """Words for the first line that you must not overlook."""
        marks = []
        if self.bench.speed != 1:
            marks.append(f"PRACTICE {self.bench.speed:g}x")
        if self.bench.read_only:
            marks.append("WATCHING")
        if not self.bench.driven:
            marks.append("BENCH CLOSED")
        if self._awake is not None and self._awake.mark:
            marks.append(self._awake.mark)
        marks += self._going()
        return marks

    def _going(self) -> list[str]:
        """When you said you'd leave, or be back, if that is still ahead."""
        stamp = self.bench.last_moment().stamp
        for name in self.open_runs():
            gone = self.bench.state(name).bench.gone
            if gone is not None and stamp.noted_ms < gone[0]:
                return [f"YOU LEAVE {clock_time(gone[0], stamp)}"]
            if gone is not None and stamp.noted_ms < gone[1]:
                return [f"AWAY UNTIL {clock_time(gone[1], stamp)}"]
        return []

    def due_words(self, room: int) -> str:
        """What is due on the bench now, or what comes next, for pages without it."""
        moment = self.bench.moment()
        return clip(message_of(alarms_at(moment), room) or next_words(moment), room)

    def calling_words(self) -> tuple[str, bool]:
        """What stays visible in front of every page, and whether it is an alarm: what isn't saved,
        and alarms; if there are none, the next action.
        """
        moment = self.bench.moment()
        unsaved = self.bench.unsaved.split(" (")[0].split(". ")[0]  # the board shows the reason
        calls = message_of(alarms_at(moment))
        words = "\n".join(text for text in (unsaved, calls or next_line(moment)) if text)
        return words, bool(unsaved or calls)

    def ring(self, call: Call) -> None:
        """Sound an alarm in every available way."""
        self._ringer.ring(call, driven=not self.bench.read_only)

    def complain(self, trouble: str) -> None:
        """Report a failure on the board below."""
        if self._board is not None:
            self._board.desk.message = trouble
            self._board.refresh_board()

    def try_alarm(self) -> None:
        """Sound a test alarm, and ask whether you heard it."""
        try_alarm(self, self._ways, self._tried)

    def _tried(self, message: str) -> None:
        if self._board is not None:
            self._board.desk.remark = self._remark
        self.complain(message)

    @property
    def _remark(self) -> str:
        """What you need to know before START."""
        unheard = self._ways is not None and not self._ways.heard.any
        return UNHEARD if unheard and not self.bench.read_only else ""

    def open_runs(self) -> list[str]:
        """The runs on the bench that are not over, oldest first."""
        return self.bench.open_runs()

    def on_mount(self) -> None:
        """Show the requested run, the newest on the bench, or the empty bench."""
        runs = self.open_runs()
        name = self._first or (runs[-1] if runs else None)
        if name is None:
            self.show_home()
            if self.bench.read_only:
                self._wait_for_a_run = self.set_interval(1.0, self._show_first_run)
        elif self._first is not None:
            self.show_run(name)
        else:
            self._open_board(name)
        self.set_timer(SOON_S, self._load_the_rest)
        if self._awake is not None:
            self.set_interval(AWAKE_S, self._keep_awake)

    def _keep_awake(self) -> None:
        """Keep the computer awake while parts are in process."""
        if self._awake is not None:
            self._awake.want(bool(parts_at_work(self.bench)))

    def _load_the_rest(self) -> None:
        self.run_worker(load_the_rest, thread=True, group="loading", exit_on_error=False)

    def _show_first_run(self) -> None:
        """When watching an empty bench, show the board as soon as a run is set up."""
        runs = self.open_runs()
        if self._board is None and runs:
            self.show_run(runs[-1])
        if self._board is not None:
            self._wait_for_a_run.stop()

    def _open_board(self, name: str) -> None:
        """The board with the most urgent action of all runs; pages start with one run."""
        desk = self._desk_of(name)
        notices = [notice for run in self.open_runs() for notice in self.bench.notices.pop(run, [])]
        desk.message, desk.remark = _in_short(list(dict.fromkeys(notices))), self._remark
        self.push_screen(BoardScreen(desk))

    def show_run(self, name: str) -> None:
        """Show the board, with the next action of one run on it."""
        notice = _in_short(self.bench.notices.pop(name, []))
        board = self._board
        if board is not None:
            board.desk.pick_run(name)
            board.desk.message = notice
            self._uncover(board)
            board.refresh_board()
            return
        desk = self._desk_of(name)
        desk.pick_run(name)
        desk.message = notice
        desk.remark = self._remark
        self._uncover(self.screen_stack[1] if len(self.screen_stack) > 1 else None)
        screen = BoardScreen(desk)
        if len(self.screen_stack) > 1:
            self.switch_screen(screen)
        else:
            self.push_screen(screen)

    def _desk_of(self, name: str) -> Desk:
        """The desk of a run."""
        return Desk(self.bench, name, guard_s=self._guard_s, hours=self.settings.work_hours)

    @property
    def _board(self) -> BoardScreen | None:
        """The board in front or below other pages; its alarms ring either way."""
        boards = [screen for screen in self.screen_stack if isinstance(screen, BoardScreen)]
        return boards[-1] if boards else None

    def _uncover(self, screen: Screen[Any] | None) -> None:
        """Close every page in front of one."""
        while screen is not None and self.screen is not screen:
            self.pop_screen()

    def show_home(self) -> None:
        """Home; a board stays below it, and its alarms keep ringing."""
        from benchtimer.tui.home_page import HomeScreen

        homes = [screen for screen in self.screen_stack if isinstance(screen, HomeScreen)]
        if homes:
            self._uncover(homes[-1])
            return
        self._uncover(self._board)
        if isinstance(self.screen, BoardScreen) or len(self.screen_stack) < 2:
            self.push_screen(HomeScreen())
        else:
            self.switch_screen(HomeScreen())

    def go_back(self) -> None:
        """Close the page in front, if there is one behind it."""
        if len(self.screen_stack) > 2:
            self.pop_screen()

    def show_record(self, name: str) -> None:
        """The record of a run, in front of the page that asked for it.

        Raises:
            StoreError: it can't be read.
        """
        from benchtimer.tui.recordpage import RecordScreen

        self.push_screen(RecordScreen(self._desk_of(name)))

    def show_runs(self) -> None:
        """The list of every run."""
        from benchtimer.tui.runs_page import RunsScreen

        self.push_screen(RunsScreen())

    def show_job(self, name: str) -> None:
        """One job: how far along it is, and whether it will be ready."""
        from benchtimer.tui.jobpage import JobScreen

        self.push_screen(JobScreen(name))

    def job_look(self) -> JobLook:
        """The jobs now."""
        return self.bench.job_look(self.recipe_files, self.settings.work_hours)

    def show_preparation(self, name: str) -> None:
        """What to lay out, mix and heat for a run on the bench, to check off."""
        from benchtimer.tui.preparing import PrepareScreen

        self.push_screen(PrepareScreen(self._desk_of(name)))

    def show_first_aid(self) -> None:
        """First aid for what is open now, in front of every page."""
        if not isinstance(self.screen, FirstAidPage):
            benches = [self.bench.state(name).bench for name in self.open_runs()]
            self.push_screen(FirstAidPage(aids_now(benches), self._rinse))

    def action_first_aid(self) -> None:
        """The first-aid key, which also works while you type."""
        self.show_first_aid()

    def action_manual(self) -> None:
        """The pages of the manual, in front of the help that opened them."""
        from benchtimer.tui.guidepage import show_contents

        show_contents(self)

    def plan_run(self, recipe: str | None = None) -> None:
        """The plan of a new run, or the one you left."""
        from benchtimer.tui.planning import PlanScreen

        self.push_screen(PlanScreen(self.kept_draft or self._new_draft(), recipe))

    def plan_again(self, new: NewRun) -> None:
        """The plan of an earlier run that is set up again."""
        from benchtimer.tui.planning import PlanScreen
        from benchtimer.view.draft import draft_of

        self.push_screen(PlanScreen(draft_of(new, self._new_draft())))

    def _new_draft(self) -> Draft:
        from benchtimer.view.draft import Draft

        return Draft(
            hands=self.settings.hands,
            away=tuple(str(hours) for hours in self.settings.away),
            hours_worked=self.settings.work_hours,
            shop=self.settings.places,
        )

    def leave(self) -> None:
        """Leave; with parts in process or unsaved presses, only if Q is pressed twice."""
        front = self.screen
        desk = front.desk if isinstance(front, BoardScreen) else self._door
        if desk.may_leave():
            self.exit()
        elif isinstance(front, BoardScreen):
            front.refresh_board()
        else:
            self.notify(
                leaves_behind(self.bench), severity="warning", timeout=INSIST_S, markup=False
            )

    async def action_quit(self) -> None:
        """Q on any page asks the same."""
        self.leave()

    def follow_watcher(self) -> None:
        """When watching, if the run of the pages ends, switch to one that is running."""
        runs, board = self.open_runs(), self._board
        if board is not None and board.is_current and runs and board.desk.name not in runs:
            board.desk.name = runs[-1]

    def show_end(self, run: str) -> None:
        """A run is over: show its record over the board, where you can take back the last press."""
        from benchtimer.tui.recordpage import EndPage, RecordScreen

        if isinstance(self.screen, RecordScreen):
            return
        try:
            self.push_screen(EndPage(self._desk_of(run)))
        except StoreError as error:
            if self._board is not None:
                self._board.desk.message = str(error)


def load_the_rest() -> None:
    """Load every page now, while the program's files are the ones it was started from. A run lasts
    for days, and nothing must fail halfway because the program was updated or its disk is gone.
    """
    for name in LATER:
        import_module(f"benchtimer.{name}")
    for topic in guide.TOPICS:
        guide.page(topic)


def _in_short(notices: list[str]) -> str:
    """Several notices with their number first, so that one without room is not overlooked."""
    head = f"{len(notices)} warnings. " if len(notices) > 1 else ""
    return head + "\n".join(notices)
