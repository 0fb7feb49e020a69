"""Disks that can't be written during work: full, failing, gone, another's.

Each try works at a bench, makes the disk fail in one way, continues, and lets the disk come
back. While it fails, the bench must work as usual and never call a press saved that another
program can't find on the disk. When it is back, the log must have every press in order with
its own time. If the disk doesn't come back, everything must be in the place that the program
names when it closes.
"""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.store.log import FILE_NAME, LogEntry, StoreError
from benchtimer.store.log_transfer import restore
from tests.faults.bench_work import (
    NOON,
    Hands,
    by_hand,
    dies,
    folder,
    mixed,
    on_disk,
    same_benches,
)  # fmt: skip
from tests.faults.row import Row

NOBODY = 65534

Fault = Callable[["Bench"], Iterator[None]]


@dataclass
class Bench:
    """A bench at work on a disk that is about to fail."""

    place: Path
    rng: random.Random
    aside: Path
    clock: ManualClock = field(default_factory=lambda: ManualClock(NOON, boot="b"))
    driver: OpenBench = field(init=False)
    hands: Hands = field(init=False)
    names: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.driver = drive(self.place, self.clock, rescue_to=[self.aside])
        mixed(self.driver)
        self.hands = Hands(self.driver, self.clock, self.rng)
        self.names = [self.hands.set_up(), self.hands.set_up()]
        self.work(3)

    def work(self, presses: int) -> None:
        """Make presses, with ticks of the board between them."""
        for _ in range(presses):
            self.hands.work(1, self.names)
            if self.rng.random() < 0.3:
                self.driver.writer.notice_clock()

    def all_there(self, entries: Sequence[LogEntry]) -> bool:
        """Whether the entries have every press in order, each with its own time."""
        found = {name: [x.event for x in by_hand(entries) if x.run == name] for name in self.names}
        return found == self.hands.told and all(
            x.stamp.noted_ms >= x.event.t_ms for x in by_hand(entries)
        )


class Failing:
    """A connection that fails at some statement, before it or, worse, right after it."""

    def __init__(self, db: sqlite3.Connection, rng: random.Random) -> None:
        self.db = db
        self._at = rng.randrange(1, 30)
        self._after = rng.random() < 0.5
        self._why = rng.choice(("disk I/O error", "database or disk is full"))
        self.is_down = False

    def execute(self, statement: str, *values: Any) -> sqlite3.Cursor:
        """Run a statement or fail; after a failure, writes fail until the disk is back."""
        self._at -= 1
        if self._at == 0:
            self.is_down = True
            if self._after:
                self.db.execute(statement, *values)
            self._fail()
        if self.is_down and not statement.startswith(("SELECT", "PRAGMA", "ROLLBACK")):
            self._fail()
        return self.db.execute(statement, *values)

    def _fail(self) -> None:
        if self.db.in_transaction:
            self.db.execute("ROLLBACK")
        raise sqlite3.OperationalError(self._why)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)


@contextmanager
def _statement(bench: Bench) -> Iterator[None]:
    """The disk fails at any statement of a press, even right after the write."""
    whole = bench.driver._log._db
    failing: Any = Failing(whole, bench.rng)
    bench.driver._log._db = failing
    yield
    bench.driver._log._db = whole


@contextmanager
def _full(bench: Bench) -> Iterator[None]:
    """A real, separate disk, filled to the last byte."""
    rest = bench.place / "rest"
    with suppress(OSError), rest.open("wb", buffering=0) as file:
        for size in (65536, 4096, 512, 1):
            with suppress(OSError):
                while file.write(bytes(size)) == size:
                    pass
    yield
    rest.unlink()


@contextmanager
def _opened_full(bench: Bench) -> Iterator[None]:
    """The bench is closed, and opened again on a full disk."""
    bench.driver.close()
    with _full(bench):
        bench.driver = drive(bench.place, bench.clock, rescue_to=[bench.aside])
        bench.hands.driver = bench.driver
        yield


