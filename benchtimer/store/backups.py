"""Automatic backups: whole copies of the log in ``backups/`` beside it, the older ones thinned out.

Each is named for the bench time and number of its last entry, so backups sort in the log's
order even if the wall clock is wrong. A copy counts only after it is forced to the disk and
read back whole, entry by entry; only then are older ones deleted. So a damaged log never
pushes out a good copy.
"""

from __future__ import annotations

import re
import threading
from contextlib import closing, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchtimer.atomic_file import clear_away_halves, force_folder, make_own_folder
from benchtimer.pasted import command_line
from benchtimer.store.errors import SQLITE_TROUBLE, StoreError
from benchtimer.store.log import EventLog
from benchtimer.store.log_transfer import NotCarried, backup, checked
from benchtimer.store.log_validity import mendable
from benchtimer.store.place import BACKUPS, FILE_NAME
from benchtimer.values import dataclass

NEWEST, DAYS = 5, 7
"""How many of the newest are kept, and for how many earlier days the last one of each day."""

RETRY_MS = 60_000
"""A failed backup is tried again this often."""

FIRST_S = 5.0
"""On opening, a backup waits this long so the screen comes first; a long log takes a while."""

LONGEST_WAIT_S = 10.0
"""How long closing waits for a backup; an unfinished one does not count."""

_NAME = re.compile(r"bench-([0-9]{8})-([0-9]{6})-([0-9]+)\.sqlite3")


@dataclass(frozen=True, slots=True)
class Backup:
    """One automatic backup.

    Attributes:
        path: the file.
        day: the day of its last entry, UTC, such as 20261125.
        seq: the number of its last entry.
    """

    path: Path
    day: str
    seq: int


def backups(folder: Path) -> list[Backup]:
    """The automatic backups of a log, newest first."""
    found = []
    for path in sorted((folder / BACKUPS).glob("bench-*.sqlite3"), reverse=True):
        name = _NAME.fullmatch(path.name)
        if name is not None:
            found.append(Backup(path, name[1], int(name[3])))
    return found


def make_backup(folder: Path) -> Path | None:
    """Back up a log with new entries, and delete surplus older copies.

    Returns:
        The new backup; None if the newest already has every entry.

    Raises:
        NotCarried: the log is damaged, or the copy can't be written.
        StoreError: the log can't be read.
    """
    with closing(EventLog(folder, read_only=True)) as log:
        newest = log.last_entry()
        seq = log.last_seq()
    there = backups(folder)
    if newest is None or (there and there[0].seq == seq):
        return None
    place = folder / BACKUPS
    target = place / _name_of(newest.stamp.noted_ms, seq)
    try:
        make_own_folder(place)
        clear_away_halves(place)
        count = backup(folder, target)
        if count != seq:  # entries may have been added meanwhile; a copy is named for its own
            target = target.replace(place / _name_of(newest.stamp.noted_ms, count))
        force_folder(place)
    except OSError as error:
        raise NotCarried(target, f"it can't be written ({error.strerror})") from None
    _thin_out(folder)
    return target


