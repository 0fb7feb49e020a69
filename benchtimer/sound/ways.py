"""The ways of an alarm on this computer, from the settings, and which ones you have heard, saved in
the data folder. A desktop notice goes through the terminal as an operating system command (OSC) of
ECMA-48. Terminals have no single standard. The three kinds in use are OSC 9 (the text), OSC 777
(title and text) and OSC 99 (title and text in two pieces). A terminal ignores a kind it doesn't
know. tmux passes them on inside its own wrapper, if its option ``allow-passthrough`` is on.
"""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Callable, Mapping
from pathlib import Path

from benchtimer.atomic_file import make_own_folder, write_whole
from benchtimer.records.inert import visible
from benchtimer.settings import AlarmSettings
from benchtimer.sound.player import Player
from benchtimer.values import dataclass, field

FILE_NAME = "heard.json"

WAYS = ("call", "bell", "tone", "notice", "command")
"""The ways an alarm reaches you besides the screen: all that are on, or just one."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What was tried on this computer.

    Attributes:
        tried: by way, the day of the last try and whether it reached you.
    """

    tried: Mapping[str, tuple[str, bool]] = field(default_factory=dict)

    @property
    def any(self) -> bool:
        """Whether any way has reached you."""
        return any(reached for _, reached in self.tried.values())


def this_computer() -> str:
    """The computer's name: a data folder that moved from another computer was not heard here."""
    return platform.node() or "this computer"


def read_heard(folder: Path) -> Heard:
    """What is known; nothing if the file is missing, broken or from another computer."""
    try:
        table = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
        if table["computer"] != this_computer():
            return Heard()
        rows = {way: table["tried"][way] for way in WAYS if way in table["tried"]}
        return Heard({way: (str(row["on"]), row["reached"] is True) for way, row in rows.items()})
    except (OSError, ValueError, KeyError, TypeError):
        return Heard()


def note_heard(folder: Path, way: str, *, reached: bool, on: str) -> Heard:
    """Save the outcome of a try.

    Args:
        folder: the data folder.
        way: one of ``WAYS``.
        reached: whether it reached you.
        on: the day, as in 2026-11-27.

    Raises:
        OSError: it can't be written.
    """
    tried = {**read_heard(folder).tried, way: (on, reached)}
    rows = {way: {"on": day, "reached": yes} for way, (day, yes) in tried.items()}
    make_own_folder(folder)
    text = json.dumps({"computer": this_computer(), "tried": rows}, indent=1)
    write_whole(folder / FILE_NAME, text + "\n", private=True)
    return Heard(tried)


TITLE = "benchtimer"

LONGEST = 200
"""Longest message: notices are small, and terminals cut long sequences."""

ESC = "\x1b"
BEL = "\x07"
ST = f"{ESC}\\"


def _osc_9(text: str) -> str:
    return f"{ESC}]9;{text}{BEL}"


def _osc_777(text: str) -> str:
    # A semicolon ends a field here.
    return f"{ESC}]777;notify;{TITLE};{text.replace(';', ',')}{BEL}"


def _osc_99(text: str) -> str:
    return f"{ESC}]99;i=benchtimer:d=0;{TITLE}{ST}{ESC}]99;i=benchtimer:p=body;{text}{ST}"


KINDS: Mapping[str, Callable[[str], str]] = {"9": _osc_9, "777": _osc_777, "99": _osc_99}
"""By the number of the command."""


def notice(kind: str, message: str, environ: Mapping[str, str]) -> str:
    """What to write to the terminal to show a message on the desktop.

    Args:
        kind: a key of ``KINDS``; anything else writes nothing.
        message: the words; anything that could break the sequence is removed.
        environ: the environment; TMUX in it means that tmux is in between.
    """
    make = KINDS.get(kind)
    if make is None:
        return ""
    sequence = make(visible(" ".join(message.split()), keep="")[:LONGEST])
    if environ.get("TMUX"):
        return f"{ESC}Ptmux;{sequence.replace(ESC, ESC * 2)}{ST}"
    return sequence


UNHEARD = "No alarm has been heard on this computer yet. O plays it and asks you."


class Ways:
    """Tone and desktop notice, and whether you have heard any alarm here.

    Args:
        folder: the data folder, where the answers are saved.
        settings: which ways are on.
        player: plays the tone.
        environ: the environment; TMUX in it means that tmux is in between.
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
        """Play the tone to its end, if it is on. Returns what went wrong, or None."""
        return self._player.play(overdue=overdue) if self._settings.tone else None

    def notice(self, message: str) -> str:
        """What to write to the terminal for a desktop notice; empty if it is off."""
        return notice(self._settings.notice, message, self._environ)

    def note(self, way: str, *, reached: bool, on: str) -> None:
        """Save whether a try reached you; see ``note_heard``.

        Args:
            way: the way of the alarm.
            reached: whether it reached you.
            on: the date.

        Raises:
            OSError: it can't be written.
        """
        self.heard = note_heard(self._folder, way, reached=reached, on=on)

    def close(self) -> None:
        """Stop the sound."""
        self._player.close()
