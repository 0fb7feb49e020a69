"""The application: which screen is shown, and nothing else."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import App
from textual.filter import LineFilter

from benchtimer.bench import Driver, Watcher
from benchtimer.recipe.shelf import Shelf
from benchtimer.run.state import OVER
from benchtimer.settings import Settings
from benchtimer.tui.board import BoardScreen
from benchtimer.tui.desk import GUARD_S, Desk
from benchtimer.tui.dialogs import TextPage
from benchtimer.tui.home import HomeScreen
from benchtimer.tui.judging import EndPage
from benchtimer.tui.palette import BoardCommands
from benchtimer.tui.plain import AsciiOnly
from benchtimer.tui.themes import THEMES


class BenchApp(App[None]):
    """The bench on the screen.

    Args:
        bench: the bench to work at, or to look on at.
        name: the run to show first; the newest open one if None.
        shelf: where new runs find their recipes.
        hands: people who usually work, for runs laid out here.
        guard_s: how long a second press of the confirm key counts as a slip.
        settings: what is known of the shop: its alarm command, its look.
        ascii_only: the terminal shows nothing but ASCII.

    Attributes:
        alarm_command: what else is told of an alarm; empty for nothing.
    """

    CSS_PATH = "bench.tcss"
    COMMANDS = {BoardCommands}
    TITLE = "benchtimer"

    def __init__(
        self,
        bench: Driver | Watcher,
        name: str | None = None,
        *,
        shelf: Shelf | None = None,
        hands: int = 1,
        guard_s: float = GUARD_S,
        settings: Settings | None = None,
        ascii_only: bool = False,
    ) -> None:
        super().__init__()
        shop = settings if settings is not None else Settings()
        self.alarm_command = shop.alarm.command
        self._ascii = [AsciiOnly()] if ascii_only else []
        for known in list(self.available_themes):
            self.unregister_theme(known)
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = shop.screen.theme
        self.set_class(self.no_color, "no-colour")
        self.bench = bench
        self.shelf = shelf if shelf is not None else Shelf()
        self.hands = hands
        self._first = name
        self._guard_s = guard_s

    def get_line_filters(self) -> Sequence[LineFilter]:
        """What every line goes through on its way to the terminal."""
        return [*super().get_line_filters(), *self._ascii]

    @property
    def marks(self) -> list[str]:
        """Words for the first line that must not be overlooked."""
        told = []
        if self.bench.speed != 1:
            told.append(f"PRACTICE {self.bench.speed:g}x")
        if self.bench.read_only:
            told.append("LOOKING ON")
        if isinstance(self.bench, Watcher) and not self.bench.driven:
            told.append("NOBODY DRIVES")
        boards = [page for page in self.screen_stack if isinstance(page, BoardScreen)]
        shown = boards[-1].desk.name if boards else ""
        others = len([name for name in self._open_runs() if name != shown])
        if others > 0:
            told.append(f"+{others} MORE RUN{'S' if others > 1 else ''} (TAB)")
        return told

    def _open_runs(self) -> list[str]:
        return [n for n in self.bench.names if self.bench.state(n).bench.phase not in OVER]

    def on_mount(self) -> None:
        """Show the run asked for, or the newest on the bench, or the empty bench."""
        runs = self._open_runs()
        name = self._first or (runs[-1] if runs else None)
        if name is None:
            self.push_screen(HomeScreen())
        else:
            self.show_run(name)

    def show_home(self) -> None:
        """What runs, what waits, what was."""
        self.push_screen(HomeScreen())

    def show_run(self, name: str) -> None:
        """Show one run."""
        desk = Desk(self.bench, name, guard_s=self._guard_s)
        if isinstance(self.bench, Driver):
            desk.message = _in_short(self.bench.notices.pop(name, []))
        screen = BoardScreen(desk)
        if len(self.screen_stack) > 1:
            self.switch_screen(screen)
        else:
            self.push_screen(screen)

    def show_next_run(self, desk: Desk) -> None:
        """Show the run after this one, round and round."""
        runs = self._open_runs()
        others = [name for name in runs if name != desk.name]
        if others:
            at = runs.index(desk.name) + 1 if desk.name in runs else 0
            desk.name = runs[at % len(runs)]
            desk.let_go()
            self.show_run(desk.name)

    def follow_watcher(self, board: BoardScreen) -> None:
        """Looking on: when a run ends or a new one begins, show what runs now."""
        runs = self._open_runs()
        if board.is_current and runs and board.desk.name not in runs:
            self.show_run(runs[-1])

    def show_end(self, desk: Desk) -> None:
        """A run is over: its record, over the board, where the last press can be taken back."""
        if not isinstance(self.screen, TextPage):
            self.push_screen(EndPage(desk))


def _in_short(notices: list[str]) -> str:
    """Several notices with their number first, so that one that finds no room is not overlooked."""
    head = f"{len(notices)} remarks on the baths. " if len(notices) > 1 else ""
    return head + "\n".join(notices)
