"""Files that only their user may read: a log tells who worked when, and on what."""

from __future__ import annotations

import os
from pathlib import Path

FOLDER_MODE, FILE_MODE = 0o700, 0o600


def opener(path: str, flags: int) -> int:
    """For ``open``: a file that is made here is its user's alone; one that is there stays as is."""
    return os.open(path, flags, FILE_MODE)


def make_file(path: Path) -> None:
    """An empty file that only its user may read, unless there is a file already.

    SQLite gives the files it makes beside a log the rights of the log.

    Raises:
        OSError: it can't be made.
    """
    os.close(os.open(path, os.O_CREAT | os.O_WRONLY, FILE_MODE))
