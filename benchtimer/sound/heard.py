"""Which ways of an alarm you have heard on this computer, kept in the data folder."""

from __future__ import annotations

import json
import platform
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from benchtimer.atomic_file import make_own_folder, write_whole

FILE_NAME = "heard.json"

WAYS = ("call", "bell", "tone", "notice", "command")
"""How an alarm reaches you besides the screen: all that is on at once, or one way alone."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What was tried on this computer.

    Attributes:
        tried: by way, the day of the last try and whether it reached you.
    """

    tried: Mapping[str, tuple[str, bool]] = field(default_factory=dict)

    @property
    def any(self) -> bool:
        """Whether some way has reached you."""
        return any(reached for _, reached in self.tried.values())


def this_computer() -> str:
    """Its name: a data folder that moves to another computer was not heard there."""
    return platform.node() or "this computer"


def read_heard(folder: Path) -> Heard:
    """What is known; nothing where the file is missing, broken, or another computer's."""
    try:
        table = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
        if table["computer"] != this_computer():
            return Heard()
        rows = {way: table["tried"][way] for way in WAYS if way in table["tried"]}
        return Heard({way: (str(row["on"]), row["reached"] is True) for way, row in rows.items()})
    except (OSError, ValueError, KeyError, TypeError):
        return Heard()


def note_heard(folder: Path, way: str, *, reached: bool, on: str) -> Heard:
    """Keep the outcome of a try.

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
