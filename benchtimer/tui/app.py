"""The application: which screen is shown, and nothing else."""

from __future__ import annotations

from textual.app import App

from benchtimer.bench import Driver, Watcher
from benchtimer.recipe.shelf import Shelf
from benchtimer.run.state import OVER
from benchtimer.tui.board import BoardScreen
from benchtimer.tui.desk import GUARD_S, Desk
from benchtimer.tui.dialogs import TextPage
from benchtimer.tui.home import HomeScreen
from benchtimer.tui.judging import EndPage


class BenchApp(App[None]):
    """The bench on the screen.

    Args:
        bench: the bench to work at, or to look on at.
        name: the run to show first; the newest open one if None.
        shelf: where new runs find their recipes.
        hands: people who usually work, for runs laid out here.
        guard_s: how long a second press of the confirm key counts as a slip.
    """

    CSS_PATH = "bench.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "benchtimer"

    def __init__(
        self,
        bench: Driver | Watcher,
        name: str | None = None,
        *,
        shelf: Shelf | None = None,
        hands: int = 1,
        guard_s: float = GUARD_S,
    ) -> None:
        super().__init__()
        self.bench = bench
        self.shelf = shelf if shelf is not None else Shelf()
        self.hands = hands
        self._first = name
        self._guard_s = guard_s

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
        board = self.screen
        shown = board.desk.name if isinstance(board, BoardScreen) else ""
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
