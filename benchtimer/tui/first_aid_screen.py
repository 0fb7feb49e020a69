"""First aid in front of everything, with a rinse timer."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen

from benchtimer.trade.first_aid import FirstAid
from benchtimer.tui.dialogs import BACK, Calling
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.front import FrontPage
from benchtimer.tui.lines import CachedLine
from benchtimer.view.first_aid_text import Rinse, aid_lines, goals_of, timer_lines

FRAME = 4
"""Columns for the frame and the space next to it."""

SCROLLBAR = 2
"""Columns that a scroll bar takes from the text."""

TICK_S = 1.0

FRESH_S = 5.0
"""A rinse younger than this restarts right away."""

AGAIN = "SPACE again: a new rinse, timed from 0. The current rinse keeps counting until then."


class FirstAidPage(ModalScreen[None], FrontPage[None]):
    """What to do now, and how long you have rinsed; alarms stay in the first line.

    Args:
        aids: what to show, worst first.
        rinse: the timer; it continues for a while after you leave the page.
    """

    BINDINGS = [
        Binding("space", "restart", "timer from 0", key_display="SPACE"),
        BACK,
    ]

    def __init__(self, aids: Sequence[FirstAid], rinse: Rinse) -> None:
        super().__init__()
        self._aids = aids
        self._rinse = rinse
        self._asks = False

    def compose(self) -> ComposeResult:
        """Alarms, the timer, the orders."""
        with Vertical(classes="page tall"):
            yield Calling()
            yield CachedLine("rinse")
            with VerticalScroll():
                yield CachedLine("aid")
            yield KeyFooter()

    def on_mount(self) -> None:
        """Start the rinse timer."""
        self._rinse.open()
        self._draw()
        self.set_interval(TICK_S, self.tick)

    def on_resize(self) -> None:
        """Draw for the new size."""
        self.call_after_refresh(self._draw)

    def tick(self) -> None:
        """Count, and beep once the longest rinse is over: closed eyes can't tell beeps apart."""
        if self._rinse.newly_reached(goals_of(self._aids)[:1]):
            self.app.bell()
        self._draw()

    @property
    def _width(self) -> int:
        return max(20, self.app.size.width - FRAME - SCROLLBAR)

    def _draw(self) -> None:
        if not self.is_there:
            return
        lines = timer_lines(self._rinse.elapsed_s, self._aids, self._width)
        lines += [AGAIN] if self._asks else []
        self.query_one("#rinse", CachedLine).say("\n".join(lines))
        self.query_one("#aid", CachedLine).say("\n".join(aid_lines(self._aids, self._width)))

    def action_restart(self) -> None:
        """Restart the rinse timer; while one is running, this needs a second press."""
        self._asks = not self._asks and self._rinse.elapsed_s > FRESH_S
        if not self._asks:
            self._rinse.start()
        self._draw()

    def action_leave(self) -> None:
        """Back to the page before."""
        self._rinse.leave()
        self.dismiss(None)