@contextmanager
def _file_limit(bench: Bench) -> Iterator[None]:
    """The system limits file size, so writes fail midway, as on a full disk."""
    import resource  # not available on every system

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    there = (bench.place / f"{FILE_NAME}-wal").stat().st_size
    bench.driver.writer._backups.end()
    resource.setrlimit(resource.RLIMIT_FSIZE, (there + bench.rng.randrange(9000), hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@contextmanager
def _read_only(bench: Bench) -> Iterator[None]:
    """The database is read-only."""
    bench.driver._log._db.execute("PRAGMA query_only = ON")
    yield
    bench.driver._log._db.execute("PRAGMA query_only = OFF")


@contextmanager
def _locked(bench: Bench) -> Iterator[None]:
    """Another program keeps the file locked."""
    bench.driver._log._db.execute("PRAGMA busy_timeout = 1")
    other = sqlite3.connect(bench.place / FILE_NAME, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


@contextmanager
def _opened_unwritable(bench: Bench) -> Iterator[None]:
    """The bench is closed, and opened again where its user can't write."""
    bench.driver.close()
    for path in (bench.place, *bench.place.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    bench.place.parent.chmod(0o755)
    user = os.geteuid()
    if user == 0:  # the administrator can write anywhere
        os.seteuid(NOBODY)
    try:
        bench.driver = drive(bench.place, bench.clock, rescue_to=[bench.aside])
        bench.hands.driver = bench.driver
        yield
    finally:
        os.seteuid(user)
        for path in (bench.place, *bench.place.rglob("*")):
            path.chmod(0o755 if path.is_dir() else 0o644)


@contextmanager
def _moved(bench: Bench) -> Iterator[None]:
    """The folder is moved away and comes back."""
    away = bench.place.with_name("away")
    bench.place.rename(away)
    yield
    away.rename(bench.place)


@contextmanager
def _another_disk(bench: Bench) -> Iterator[None]:
    """The folder is taken away and a copy comes back: another disk, the same files."""
    away = bench.place.with_name("away")
    bench.place.rename(away)
    yield
    shutil.copytree(away, bench.place)


@contextmanager
def _wal_gone(bench: Bench) -> Iterator[None]:
    """A cleanup deletes the write-ahead log."""
    (bench.place / f"{FILE_NAME}-wal").unlink()
    yield


@contextmanager
def _stays_full(bench: Bench) -> Iterator[None]:
    """The database is read-only and stays so."""
    bench.driver._log._db.execute("PRAGMA query_only = ON")
    yield


@contextmanager
def _deleted(bench: Bench) -> Iterator[None]:
    """The folder is deleted and stays deleted."""
    shutil.rmtree(bench.place)
    yield


@contextmanager
def _replaced(bench: Bench) -> Iterator[None]:
    """The folder is deleted and replaced by another bench's."""
    shutil.rmtree(bench.place)
    yield
    other = drive(bench.place, ManualClock(NOON + 10**7, boot="other"))
    Hands(other, bench.clock, bench.rng).set_up()
    other.close()


COMES_BACK: Sequence[tuple[str, Any, int]] = (
    ("the disk failed at any statement of a press, also just after it was written", _statement, 6),
    ("no file could grow any more: writes failed half way", _file_limit, 4),
    ("the log could only be read", _read_only, 2),
    ("another program kept the log locked", _locked, 1),
    ("the bench was opened where its user may write nothing", _opened_unwritable, 2),
    ("the data folder was moved away, and came back", _moved, 2),
    ("the data folder was taken away, and a copy of it came back", _another_disk, 2),
    ("the newest part of the log was deleted beside its file", _wal_gone, 1),
)
STAYS_AWAY: Sequence[tuple[str, Any, int]] = (
    ("the disk stayed full until the bench was left", _stays_full, 1),
    ("the data folder was deleted for good", _deleted, 1),
    ("the data folder was replaced by another bench's", _replaced, 1),
)


def _works_on(bench: Bench) -> str:
    """Work while the disk fails; return the faults."""
    for _ in range(bench.rng.randrange(1, 5)):
        bench.work(bench.rng.randrange(1, 3))
        if not same_benches(bench.driver, bench.hands.states()):
            return "the bench did not go on"
        if not bench.driver.unsaved and not _is_saved(bench):
            return "something was called saved that is not on the disk"
        for name in bench.names:
            bench.driver.record(name)
    if bench.rng.random() < 0.3:
        with suppress(StoreError):  # no run can be set up while the baths can't be read
            bench.names.append(bench.hands.set_up())
    return ""


def _is_saved(bench: Bench) -> bool:
    try:
        return bench.all_there(on_disk(bench.place))
    except (StoreError, sqlite3.Error):
        return False


def _comes_back(fault: Any, rng: random.Random, place: Path) -> str:
    bench = Bench(place / "bench", rng, place)
    with ExitStack() as after:
        after.callback(_let_go, bench)
        with fault(bench):
            if wrong := _works_on(bench):
                return wrong
        bench.driver.writer.notice_clock()
        bench.driver.writer._backups.end()
        bench.clock.advance(61_000)  # a failed backup is tried again after a minute
        bench.driver.writer.notice_clock()
        bench.driver.writer._backups.end()
        if bench.driver.unsaved:
            return f"it does not come back: {bench.driver.unsaved}"
        if not bench.all_there(on_disk(bench.place)):
            return "a press is missing on the disk"
        bench.work(2)
        dies(bench.driver)
        return _opens_again(bench, bench.place)


def _opens_again(bench: Bench, place: Path) -> str:
    again = drive(place, bench.clock)
    try:
        if not same_benches(again, bench.hands.states()):
            return "opened again it is another bench"
        return "" if bench.all_there(on_disk(place)) else "opened again a press is missing"
    finally:
        again.close()


def _let_go(bench: Bench) -> None:
    with suppress(Exception):
        bench.driver.close()


def _stays_away(fault: Any, rng: random.Random, place: Path) -> str:
    bench = Bench(place / "bench", rng, place)
    with fault(bench):
        if wrong := _works_on(bench):
            bench.driver.close()
            return wrong
        if fault is not _replaced:
            bench.driver.close()
    if fault is _replaced:
        bench.driver.close()
    kept = place / "benchtimer-rescue-1"
    if (
        str(kept / FILE_NAME) not in bench.driver.writer.parting
        or "NOT SAVED" not in bench.driver.writer.parting
    ):
        return f"on leaving it says: {bench.driver.writer.parting!r}"
    bench.place.mkdir(exist_ok=True)
    restore(bench.place, kept / FILE_NAME)
    return _opens_again(bench, bench.place)


def _real_disk(tries: int, rng: random.Random) -> list[str]:
    """The same on a full real disk of one megabyte, where one can be mounted."""
    place = Path(tempfile.mkdtemp(prefix="benchtimer-faults-"))
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)]
    try:
        if os.geteuid() or subprocess.run(mount, capture_output=True, check=False).returncode:
            return []
        try:
            found = []
            for number in range(tries):
                (place / str(number)).mkdir()
                fault = rng.choice((_full, _opened_full))
                found.append(_one(_comes_back, fault, rng, place / str(number)))
                shutil.rmtree(place / str(number), ignore_errors=True)
            return found
        finally:
            subprocess.run(["umount", "-l", str(place)], check=False)
    finally:
        place.rmdir()


def _one(
    way: Callable[[Any, random.Random, Path], str], fault: Any, rng: random.Random, place: Path
) -> str:
    try:
        return way(fault, rng, place)
    except Exception as error:  # any exception is a loss
        return f"{type(error).__name__}: {error}"


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` failing disks."""
    rng = random.Random(seed)
    shares = sum(share for *_, share in (*COMES_BACK, *STAYS_AWAY)) + 2
    back = "the run went on, nothing was called saved, then all was written in order"
    left = "the run went on; on leaving all of it was in the place named"
    rows = []
    for ways, way, kept in ((COMES_BACK, _comes_back, back), (STAYS_AWAY, _stays_away, left)):
        for text, fault, share in ways:
            found = []
            for _ in range(max(1, tries * share // shares)):
                with folder() as place:
                    found.append(_one(way, fault, rng, place))
            rows.append(_row(text, found, kept))
    full = _real_disk(max(1, tries * 2 // shares), rng)
    rows.append(
        _row(
            "a real disk of its own was full, at work or on opening (where one could be mounted)",
            full,
            back,
        )
    )
    return rows


def _row(fault: str, found: list[str], kept: str) -> Row:
    wrong = [text for text in found if text]
    return Row(fault, len(found), len(wrong), kept, next(iter(wrong), ""))
