"""Errors of a log: each names the file, what was found, and what to do."""

from __future__ import annotations

import sqlite3
from pathlib import Path

DAMAGE = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)
"""Raised by reading if an entry doesn't match its kind."""


class StoreError(Exception):
    """The store can't be used.

    Attributes:
        path: the file or folder.
        reason: what is wrong.
        way_out: what to do.
    """

    def __init__(self, path: Path, reason: str, way_out: str) -> None:
        self.path = path
        self.reason = reason
        self.way_out = way_out
        super().__init__(f"the log {path} can't be used: {reason}. {way_out}.")


class Damaged(StoreError):
    """The file differs from what was written to it. It stays as it was found."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(path, f"it is damaged: {reason}", "It was not changed")


class Foreign(StoreError):
    """The file is not a current log of this program; it stays untouched."""

    def __init__(self, path: Path) -> None:
        reason = (
            "it is not a log of this benchtimer: another program or a benchtimer before the "
            "first release made it, or its first bytes are damaged"
        )
        super().__init__(path, reason, "It was not changed. Move it away to start a new log")


class Newer(StoreError):
    """A newer program wrote the file; it stays untouched."""


class Overtaken(StoreError):
    """Another program wrote an entry that decisions here did not take into account."""


class Gone(StoreError):
    """The file is missing from where it was opened, or another is in its place."""


SQLITE_TROUBLE = (sqlite3.Error, UnicodeDecodeError)
"""Raised by a database that is damaged or can't be used.

The second replaces the first when SQLite's message quotes invalid bytes from a damaged
description of the tables.
"""


def trouble_with(path: Path, error: Exception, way_out: str) -> StoreError:
    """SQLite's finding as an error: a file that is damaged, or unusable now.

    Args:
        path: the file.
        error: what SQLite raised.
        way_out: what to do if the file can't be used now.
    """
    if isinstance(error, UnicodeDecodeError):
        return Damaged(path, "the description of its tables is not text")
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return Damaged(path, str(error))
    if "Could not decode" in str(error):
        return Damaged(path, "it holds bytes that are not text")
    return StoreError(path, str(error), way_out)


def damaged(path: Path, seq: int, error: Exception) -> StoreError:
    """The message for an entry with wrong contents.

    Args:
        path: the file.
        seq: the number of the entry.
        error: what reading it raised.
    """
    reason = (str(error).splitlines() or [type(error).__name__])[0]
    if isinstance(error, KeyError):
        reason = f"it names {reason}, which does not exist"
    return StoreError(path, f"entry {seq}: {reason}", "Use a newer program, or a copy of the file")
