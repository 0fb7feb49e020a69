"""Two programs at one bench: second drivers, dead ones, watchers, copies, older and newer logs."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from unittest.mock import patch

from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.store import log_transfer, opening, schema
from benchtimer.store.errors import Damaged, StoreError
from benchtimer.store.lease import FILE_NAME as LEASE_NAME
from benchtimer.store.lease import LeaseTaken
from benchtimer.store.log import FILE_NAME, LogEntry
from benchtimer.store.schema import VERSION
from tests.faults.bench_work import NOON, Hands, by_hand, dies, folder, on_disk, same_benches
from tests.faults.row import Row

WRITER = """
import random, sys
from pathlib import Path
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from tests.faults.bench_work import NOON, Hands
clock = ManualClock(NOON, boot="b")
driver = drive(Path(sys.argv[1]), clock)
hands = Hands(driver, clock, random.Random(int(sys.argv[2])))
names = [hands.set_up()]
print("ready", flush=True)
presses = int(sys.argv[3])
hands.work(presses if presses else 10**9, names)
driver.close()
"""


def _writer(place: Path, rng: random.Random, presses: int = 0) -> subprocess.Popen[str]:
    """Another process that drives the bench for a number of presses, or until killed."""
    words = [sys.executable, "-c", WRITER, str(place), str(rng.randrange(10**6)), str(presses)]
    root = Path(__file__).parents[2]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=root)
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def _ends(process: subprocess.Popen[str], sign: signal.Signals | None = None) -> None:
    if sign is not None:
        process.send_signal(sign)
    process.wait(timeout=60)
    if process.stdout is not None:
        process.stdout.close()


def _opens(place: Path) -> bool:
    try:
        drive(place, ManualClock(NOON + 10**8, boot="c")).close()
    except LeaseTaken:
        return False
    return True


def _second(rng: random.Random, place: Path) -> str:
    """A second driver during another's work, with its lock file deleted or false."""
    process = _writer(place, rng)
    try:
        if rng.random() < 0.3:
            (place / LEASE_NAME).unlink()
        elif rng.random() < 0.5:
            (place / LEASE_NAME).write_text(rng.choice(("", "x", '{"pid":1,"since_wall_ms":0}')))
        return "a second driver was let in" if _opens(place) else ""
    finally:
        _ends(process, signal.SIGKILL)


def _stale(rng: random.Random, place: Path) -> str:
    """The driver is killed, and another living process now has its number."""
    process = _writer(place, rng)
    _ends(process, signal.SIGKILL)
    before = on_disk(place)
    result = f'{{"pid":{rng.choice((os.getpid(), os.getppid(), 1))},"since_wall_ms":0}}'
    (place / LEASE_NAME).write_text(result)
    if not _opens(place):
        return "a dead driver keeps the bench"
    return "" if on_disk(place)[: len(before)] == before else "entries of the dead one are gone"


def _watched(rng: random.Random, place: Path) -> str:
    """A watcher reads while another process writes as fast as it can."""
    process = _writer(place, rng, presses=120)
    watcher = look_on(place, ManualClock(NOON, boot="b"))
    try:
        while process.poll() is None:
            watcher.refresh()
        watcher.refresh()
        _ends(process)
        with closing(look_on(place, ManualClock(NOON, boot="b"))) as fresh:
            same = all(watcher.state(name) == fresh.state(name) for name in fresh.names)
            return "" if same else "whoever looked on saw another bench"
    finally:
        watcher.close()
        _ends(process)


def _copied(rng: random.Random, place: Path) -> str:
    """The folder is copied, file by file, while another process writes into it."""
    process = _writer(place / "bench", rng)
    for _ in range(rng.randrange(3)):
        on_disk(place / "bench")
    with suppress(shutil.Error):
        shutil.copytree(place / "bench", place / "copy")
    _ends(process, signal.SIGKILL)
    truth = by_hand(on_disk(place / "bench"))
    try:
        drive(place / "copy", ManualClock(NOON + 10**8, boot="c")).close()
    except Damaged:
        return ""  # the files are from different moments, and the error says so
    found = by_hand(on_disk(place / "copy"))
    return "" if found == truth[: len(found)] else "the copy shows what was never written"


def _overtaken(rng: random.Random, place: Path) -> str:
    """Where folders can't be locked and the lock file is gone, two drivers may meet."""
    clock = ManualClock(NOON, boot="b")
    first = drive(place, clock)
    hands = Hands(first, clock, rng)
    name = hands.set_up()
    hands.work(3, [name])
    dies(first)
    second = drive(place, clock)
    others = Hands(second, clock, rng, dict(hands.told))
    others.told = {name: list(events) for name, events in hands.told.items()}
    others.work(rng.randrange(1, 4), [name])
    try:
        hands.work(1, [name])
        return "a press was written over those of another driver"
    except StoreError:
        pass
    finally:
        second.close()
        first.close()
    with closing(drive(place, clock)) as again:
        return "" if same_benches(again, others.states()) else "the second one's presses are gone"


