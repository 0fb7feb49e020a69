"""The lease: one process drives the bench, and a dead one holds nothing.

The lease is a lock that the operating system takes away when its process ends, however
it ends. The file beside it only says who holds it.
"""

from __future__ import annotations

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
        self._file: IO[bytes] = open(  # noqa: SIM115  held until release
            path, "ab+", buffering=0, opener=opener
        )
        try:
            _lock(self._file)
        except OSError:
            self._file.close()
            raise LeaseTaken(read_holder(path)) from None
        told = json.dumps({"pid": os.getpid(), "since_wall_ms": since_wall_ms})
        with suppress(OSError):  # a full disk: the lock holds without a word on who has it
            self._file.truncate(0)
            self._file.write(told.encode())

    def release(self) -> None:
        """Let somebody else drive."""
        if not self._file.closed:
            with suppress(OSError):
                self._file.truncate(0)
        self._file.close()


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
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        file.seek(0)
else:
    import fcntl

    def _lock(file: IO[bytes]) -> None:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
