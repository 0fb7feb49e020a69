"""The ways of an alarm on this computer, as the settings have them, and what was heard of them."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from benchtimer.settings import AlarmSettings
from benchtimer.sound.heard import note_heard, read_heard
from benchtimer.sound.notice import notice
from benchtimer.sound.player import Player

UNHEARD = "No alarm has been heard on this computer yet. O plays it and asks you."


class Ways:
    """Tone and desktop notice, and whether you have heard any alarm here.

    Args:
        folder: the data folder, which keeps what was heard.
        settings: which ways are on.
        player: plays the tone.
        environ: the environment; TMUX in it says that tmux is in between.
    """

    def __init__(
        self,
        folder: Path,
        settings: AlarmSettings,
        player: Player | None = None,
        environ: Mapping[str, str] = os.environ,
    ) -> None:
        self._folder = folder
        self._settings = settings
        self._player = player if player is not None else Player()
        self._environ = environ
        self.heard = read_heard(folder)

    def tone(self, *, overdue: bool) -> str | None:
        """Play the tone to its end, if it is on; what went wrong, None if nothing."""
        return self._player.play(overdue=overdue) if self._settings.tone else None

    def notice(self, message: str) -> str:
        """What to write to the terminal for a desktop notice; empty if it is off."""
        return notice(self._settings.notice, message, self._environ)

    def note(self, way: str, *, reached: bool, on: str) -> None:
        """Keep whether a try reached you; see ``note_heard``.

        Raises:
            OSError: it can't be written.
        """
        self.heard = note_heard(self._folder, way, reached=reached, on=on)

    def close(self) -> None:
        """Stop what sounds."""
        self._player.close()
