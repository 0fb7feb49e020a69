"""A bare Textual clock: six digits updated once a second, and nothing else."""

from __future__ import annotations

from datetime import datetime

from textual.app import App, ComposeResult
from textual.widgets import Digits


class BareClock(App[None]):
    """The time of day in large digits."""

    ENABLE_COMMAND_PALETTE = False

    def compose(self) -> ComposeResult:
        """The digits."""
        yield Digits("00:00:00")

    def on_mount(self) -> None:
        """Begin to tick."""
        self.set_interval(1.0, self.tick)

    def tick(self) -> None:
        """Show the time."""
        self.query_one(Digits).update(f"{datetime.now().astimezone():%H:%M:%S}")


if __name__ == "__main__":
    BareClock().run()
