"""The files of a log in its folder, outside SQLite: which exist, which are kept.

Only their user may read them: a log shows who worked when, and on what.
"""

from __future__ import annotations

import os
import re
import shutil
from itertools import count
from pathlib import Path

from benchtimer.atomic_file import make_own_folder
from benchtimer.store.errors import Damaged, StoreError
from benchtimer.store.wal import lost_commits

FILE_MODE = 0o600


def opener(path: str, flags: int) -> int:
    """For ``open``: a new file is private to its user; an existing one stays as it is."""
    return os.open(path, flags, FILE_MODE)


FILE_NAME = "bench.sqlite3"
PRACTICE = re.compile(r"practice-(\d+(?:\.\d+)?)x")
BACKUPS = "backups"
"""The folder of the automatic backups, next to the file."""


def data_folder(base: Path, speed: float) -> Path:
    """The log folder of a bench at this speed: practice never mixes with real work."""
    return base if speed == 1 else base / f"practice-{speed:g}x"


def practice_speeds(base: Path) -> list[tuple[Path, float]]:
    """The practice folders next to real work, with the speed of each."""
    names = {path: PRACTICE.fullmatch(path.name) for path in sorted(base.glob("practice-*x"))}
    return [(path, float(found[1])) for path, found in names.items() if found]


def wal_of(path: Path) -> Path:
    """The write-ahead log of a file."""
    return path.with_name(f"{path.name}-wal")


def is_there(path: Path) -> bool:
    """Whether there is such a file.

    Raises:
        StoreError: it may not be read, or no file can have such a name.
    """
    try:
        return path.exists()
    except OSError as error:
        reason = error.strerror or "it can't be read"
        raise StoreError(path, reason, "Choose another folder with --data") from None


def has_something(path: Path) -> bool:
    """Whether the file exists and is not empty."""
    return is_there(path) and path.stat().st_size > 0


def identity_of(path: Path) -> tuple[int, int] | None:
    """The identity of a file, whatever its name."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def free_name(folder: Path, stem: str, first: str = "-1") -> Path:
    """A free name for a file next to the log.

    Args:
        folder: where the log is.
        stem: how the name begins.
        first: the ending to try first.
    """
    endings = (first if number == 1 else f"-{number}" for number in count(1))
    names = (folder / f"{stem}{ending}.sqlite3" for ending in endings)
    return next(path for path in names if not path.exists() and not wal_of(path).exists())


def make_private(folder: Path) -> None:
    """The data folder, open to its user only."""
    try:
        make_own_folder(folder)
    except OSError as error:
        reason = error.strerror or "it can't be created"
        raise StoreError(folder, reason, "Choose another folder with --data") from None


def make_empty(path: Path) -> None:
    """Create a new empty file, private to its user.

    Raises:
        OSError: there is one already, or it can't be made.
    """
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, FILE_MODE))


def make_file(path: Path) -> None:
    """Create a private file unless it exists; SQLite gives its other files the same rights.

    Raises:
        StoreError: it can't be made.
    """
    try:
        if not is_there(path):
            make_empty(path)
    except OSError as error:
        reason = error.strerror or "it can't be created"
        raise StoreError(path, reason, "Check the folder and the disk") from None


def refuse_remains(path: Path) -> None:
    """Refuse to begin an empty log where a full one was.

    Raises:
        Damaged: the file is empty or gone, but parts of its log remain.
    """
    if has_something(path):
        return
    left = [wal_of(path)] if has_something(wal_of(path)) else []
    left += sorted((path.parent / BACKUPS).glob("bench-*.sqlite3"))
    if left:
        what = "empty" if is_there(path) else "gone"
        raise Damaged(path, f"it is {what}, but {left[-1].name} still exists")


def keep_if_cut_short(path: Path) -> list[str]:
    """Copy file and write-ahead log aside if whole presses can't be read.

    Returns:
        The message about it; empty if the end is intact.
    """
    try:
        lost = lost_commits(wal_of(path))
        if not lost:
            return []
        kept = free_name(path.parent, "bench-found")
        for source, target in ((wal_of(path), wal_of(kept)), (path, kept)):
            make_empty(target)
            shutil.copyfile(source, target)
    except OSError as error:
        reason = f"its end is damaged, and no copy of it can be kept ({error.strerror})"
        raise StoreError(path, reason, "Check the folder and the disk") from None
    presses = f"up to {lost} presses" if lost > 1 else "a press"
    return [
        f"The end of the log is damaged: {presses} may be missing; what can be read is shown. "
        f"The files as they were found are kept: {kept}"
    ]
