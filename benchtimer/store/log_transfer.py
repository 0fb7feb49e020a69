"""Moves logs: a consistent copy during work, restoring a copy, runs as files.

A run's file is JSON: a header line, then one entry a line, so you can read it in twenty years
with only a text editor. It has every entry of the run's log, undone ones included, with both
clocks; an import gives the same run again.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

from benchtimer.atomic_file import clear_away_halves, name_while_writing
from benchtimer.run import codec
from benchtimer.run.events import Created, Event
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import OVER
from benchtimer.store.check import check_whole
from benchtimer.store.entries import (
    OUT_OF_CALENDAR,
    as_json,
    check_figures,
    created_of,
    event_from,
    local_time,
)
from benchtimer.store.errors import DAMAGE, SQLITE_TROUBLE
from benchtimer.store.log import FILE_NAME, EventLog, LogEntry, RunLine, Stamp, StoreError
from benchtimer.store.log_validity import (
    check_order,
    check_texts,
    check_workable,
    checked_run,
    make_anew,
    open_to_read,
)
from benchtimer.store.place import free_name, make_empty, make_file, wal_of
from benchtimer.store.register import Register
from benchtimer.store.schema import VERSION, version_of
from benchtimer.store.seal import Broken
from benchtimer.values import dataclass

FORM = 1
"""The form of a run's file."""

MAX_BYTES = 64 * 1024 * 1024
"""Largest run file that is read; a week's run is a hundredth of it."""

HEAD = "benchtimer run"

SCRATCH = ".restoring-"
"""Prefix of the folder in which a copy is checked before a restore."""


def short(text: str) -> str:
    """A text of a file shortened for a message."""
    return text if len(text) <= 300 else f"{text[:300]}..."


class NotCarried(Exception):
    """A file that can't be written or read; nothing was changed.

    Attributes:
        path: the file.
        reason: what is wrong with it.
    """

    def __init__(self, path: Path, reason: str) -> None:
        self.path = path
        self.reason = reason
        super().__init__(f"{path}: {reason}; nothing was changed")


def backup(folder: Path, target: Path) -> int:
    """Copy the log of a bench consistently, even while another process writes.

    Returns:
        How many entries the copy has.

    Raises:
        NotCarried: the target exists already, or can't be written.
        StoreError: there is no log.
    """
    if target.exists():
        raise NotCarried(target, "it already exists; choose another name")
    log = EventLog(folder, read_only=True)  # raises if there is none, or a newer one
    log.close()
    clear_away_halves(target.parent)
    beside = target.with_name(f"{name_while_writing()}{target.name}")
    try:
        make_empty(beside)
        _copy(folder / FILE_NAME, beside)
        try:
            count = checked(beside)
        except NotCarried as damage:
            raise NotCarried(folder / FILE_NAME, damage.reason) from None
        _force_to_disk(beside)
        beside.replace(target)
    except (OSError, *SQLITE_TROUBLE) as error:
        raise NotCarried(target, f"it can't be written ({error})") from None
    finally:
        with suppress(OSError):
            for left in (beside, beside.with_name(f"{beside.name}-journal")):
                left.unlink(missing_ok=True)
    return count


def restore(folder: Path, source: Path) -> Path | None:
    """Replace a log with a copy; the old log is kept next to it.

    The caller holds the lease of the folder, so no other process is at work.

    Returns:
        The new path of the old log, if there was one.

    Raises:
        NotCarried: the copy is not a log, is damaged, or is from a newer program.
    """
    if not source.is_file():
        raise NotCarried(source, "there is no such file")
    target = folder / FILE_NAME
    try:
        if not _is_same(source, target):
            checked(source)
        with _scratch(folder) as scratch:
            _copy(source, scratch / "copy.sqlite3")
            _rebuild(source, scratch)
            kept = _kept(target) if target.exists() or wal_of(target).exists() else None
            make_file(target)
            _copy(scratch / FILE_NAME, target, alone=False)
    except (OSError, *SQLITE_TROUBLE) as error:
        raise NotCarried(source, f"it can't be restored ({error})") from None
    return kept


def try_restore(source: Path) -> int:
    """Do everything ``restore`` does except the last step, in a temporary folder.

    Returns:
        How many entries the copy has.

    Raises:
        NotCarried: the copy can't be restored.
    """
    if not source.is_file():
        raise NotCarried(source, "there is no such file")
    try:
        with tempfile.TemporaryDirectory(prefix=SCRATCH) as name:
            scratch = Path(name)
            _copy(source, scratch / "copy.sqlite3")
            _rebuild(source, scratch)
            return checked(scratch / FILE_NAME)
    except (OSError, *SQLITE_TROUBLE) as error:
        raise NotCarried(source, f"it can't be restored ({error})") from None


