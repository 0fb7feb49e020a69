"""A bare Textual clock: six digits updated once a second, and a word that a key changes."""

from __future__ import annotations

from datetime import datetime

from textual.app import App, ComposeResult
from textual.widgets import Digits, Static


class BareClock(App[None]):
    """The time of day in large digits, and a word below."""

    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("u", "say('taken back')"), ("r", "say('counts again')")]

    def compose(self) -> ComposeResult:
        """The digits, and the word."""
        yield Digits("00:00:00")
        yield Static("counts", markup=False)

    def on_mount(self) -> None:
        """Start ticking."""
        self.set_interval(1.0, self.tick)

    def tick(self) -> None:
        """Show the time."""
        self.query_one(Digits).update(f"{datetime.now().astimezone():%H:%M:%S}")

    def action_say(self, word: str) -> None:
        """Show a word."""
        self.query_one(Static).update(word)


if __name__ == "__main__":
    BareClock().run()
