"""Files that are there whole or not at all: a cut of the power leaves the old or the new one."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

WRITING = ".writing-"
"""What the name of a file begins with that is not yet written to its end."""


def write_whole(target: Path, text: str) -> None:
    """Write beside the target, force it to the disk, and put it in the target's place.

    A file that is new is for its user's eyes only; one that replaces another has its rights.

    Raises:
        OSError: it can't be written; what stood there before stands there still.
    """
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=WRITING)
    beside = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    force_folder(target.parent)


def force_folder(folder: Path) -> None:
    """Let the name of a new file last, where folders can be forced to the disk."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def clear_away_halves(folder: Path) -> None:
    """Remove what killed processes left unfinished; nobody else writes there now."""
    with suppress(OSError):  # where nothing can be written, nothing can be cleared away
        for left in folder.glob(f"{WRITING}*"):
            left.unlink(missing_ok=True)