def _is_same(source: Path, target: Path) -> bool:
    """Whether the log itself is to be restored, by a rebuild from its entries."""
    return target.exists() and source.samefile(target)


@contextmanager
def _scratch(folder: Path) -> Iterator[Path]:
    """A working folder next to the log; deletes one that a killed process left."""
    for left in folder.glob(f"{SCRATCH}*"):
        shutil.rmtree(left)
    scratch = Path(tempfile.mkdtemp(dir=folder, prefix=SCRATCH))
    try:
        yield scratch
    finally:
        shutil.rmtree(scratch)


def _rebuild(source: Path, folder: Path) -> None:
    """Build a log in a folder from the entries of a copy there, and check it.

    Raises:
        NotCarried: the bench can't open it, or it is not a true log.
    """
    try:
        make_anew(folder / "copy.sqlite3", folder)
    except Broken as broken:
        raise NotCarried(source, f"it is damaged ({broken})") from None
    except StoreError as error:
        raise NotCarried(source, error.reason) from None
    except DAMAGE as error:
        raise NotCarried(source, f"it is not a log that this program can read ({error})") from None


def _kept(target: Path) -> Path:
    """Keeps the old log: a copy if the database can read it, otherwise the files themselves."""
    kept = free_name(target.parent, "bench-before-restore")
    try:
        if not target.exists():
            raise sqlite3.DatabaseError
        checked(target)
        make_empty(kept)
        _copy(target, kept)
        _force_to_disk(kept)
    except (*SQLITE_TROUBLE, NotCarried):
        kept.unlink(missing_ok=True)
        kept = free_name(target.parent, "bench-damaged")
        for old, new in ((wal_of(target), wal_of(kept)), (target, kept)):
            if old.exists():
                old.replace(new)
        target.with_name(f"{target.name}-shm").unlink(missing_ok=True)
    return kept if kept.exists() else wal_of(kept)