class BackupKeeper:
    """Makes backups during work at the bench, in a separate thread.

    Args:
        folder: the data folder.
        wanted: False for practice, which needs no backups.

    Attributes:
        trouble: why the latest backup failed; empty if nothing is wrong.
    """

    def __init__(self, folder: Path, *, wanted: bool = True) -> None:
        self._folder = folder
        self._wanted = wanted
        self._thread: threading.Thread | None = None
        self._hurry = threading.Event()
        self._tried_ms = 0
        self.trouble = ""

    def begin(self, seq: int, wait_s: float = 0.0) -> None:
        """Begin a backup if the newest lacks entries; one under way finishes first.

        Args:
            seq: the number of the last entry of the log.
            wait_s: how long to delay it; ``end`` skips the delay.
        """
        newest = next(iter(backups(self._folder)), None)
        wanted = self._wanted and seq and (newest is None or newest.seq != seq)
        if wanted and not (self._thread is not None and self._thread.is_alive()):
            self._thread = threading.Thread(
                target=self._make, args=(wait_s,), name="backup", daemon=True
            )
            self._thread.start()

    def retry(self, seq: int, now_ms: int) -> None:
        """Try again at intervals after a failure.

        Args:
            seq: the number of the last entry of the log.
            now_ms: bench time.
        """
        if self.trouble and now_ms - self._tried_ms >= RETRY_MS:
            self._tried_ms = now_ms
            self.begin(seq)

    def end(self) -> None:
        """Wait for the backup under way."""
        self._hurry.set()
        if self._thread is not None:
            self._thread.join(LONGEST_WAIT_S)

    def _make(self, wait_s: float) -> None:
        self._hurry.wait(wait_s)
        try:
            make_backup(self._folder)
            self.trouble = ""
        except (NotCarried, StoreError) as error:
            self.trouble = f"NO BACKUP: {error.path.name}: {error.reason}"
        except (OSError, *SQLITE_TROUBLE) as error:
            self.trouble = f"NO BACKUP: {error}"


def _is_whole(copy: Backup) -> bool:
    try:
        return checked(copy.path) == copy.seq
    except (NotCarried, OSError, *SQLITE_TROUBLE):
        return False


def _name_of(noted_ms: int, seq: int) -> str:
    return f"bench-{_written(noted_ms)}-{seq:07d}.sqlite3"


def _written(noted_ms: int) -> str:
    """Bench time as in a backup's name; bench time is based on Unix time."""
    try:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=noted_ms)
    except OverflowError:
        return "99991231-235959"
    return moment.strftime("%Y%m%d-%H%M%S")


def _thin_out(folder: Path) -> None:
    there = backups(folder)
    last_of_day: dict[str, Backup] = {}
    for copy in there[NEWEST:]:
        last_of_day.setdefault(copy.day, copy)
    kept = {*there[:NEWEST], *list(last_of_day.values())[:DAYS]}
    for copy in set(there) - kept:
        with suppress(OSError):
            copy.path.unlink()


def newest_good(folder: Path) -> Backup | None:
    """The newest automatic backup that is whole."""
    return next((copy for copy in backups(folder) if _is_whole(copy)), None)


def way_back(folder: Path) -> str:
    """How to recover a damaged log, with the command.

    If every entry is whole, the log is rebuilt from them without loss. Otherwise, or if the
    newest intact backup has more entries, that backup is restored.
    """
    copy, whole = newest_good(folder), mendable(folder / FILE_NAME)
    if whole and (copy is None or copy.seq <= whole):
        return (
            "Every entry in it is intact. This rebuilds the log from them and keeps the damaged "
            f"log next to it:\n  {_restore_command(folder, folder / FILE_NAME)}"
        )
    if copy is None:
        return "There is no backup next to it. If you have a copy: benchtimer restore FILE"
    return (
        f"The newest intact backup has {copy.seq} entries. This restores it and keeps the damaged "
        f"log next to it:\n  {_restore_command(folder, copy.path)}"
    )


def _restore_command(folder: Path, source: Path) -> str:
    return command_line(["benchtimer", "--data", str(folder), "restore", str(source)])


def newer_backup_words(folder: Path, seq: int) -> str | None:
    """A backup with more entries than the log: the log has lost entries at its end."""
    ahead = next((copy for copy in backups(folder) if copy.seq > seq and _is_whole(copy)), None)
    if ahead is None:
        return None
    return (
        f"The log ends with entry {seq}, but a backup of it has {ahead.seq}: entries are missing. "
        f"{command_line(['benchtimer', 'restore', str(ahead.path)])} restores them"
    )


def set_aside_newer(folder: Path, seq: int) -> None:
    """Set newer backups aside after an older copy was restored: they are kept but don't count."""
    for copy in backups(folder):
        if copy.seq > seq:
            copy.path.replace(copy.path.with_name(f"set-aside-{copy.path.name}"))
