"""The log's file: found, checked, opened, and re-identified while open.

Before any write, a read-only connection checks the file: a damaged file, or one of a newer
layout, stays byte for byte as it was found.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any

from benchtimer.store.check import check_description, check_opened
from benchtimer.store.errors import (
    SQLITE_TROUBLE,
    Damaged,
    Foreign,
    Gone,
    Newer,
    StoreError,
    trouble_with,
)
from benchtimer.store.index import index_all, is_current
from benchtimer.store.lease import is_held
from benchtimer.store.place import (
    FILE_NAME,
    free_name,
    has_something,
    identity_of,
    is_there,
    keep_if_cut_short,
    make_empty,
    make_file,
    make_private,
    practice_speeds,
    refuse_remains,
    wal_of,
)
from benchtimer.store.register import Register
from benchtimer.store.schema import VERSION, migrate, version_of
from benchtimer.store.seal import Broken
from benchtimer.store.wal import lost_commits

Identity = tuple[int, int] | None
"""Device and number of a file; None if it isn't there."""

BUSY_S = 5.0
"""How long a reader or writer waits for another one's transaction."""


class LogFile:
    """The log of one folder as an open file.

    Attributes:
        path: the file.
        read_only: whether it can only be read.
        remarks: messages about the file as it was found.
        trouble: why writes wait in memory; None while the disk works.

    Raises:
        Damaged: it differs from what was written.
        StoreError: the file can't be opened, is not a log, or is of a newer version.
    """

    trouble: StoreError | None = None

    def __init__(self, folder: Path, *, read_only: bool = False) -> None:
        self.path = folder / FILE_NAME
        self.read_only = read_only
        self.remarks: list[str] = []
        self._open()

    def _open(self) -> None:
        with ExitStack() as opened:
            try:
                self._db = self._connect(self.path.parent, opened)
                self._check_version()
                self._known_seq = self._last_seq()
                self._identity = self._found()
            except Broken as broken:
                raise Damaged(self.path, str(broken)) from None
            except SQLITE_TROUBLE as error:
                raise trouble_with(self.path, error, "Check the folder and the disk") from error
            opened.pop_all()  # a log that could be opened stays open

    def _connect(self, folder: Path, opened: ExitStack) -> sqlite3.Connection:
        """A connection that ``opened`` closes if the rest of the opening fails."""
        if self.read_only:
            self._want_file(folder)
            self._want_whole_end()
            return opened.enter_context(closing(self._connect_to_read()))
        make_private(folder)
        refuse_remains(self.path)
        self._look_first()
        self.remarks += keep_if_cut_short(self.path)
        make_file(self.path)
        # The lease keeps writers apart; readers in other threads have their own EventLog.
        db = sqlite3.connect(
            self.path, timeout=BUSY_S, isolation_level=None, check_same_thread=False
        )
        opened.callback(db.close)
        mode = db.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        if mode != "wal":
            raise StoreError(self.path, f"its journal mode is {mode}", "Use a local disk")
        db.execute("PRAGMA synchronous = FULL")
        if self.remarks:  # the unreadable part is kept elsewhere, and is not found again
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return db

    def _want_file(self, folder: Path) -> None:
        if not is_there(self.path):
            practice = practice_speeds(folder)
            way_out = "Start a run first"
            if practice:
                way_out = f"For the practice runs add --speed {practice[0][1]:g}"
            raise StoreError(self.path, "there is no log yet", way_out)

    def _want_whole_end(self) -> None:
        """Refuse a log with presses that SQLite would silently omit.

        While a driver is at work, it is writing the end and has it in memory.
        """
        if is_held(self.path.parent):
            return
        try:
            lost = lost_commits(wal_of(self.path))
        except OSError:
            return  # opening it raises the error
        if lost:
            presses = f"up to {lost} presses at its end" if lost > 1 else "a press at its end"
            way_out = "Open the bench once: it keeps the files as they are, and shows what is left"
            raise StoreError(self.path, f"{presses} can't be read", way_out)

    def _connect_to_read(self) -> sqlite3.Connection:
        """A read-only connection.

        In a read-only folder SQLite can't create the index that it shares with a writer. A
        log without a write-ahead log is complete by itself and is then read as an immutable
        file.
        """
        try:
            return self._open_uri("mode=ro")
        except sqlite3.OperationalError:
            if has_something(wal_of(self.path)):
                raise
            return self._open_uri("mode=ro&immutable=1")

    def _open_uri(self, options: str) -> sqlite3.Connection:
        db = sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{options}", uri=True, timeout=BUSY_S,
            isolation_level=None, check_same_thread=False,
        )  # fmt: skip
        try:
            version_of(db)  # the first read is what opens the file
        except BaseException:
            db.close()
            raise
        return db

    def _look_first(self) -> None:
        """Check version and damage before any write, such as setting the mode."""
        if not has_something(self.path):
            return
        # Without a write-ahead log no process is at work, and the file is read as it is:
        # otherwise even a reader leaves files beside it.
        alone = "" if is_there(wal_of(self.path)) else "&immutable=1"
        with ExitStack() as opened:
            try:
                db = opened.enter_context(closing(self._open_uri(f"mode=ro{alone}")))
            except sqlite3.OperationalError:
                return  # it can't be read alone; the opening itself raises the error
            if self._own_version(db) == VERSION:
                check_opened(db)

    def _own_version(self, db: sqlite3.Connection) -> int:
        """The version of a layout that this program knows, or 0 for an empty file."""
        found = version_of(db)
        if found is None:
            raise Foreign(self.path)
        if found > VERSION:
            raise Newer(
                self.path,
                f"it has layout {found}, this version reads {VERSION}",
                "Use the newer program; nothing was changed. If there never was one, the file is "
                "damaged: put a backup back with benchtimer restore",
            )
        return found

    def _check_version(self) -> None:
        found = self._own_version(self._db)
        if found < VERSION:
            if self.read_only:
                raise StoreError(self.path, f"it has layout {found}", "Open the bench once first")
            if found > 0:
                self._keep_copy(found)
            migrate(self._db)
        check_description(self._db)
        if not self.read_only and not is_current(self._db):
            index_all(self._db)

    def _keep_copy(self, version: int) -> None:
        """A whole copy of an older file before its layout changes."""
        target = free_name(self.path.parent, f"{self.path.stem}-layout-{version}", first="")
        self.copy_to(target)

    def copy_to(self, target: Path) -> None:
        """Copy this open log whole to a new file, private to its user."""
        make_empty(target)
        with closing(sqlite3.connect(target)) as copy:
            self._db.backup(copy)

    def want_own_file(self) -> None:
        """Check that the file is still in its place, so later readers find new entries.

        Raises:
            Gone: the file was moved, deleted or replaced while it was open.
        """
        found = self._found()
        if found != self._identity:
            there = found[0] is not None and (self.read_only or found[1] is not None)
            what = "another file is in its place" if there else "it is no longer there"
            raise Gone(self.path, what, "Put the folder back as it was")

    def _found(self) -> tuple[Identity, Identity]:
        """The files present: a writer's write-ahead log is part of the log, too."""
        wal = None if self.read_only else identity_of(wal_of(self.path))
        return identity_of(self.path), wal

    def take_over(self, fresh: LogFile) -> None:
        """Take over the file from another object, which must not be used afterward."""
        self._db, self._identity, self.read_only = fresh._db, fresh._identity, False
        self.remarks += fresh.remarks

    @property
    def _register(self) -> Register:
        return Register(self._db)

    def _last_seq(self) -> int:
        with self._looking():
            return self._register.state().last

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    @contextmanager
    def _careful(self, way_out: str = "Keep the file; do not delete it") -> Iterator[None]:
        """Report damage and read or write errors inside the block as such.

        Raises:
            StoreError: instead of the errors of the database and the register.
        """
        try:
            yield
        except Broken as broken:
            raise Damaged(self.path, str(broken)) from None
        except SQLITE_TROUBLE as error:
            raise trouble_with(self.path, error, way_out) from error

    @contextmanager
    def _looking(self) -> Iterator[None]:
        """Everything read inside the block is from one moment, even if another process writes."""
        with self._careful():
            begins = not self._db.in_transaction
            if begins:
                self._db.execute("BEGIN")
            try:
                yield
            finally:
                if begins and self._db.in_transaction:
                    self._db.execute("ROLLBACK")

    def _rows(self, query: str, values: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        with self._careful():
            return self._db.execute(query, values).fetchall()
