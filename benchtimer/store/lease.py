"""The lease: one process drives the bench, and its end frees the bench.

The lease is a lock that the operating system releases when its process ends in any way.
The text of the lock file only names the holder. Where possible the folder is locked too,
because a lock on a file is worthless once the file is deleted.
"""

from __future__ import annotations

import errno
import json
import os
import stat
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import IO

from benchtimer.atomic_file import make_own_folder
from benchtimer.store.place import opener
from benchtimer.values import dataclass

FILE_NAME = "driver.lock"


@dataclass(frozen=True, slots=True)
class Holder:
    """The holder of the lease."""

    pid: int
    since_wall_ms: int


class LeaseTaken(Exception):
    """Another process drives the bench.

    Attributes:
        holder: the holder, if readable.
    """

    def __init__(self, holder: Holder | None) -> None:
        self.holder = holder
        who = f" (process {holder.pid})" if holder is not None else ""
        super().__init__(f"another benchtimer{who} has this bench open")


class Lease:
    """The right to drive, held until ``release`` or the end of the process.

    Raises:
        LeaseTaken: another process has it.
        OSError: the folder can't be written, or the lease file is a link.
    """

    def __init__(self, folder: Path, since_wall_ms: int) -> None:
        make_own_folder(folder)
        path = folder / FILE_NAME
        self._folder: int | None = None
        _want_no_link(path)
        try:
            self._file: IO[bytes] | None = open(  # noqa: SIM115  held until release
                path, "ab+", buffering=0, opener=_open_no_link
            )
        except OSError as error:  # a read-only folder can still be locked itself
            if error.errno == errno.ELOOP:
                raise
            self._file = None
        try:
            if self._file is not None:
                _lock_soon(self._file)
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
        self._say(json.dumps({"pid": os.getpid(), "since_wall_ms": since_wall_ms}))

    def release(self) -> None:
        """Release the lease to other processes."""
        self._say("")
        self._close()

    def _say(self, text: str) -> None:
        """Replace the file's text, unless the file has hard links.

        A full disk doesn't matter: the lock holds without naming its holder.
        """
        if self._file is None or self._file.closed:
            return
        with suppress(OSError):
            if os.fstat(self._file.fileno()).st_nlink == 1:
                self._file.truncate(0)
                self._file.write(text.encode())

    def _close(self) -> None:
        if self._file is not None:
            self._file.close()
        if self._folder is not None:
            os.close(self._folder)
            self._folder = None


def _want_no_link(path: Path) -> None:
    """Refuse a lease file that is a link, because the lease file is emptied often.

    Raises:
        OSError: it is a link, or not a regular file.
    """
    try:
        found = path.lstat()
    except OSError:
        return  # creating it raises the error
    if not stat.S_ISREG(found.st_mode):
        message = f"{path.name} in it is a link, or not a regular file; remove it"
        raise OSError(errno.ELOOP, message, str(path))


def _open_no_link(path: str, flags: int) -> int:
    return opener(path, flags | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))


TRIES, REST_S = 5, 0.02
"""Checking whether the lease is held takes the lock for a moment."""


def _lock_soon(file: IO[bytes]) -> None:
    for left in reversed(range(TRIES)):
        try:
            _lock(file)
            return
        except BlockingIOError:
            if not left:
                raise
            time.sleep(REST_S)


def is_held(folder: Path) -> bool:
    """Whether a process has this bench open now, by its lock."""
    path = folder / FILE_NAME
    try:
        with open(path, "rb", opener=_open_no_link) as file:
            return _is_locked(file)
    except OSError:
        return False  # never driven here, or unknown


def read_holder(path: Path) -> Holder | None:
    """The last writer of the lease file, if readable."""
    try:
        if not path.is_file():  # a pipe may never end
            return None
        data = json.loads(path.read_text(encoding="utf-8"))
        return Holder(int(data["pid"]), int(data["since_wall_ms"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    def _lock(file: IO[bytes]) -> None:
        # A byte far past the text, so others can still read the text.
        file.seek(1 << 20)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            raise BlockingIOError from None
        file.seek(0)

    def _is_locked(file: IO[bytes]) -> bool:
        try:
            _lock(file)
        except BlockingIOError:
            return True
        file.seek(1 << 20)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)
        return False

    def _lock_folder(_folder: Path) -> int | None:
        return None  # an open file can't be deleted there
else:
    import fcntl

    def _lock(file: IO[bytes]) -> None:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _is_locked(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
        return False  # closing the file releases it

    def _lock_folder(folder: Path) -> int | None:
        """The locked folder; None on a disk that can't lock folders."""
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
