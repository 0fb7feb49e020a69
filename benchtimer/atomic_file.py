"""Files written whole or not at all: after a power cut, the old or the new one is there."""

from __future__ import annotations

import os
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

WRITING = ".benchtimer-writing-"
"""Start of the name of a file that is not finished.

The number of the process that writes it follows.
"""


def name_while_writing() -> str:
    """Start of the name of an unfinished file of this process."""
    return f"{WRITING}{os.getpid()}-"


def write_whole(target: Path, text: str, *, private: bool = False) -> None:
    """Write beside the target, force it to the disk, and put it in the target's place.

    A new file is readable only by its user; a file that replaces another keeps its permissions.

    Args:
        target: the file.
        text: all of it.
        private: readable only by its user, whatever permissions the old file had.

    Raises:
        OSError: it can't be written; what was there before is kept.
    """
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=name_while_writing())
    beside = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if target.exists() and not private:
            beside.chmod(target.stat().st_mode & 0o777)
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    force_folder(target.parent)


def write_if_new(target: Path, text: str) -> None:
    """Write a file whole, unless it already has this text.

    Raises:
        OSError: it can't be read or written.
    """
    if not (target.is_file() and target.read_bytes() == text.encode()):
        write_whole(target, text)


def force_folder(folder: Path) -> None:
    """Make a new file's name permanent, if the system can sync folders to disk."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def clear_away_halves(folder: Path, *, alone: bool = False) -> None:
    """Remove what killed processes left unfinished.

    Args:
        folder: where to look.
        alone: no other process is writing there, so all unfinished files are leftovers.
    """
    with suppress(OSError):  # if nothing can be written, nothing can be deleted
        for left in folder.glob(f"{WRITING}*"):
            number = left.name.removeprefix(WRITING).partition("-")[0]
            if alone or not (number.isdecimal() and is_alive(int(number))):
                left.unlink(missing_ok=True)


def make_own_folder(folder: Path) -> None:
    """Make a folder, and any missing parents, that only its user may enter.

    Raises:
        OSError: it can't be made.
    """
    for missing in [path for path in (folder, *folder.parents) if not path.exists()][::-1]:
        missing.mkdir(mode=0o700, exist_ok=True)
    folder.mkdir(exist_ok=True)  # an invalid file name is refused


def is_alive(pid: int) -> bool:
    """Whether a process with this number is running on this machine."""
    if pid <= 0:  # those would mean whole process groups
        return False
    if sys.platform == "win32":  # on Windows signal 0 would stop the process
        return _is_alive_on_windows(pid)
    else:  # noqa: RET505 - a checker of types follows the platform only so
        try:
            os.kill(pid, 0)
        except (ProcessLookupError, OverflowError):
            return False
        except OSError:  # no permission to ask, so leave its files alone
            return True
        return True


SYNCHRONIZE, WAIT_TIMEOUT, ERROR_ACCESS_DENIED = 0x00100000, 0x102, 5
"""Of OpenProcess, WaitForSingleObject and GetLastError (Microsoft, Win32 API)."""


def _is_alive_on_windows(pid: int) -> bool:
    import ctypes

    windows = vars(ctypes).get("windll")  # only on Windows
    if windows is None or pid >= 1 << 32:
        return windows is None  # can't find out, so leave its files alone
    handle = windows.kernel32.OpenProcess(SYNCHRONIZE, False, pid)
    if not handle:
        return bool(windows.kernel32.GetLastError() == ERROR_ACCESS_DENIED)
    try:
        return bool(windows.kernel32.WaitForSingleObject(handle, 0) == WAIT_TIMEOUT)
    finally:
        windows.kernel32.CloseHandle(handle)
