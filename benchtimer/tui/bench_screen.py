"""What every screen has: the application, and first aid."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtimer.tui.front import FrontPage
from benchtimer.tui.themes import theme_after

if TYPE_CHECKING:
    from benchtimer.tui.app import BenchApp


class BenchScreen(FrontPage[None]):
    """A screen of this application."""

    @property
    def bench_app(self) -> BenchApp:
        """The application: it has the other screens and shows them on request."""
        return self.app  # type: ignore[return-value]

    def action_first_aid(self) -> None:
        """First aid, in front of this screen."""
        self.bench_app.show_first_aid()

    def action_home(self) -> None:
        """Go home."""
        self.bench_app.show_home()

    def action_theme(self) -> None:
        """Switch to the next theme."""
        self.app.theme = theme_after(self.app.theme)

    def action_leave(self) -> None:
        """Leave the program; open runs continue."""
        self.bench_app.leave()
