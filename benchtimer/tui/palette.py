"""Commands found by name: the keys of the screen in front, and the themes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from typing import Any

from textual.command import CommandPalette, DiscoveryHit, Hit, Hits, Provider
from textual.content import Content

from benchtimer.tui.front import FrontPage
from benchtimer.tui.themes import THEMES
from benchtimer.values import dataclass
from benchtimer.view.keys import KEYS


@dataclass(frozen=True, slots=True)
class PaletteCommand:
    """A command that can be found and run.

    Attributes:
        label: its name in a word or two; may be empty.
        help: what it does.
        key: the key that does the same; empty if there is none.
        run: does it.
        changes: whether it changes a run, a plan or a record.
    """

    label: str
    help: str
    key: str
    run: Callable[[], Any]
    changes: bool

    @property
    def words(self) -> str:
        """Its words in the list, which are searched."""
        return f"{self.label}: {self.help}" if self.label else self.help

    @property
    def hint(self) -> str:
        """The key, as a reminder for next time."""
        return f"key {self.key}" if self.key else ""


def rank(command: PaletteCommand, query: str) -> float:
    """How well a command fits what is typed, from 0 (not at all) to 1.

    Every typed word must occur, in any capitals. A match of the key's name ranks first, then of the
    start of the label, then of the start of a word, then earlier positions.
    """
    words, text = query.lower().split(), command.words.lower()
    if words == [command.key.lower()]:
        return 1.0
    if not words or not all(word in text for word in words):
        return 0.0
    return min(_rank_at(text, text.index(word), len(command.label)) for word in words)


def _rank_at(text: str, at: int, label: int) -> float:
    early = 0.1 / (1 + at)
    if at < label:
        return (0.8 if at == 0 else 0.7) + early
    return (0.4 if at == 0 or not text[at - 1].isalnum() else 0.2) + early


class KeyCommands(Provider):
    """Every key of the screen in front, by what it does."""

    def _commands(self) -> Iterator[PaletteCommand]:
        """The themes, then the keys."""
        for theme in THEMES:
            yield PaletteCommand(
                "Theme", theme.name, "", partial(self._wear, theme.name), changes=False
            )
        for key in getattr(self.screen, "KEYS", KEYS):
            name = key.action.partition("(")[0]
            if hasattr(self.screen, f"action_{name}") and self.screen.check_action(name, ()):
                run = partial(self._run, key.action)
                yield PaletteCommand(key.label, key.help, key.shown, run, key.changes)

    async def _run(self, action: str) -> None:
        await self.screen.run_action(action)

    def _wear(self, theme: str) -> None:
        self.app.theme = theme

    async def discover(self) -> Hits:
        """Before you type: only commands that change nothing, because ENTER runs the first one."""
        for command in self._commands():
            if not command.changes:
                yield DiscoveryHit(Content(command.words), command.run, help=command.hint)

    async def search(self, query: str) -> Hits:
        """The commands whose words contain everything you typed."""
        for command in self._commands():
            score = rank(command, query)
            if score > 0:
                shown = self._marked(command.words, query)
                yield Hit(score, shown, command.run, help=command.hint)

    def _marked(self, words: str, query: str) -> Content:
        """A command's words, with what you typed highlighted."""
        shown, low = Content(words), words.lower()
        for typed in query.lower().split():
            at = low.find(typed)
            if at >= 0:
                shown = shown.stylize(self.match_style or "bold", at, at + len(typed))
        return shown


class KeyPalette(CommandPalette, FrontPage[None]):
    """The list of commands, answered once like every page."""

    def _action_command_list(self, action: str) -> None:
        """Move in the list; Textual's own method fails before the list is laid out."""
        with suppress(LookupError):
            super()._action_command_list(action)