def _newer(rng: random.Random, place: Path) -> str:
    """A log of a newer program is refused without a changed byte."""
    with closing(sqlite3.connect(_a_log(place))) as db:
        db.execute("CREATE TABLE later (mood TEXT)")
        db.execute(f"PRAGMA user_version = {VERSION + rng.randrange(1, 1000)}")
    before = (place / FILE_NAME).read_bytes()
    try:
        drive(place, ManualClock(NOON)).close()
        return "it was opened"
    except StoreError as error:
        if "newer program" not in str(error):
            return f"it says: {error}"
    left = {path.name for path in place.iterdir()} - {LEASE_NAME, "records"}
    same = (place / FILE_NAME).read_bytes() == before and left == {FILE_NAME}
    return "" if same else "it was changed"


def _older(rng: random.Random, place: Path) -> str:
    """A log of an older layout is migrated with a copy kept, and reads the same."""
    source = _a_log(place)
    before = _rows(source)

    def step(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE mood (text TEXT)")

    steps, version = (*schema.STEPS, step), VERSION + 1
    with (
        patch.object(schema, "STEPS", steps),
        patch.object(schema, "VERSION", version),
        patch.object(opening, "VERSION", version),
        patch.object(log_transfer, "VERSION", version),
        closing(drive(place, ManualClock(NOON + 10**8, boot="new"))) as driver,
    ):
        hands = Hands(driver, ManualClock(NOON), rng, {name: [] for name in driver.names})
        hands.work(2, driver.names)
        found: list[LogEntry] = driver._log.entries_after(0)
    if _rows(source)[: len(before)] != before or len(found) <= len(before):
        return "the entries of the older log are others now"
    kept = place / f"bench-layout-{VERSION}.sqlite3"
    return "" if _rows(kept) == before else "no copy of the older log is kept"


def _foreign(rng: random.Random, place: Path) -> str:
    """A log without this program's mark in its header is refused without a changed byte."""
    source = _a_log(place)
    with closing(sqlite3.connect(source)) as db:
        db.execute(f"PRAGMA application_id = {rng.randrange(1, 2**31)}")
        db.execute(f"PRAGMA user_version = {rng.randrange(0, 9)}")
    before = source.read_bytes()
    try:
        drive(place, ManualClock(NOON)).close()
        return "it was opened"
    except StoreError as error:
        if "not a log of this benchtimer" not in str(error):
            return f"it says: {error}"
    return "" if source.read_bytes() == before else "it was changed"


def _a_log(place: Path) -> Path:
    """A closed log with a run that has begun."""
    clock = ManualClock(NOON, boot="b")
    with closing(drive(place, clock)) as driver:
        hands = Hands(driver, clock, random.Random(1))
        hands.work(6, [hands.set_up()])
    shutil.rmtree(place / "backups", ignore_errors=True)
    return place / FILE_NAME


def _rows(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as db:
        return db.execute("SELECT * FROM event ORDER BY seq").fetchall()


KINDS: tuple[tuple[str, Callable[[random.Random, Path], str], str, int], ...] = (
    ("a second driver, also with the lock file deleted or rewritten", _second, "it was refused", 4),
    ("a killed driver, its process number taken by another", _stale,
     "the bench opened, every entry there", 3),
    ("somebody looking on at 120 presses without a pause", _watched,
     "saw every press, once", 2),
    ("the data folder copied while it was written", _copied,
     "the copy true as far as it goes, or refused as damaged", 4),
    ("two drivers on one log, where nothing can be locked", _overtaken,
     "the later one's presses stand, the other is told", 3),
    ("a log of a newer program", _newer, "refused, not a byte changed", 2),
    ("a log of an older program", _older, "every entry the same, a copy kept", 2),
    ("a log that another program made, or one before the first release", _foreign,
     "refused, not a byte changed", 2),
)  # fmt: skip


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` meetings at one bench."""
    rng = random.Random(seed)
    shares = sum(share for *_, share in KINDS)
    rows = []
    for fault, one, kept, share in KINDS:
        wrong = []
        number = max(1, tries * share // shares)
        for _ in range(number):
            with folder() as place:
                wrong.append(_tried(one, rng, place))
        wrong = [text for text in wrong if text]
        rows.append(Row(fault, number, len(wrong), kept, next(iter(wrong), "")))
    return rows


def _tried(one: Callable[[random.Random, Path], str], rng: random.Random, place: Path) -> str:
    try:
        return one(rng, place)
    except Exception as error:  # any exception is a loss
        return f"{type(error).__name__}: {error}"