def _copy(source: Path, target: Path, *, alone: bool = True) -> None:
    """Copies by the database itself: whole transactions only, with the target locked.

    Args:
        source: a log, which another process may be writing.
        target: a new file, or a log to replace.
        alone: make it a single file that needs no other and can be read from read-only
            media.
    """
    with closing(open_to_read(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        if alone:
            new.execute("PRAGMA journal_mode = DELETE")


def _force_to_disk(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def checked(path: Path) -> int:
    """The number of entries of a log that is whole and readable by this program.

    Raises:
        NotCarried: it is not a log, is damaged, or is from a newer program.
    """
    with closing(open_to_read(path)) as db:
        try:
            version = version_of(db)
            if version == VERSION:
                check_whole(db)
                return Register(db).state().last
        except Broken as broken:
            raise NotCarried(path, f"it is damaged ({broken})") from None
        except (sqlite3.Error, *DAMAGE) as error:
            raise NotCarried(path, f"it is not a log of benchtimer ({error})") from None
    if not version:
        raise NotCarried(path, "it is not a log of this benchtimer")
    raise NotCarried(path, f"it has layout {version}, this version reads {VERSION}")


def run_lines(entries: Sequence[LogEntry]) -> Iterator[str]:
    """A run as the lines of a file."""
    uid = created_of(entries).uid
    yield as_json({"what": HEAD, "form": FORM, "run": entries[0].run, "uid": uid})
    for entry in entries:
        event, stamp = entry.event, entry.stamp
        yield as_json(
            {
                "kind": codec.kind_of(event),
                "press": event.press,
                "t_ms": event.t_ms,
                "by": event.by,
                "body": codec.body_of(event),
                "noted_ms": stamp.noted_ms,
                "boot": stamp.boot,
                "count_ms": stamp.count_ms,
                "wall_ms": stamp.wall_ms,
                "offset_s": stamp.offset_s,
            }
        )


@dataclass(frozen=True, slots=True)
class Carried:
    """A run read from a file."""

    name: str
    uid: str
    rows: tuple[tuple[Event, Stamp], ...]


def read_run(path: Path) -> Carried:
    """The run in a file.

    Raises:
        NotCarried: it can't be read, or is not a run this program knows.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
        if len(raw) > MAX_BYTES:
            raise NotCarried(path, "it is too large for a run")
        head, *rest = [json.loads(line) for line in raw.decode("utf-8").splitlines()]
        if not isinstance(head, dict) or head.get("what") != HEAD:
            raise NotCarried(path, "it is not a run of benchtimer")
        if head.get("form") != FORM:
            raise NotCarried(path, f"its form is {head.get('form')!r}, this program knows {FORM}")
        rows = tuple(_row(table) for table in rest)
        carried = Carried(str(head["run"]), str(head["uid"]), rows)
        _checked_run(path, carried)
    except OSError as error:
        raise NotCarried(path, error.strerror or "it can't be read") from None
    except DAMAGE as error:
        message = f"it is not a run of benchtimer that this program can read ({short(str(error))})"
        raise NotCarried(path, message) from None
    return carried


def _row(table: dict[str, Any]) -> tuple[Event, Stamp]:
    as_json(table).encode()  # a lone surrogate has no place in any file
    times = [table[name] for name in ("press", "t_ms", "noted_ms", "count_ms", "wall_ms")]
    if not all(type(value) is int for value in [*times, table["offset_s"]]):
        raise ValueError("a time is not a whole number")
    check_figures(*times, table["offset_s"])
    if local_time(table["wall_ms"], table["offset_s"]) == OUT_OF_CALENDAR:
        raise ValueError(f"a time is {OUT_OF_CALENDAR}")
    event = event_from(
        table["kind"], table["body"], press=table["press"], t_ms=table["t_ms"], by=str(table["by"])
    )
    check_texts(event)
    boot = table["boot"] if table["boot"] is None else str(table["boot"])
    stamp = Stamp(table["noted_ms"], boot, table["count_ms"], table["wall_ms"], table["offset_s"])
    return event, stamp


def _checked_run(path: Path, carried: Carried) -> None:
    """The run, if this program could have written it and, if open, can continue it."""
    first = carried.rows[0][0]
    if not isinstance(first, Created) or first.uid != carried.uid:
        raise NotCarried(path, "it does not begin with its setup")
    check_order([(event.t_ms, stamp.noted_ms) for event, stamp in carried.rows])
    state = checked_run(carried.name, [event for event, _ in carried.rows])
    if state.bench.phase not in OVER:
        check_workable(state)


def carry_in(
    log: EventLog,
    path: Path,
    carried: Carried,
    wall_ms: int,
    *,
    now_ms: int | None = None,
    speed: float = 1,
    dry: bool = False,
) -> str | None:
    """Import a run into a log; an existing run stays as it is.

    An open run continues here: its parts stay where they were, and its timers follow the time
    here, which must not be earlier than the run's own.

    Args:
        log: the log; the caller holds its lease.
        path: the file, for messages.
        carried: what was read from it.
        wall_ms: Unix time now.
        now_ms: bench time here now, if different from ``wall_ms``.
        speed: of this bench: 1, or how many times faster practice runs.
        dry: check everything, write nothing.

    Returns:
        The run's name in the log, or None if it was already there.

    Raises:
        NotCarried: a run of the same identity has other entries, or the run is open and
            can't continue here.
        StoreError: it could not be written.
    """
    there = log.named_by_uid(carried.uid)
    if there is not None:
        known = [(x.event, x.stamp) for x in log.entries(there)]
        if [*carried.rows] == known[: len(carried.rows)]:
            return None
        raise NotCarried(path, f"run {there} has the same identity but other entries")
    name = _name_for(log, carried.name)
    bench = fold(event for event, _ in carried.rows).bench
    if bench.phase not in OVER:
        _want_to_go_on(path, carried, bench.speed, wall_ms if now_ms is None else now_ms, speed)
    stamp = carried.rows[0][1]
    line = RunLine(
        name, bench.phase.value, bench.title, tuple(bench.parts), stamp.wall_ms, stamp.offset_s
    )
    if not dry:
        log.carry_in(name, carried.rows, line, wall_ms)
    return name


def _want_to_go_on(
    path: Path, carried: Carried, was_speed: float, now_ms: int, speed: float
) -> None:
    last = carried.rows[-1][1]
    if was_speed != speed:
        message = f"the run is open and runs at {was_speed:g}x real speed, this bench at {speed:g}x"
        raise NotCarried(path, message)
    if last.noted_ms > now_ms:
        there, here = (local_time(ms, last.offset_s) for ms in (last.noted_ms, now_ms))
        message = f"the run is open and its last entry is from {there}"
        raise NotCarried(path, f"{message}, but this computer's clock says {here}. Set the clock")


def _name_for(log: EventLog, name: str) -> str:
    """The run's own name, plus a letter if another run has it."""
    letters: list[str] = ["", *"bcdefghijklmnopqrstuvwxyz"]
    free = (name + letter for letter in letters if log.run_line(name + letter) is None)
    found: str | None = next(free, None)
    if found is None:
        raise StoreError(log.path, f"there are too many runs called {name}", "Rename the file")
    return found
