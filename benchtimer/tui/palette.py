"""Commands found by their names: the keys of the screen in front, and its looks."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from textual.command import DiscoveryHit, Hit, Hits, Provider

from benchtimer.tui.keys import KEYS
from benchtimer.tui.themes import THEMES


class KeyCommands(Provider):
    """Everything that a key of the screen in front does, by what it does."""

    def _commands(self) -> list[tuple[str, str, Callable[[], Any]]]:
        told: list[tuple[str, str, Callable[[], Any]]] = []
        for key in getattr(self.screen, "KEYS", KEYS):
            can = self.screen.check_action(key.action.partition("(")[0], ())
            if hasattr(self.screen, f"action_{key.action.partition('(')[0]}") and can:
                told.append((key.help, f"key {key.shown}", partial(self._run, key.action)))
        for theme in THEMES:
            words = theme.name.replace("-", " ")
            told.append((f"Look: {words}", "", partial(self._wear, theme.name)))
        return told

    async def _run(self, action: str) -> None:
        await self.screen.run_action(action)

    def _wear(self, theme: str) -> None:
        self.app.theme = theme

    async def discover(self) -> Hits:
        """All of them, before anything is typed."""
        for words, hint, command in self._commands():
            yield DiscoveryHit(words, command, help=hint)

    async def search(self, query: str) -> Hits:
        """Those whose words match what is typed."""
        matcher = self.matcher(query)
        for words, hint, command in self._commands():
            score = matcher.match(words)
            if score > 0:
                yield Hit(score, matcher.highlight(words), command, help=hint)
