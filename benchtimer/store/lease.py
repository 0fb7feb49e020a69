"""The lease: one process drives the bench, and a dead one holds nothing.

The lease is a lock that the operating system takes away when its process ends, however
it ends. The file beside it only says who holds it. The folder itself is locked too, where
that can be done: a lock on a file is worth nothing once somebody has deleted the file.
"""

from __future__ import annotations

import errno
import json
import os
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from benchtimer.store.private import FOLDER_MODE, opener

FILE_NAME = "driver.lock"


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds the lease."""

    pid: int
    since_wall_ms: int


class LeaseTaken(Exception):
    """Another process drives the bench.

    Attributes:
        holder: who, if that could be read.
    """

    def __init__(self, holder: Holder | None) -> None:
        self.holder = holder
        who = f" (process {holder.pid})" if holder is not None else ""
        super().__init__(f"another benchtimer{who} drives this bench")


class Lease:
    """The right to drive, held until ``release`` or the end of the process.

    Raises:
        LeaseTaken: somebody else has it.
        OSError: the folder can't be written.
    """

    def __init__(self, folder: Path, since_wall_ms: int) -> None:
        folder.mkdir(parents=True, exist_ok=True, mode=FOLDER_MODE)
        path = folder / FILE_NAME
        self._folder: int | None = None
        try:
            self._file: IO[bytes] | None = open(  # noqa: SIM115  held until release
                path, "ab+", buffering=0, opener=opener
            )
        except OSError:  # a folder that can't be written can still be locked itself
            self._file = None
        try:
            if self._file is not None:
                _lock(self._file)
            self._folder = _lock_folder(folder)
        except BlockingIOError:
            self._close()
            raise LeaseTaken(read_holder(path)) from None
        except OSError:
            self._close()
            raise
        if self._file is None:
            if self._folder is None:
                raise OSError(errno.EACCES, "it can't be written")
            return
        told = json.dumps({"pid": os.getpid(), "since_wall_ms": since_wall_ms})
        with suppress(OSError):  # a full disk: the lock holds without a word on who has it
            self._file.truncate(0)
            self._file.write(told.encode())

    def release(self) -> None:
        """Let somebody else drive."""
        if self._file is not None and not self._file.closed:
            with suppress(OSError):
                self._file.truncate(0)
        self._close()

    def _close(self) -> None:
        if self._file is not None:
            self._file.close()
        if self._folder is not None:
            os.close(self._folder)
            self._folder = None


def read_holder(path: Path) -> Holder | None:
    """Who wrote the lease file last, if it can be read."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        return Holder(int(data["pid"]), int(data["since_wall_ms"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def is_alive(pid: int) -> bool:
    """Whether a process of this number runs on this machine."""
    try:
        os.kill(pid, 0)
    except PermissionError:
        return True
    except OSError:
        return False
    return True


if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    def _lock(file: IO[bytes]) -> None:
        # A byte far behind the text, so that the text can still be read by others.
        file.seek(1 << 20)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            raise BlockingIOError from None
        file.seek(0)

    def _lock_folder(_folder: Path) -> int | None:
        return None  # an open file can't be deleted there
else:
    import fcntl

    def _lock(file: IO[bytes]) -> None:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _lock_folder(folder: Path) -> int | None:
        """The locked folder; None on a disk that locks no folders."""
        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            raise
        except OSError:
            os.close(handle)
            return None
        return handle
