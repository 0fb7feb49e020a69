"""What can be wrong with a log: each error names the file, what was found, and the way out."""

from __future__ import annotations

import sqlite3
from pathlib import Path

DAMAGE = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)
"""What reading raises when an entry does not hold what its kind should."""


class StoreError(Exception):
    """The store can't be used.

    Attributes:
        path: the file or folder.
        reason: what is wrong.
        way_out: what can be done.
    """

    def __init__(self, path: Path, reason: str, way_out: str) -> None:
        self.path = path
        self.reason = reason
        self.way_out = way_out
        super().__init__(f"the log {path} can't be used: {reason}. {way_out}.")


class Damaged(StoreError):
    """The file is not what was once written into it. It is left as it was found."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(path, f"it is damaged: {reason}", "It was not changed")


class Foreign(StoreError):
    """The file is no log of this program as it is now; nothing of it is touched."""

    def __init__(self, path: Path) -> None:
        reason = (
            "it is not a log of this benchtimer: another program or a benchtimer before the "
            "first release made it, or its first bytes are damaged"
        )
        super().__init__(path, reason, "It was not changed. Move it away to start a new log")


class Newer(StoreError):
    """A newer program wrote the file; nothing of it is touched."""


class Overtaken(StoreError):
    """Another program has written; what was decided here was decided without that."""


class Gone(StoreError):
    """The file is no longer where it was opened, or another one is in its place."""


SQLITE_TROUBLE = (sqlite3.Error, UnicodeDecodeError)
"""What a database that is damaged, or can't be used, raises.

The second one comes in the place of the first when SQLite's own message quotes bytes of a
damaged description of the tables that are no text.
"""


def trouble_with(path: Path, error: Exception, way_out: str) -> StoreError:
    """What SQLite found: a file that is damaged, or one that can't be used now."""
    if isinstance(error, UnicodeDecodeError):
        return Damaged(path, "the description of its tables is not text")
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return Damaged(path, str(error))
    if "Could not decode" in str(error):
        return Damaged(path, "it holds bytes that are not text")
    return StoreError(path, str(error), way_out)


def damaged(path: Path, seq: int, error: Exception) -> StoreError:
    """The message that an entry does not hold what it should."""
    reason = (str(error).splitlines() or [type(error).__name__])[0]
    if isinstance(error, KeyError):
        reason = f"it names {reason}, which is not there"
    return StoreError(path, f"entry {seq}: {reason}", "Use a newer program, or a copy of the file")
