"""Power cuts and bad disks: cuts files, drops pages, changes bytes, and opens the bench again.

A log is made once, with a copy of its files after every press. Each try damages one copy and
opens the bench. The bench must show the state after some press, no earlier than the last one
safely written. Otherwise it must report the damage, change nothing, and recover from the newest
backup with the damaged file kept.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.store import check
from benchtimer.store.backups import newest_good, way_back
from benchtimer.store.errors import Damaged, StoreError
from benchtimer.store.log import FILE_NAME, EventLog, LogEntry
from benchtimer.store.log_transfer import restore
from benchtimer.store.log_validity import mendable
from tests.faults.bench_work import NOON, Hands, by_hand, dies, folder, mixed, on_disk
from tests.faults.row import Row

WAL_NAME = f"{FILE_NAME}-wal"
SECTOR = 512
PRESSES = 40
HEADER = 100
"""Bytes of the header of an SQLite file."""


@dataclass
class Past:
    """A log as it was on the disk after each press.

    Attributes:
        files: file and write-ahead log after each press.
        entries: the number of entries after each press.
        truth: all entries.
        saved: the folder of backups.
    """

    files: list[tuple[bytes, bytes]]
    entries: list[int]
    truth: list[LogEntry]
    saved: Path


def _a_past(place: Path, rng: random.Random) -> Past:
    clock = ManualClock(NOON, boot="b")
    driver = drive(place, clock)
    mixed(driver)
    hands = Hands(driver, clock, rng)
    name = hands.set_up()
    hands.work(PRESSES // 2, [name])
    driver.close()
    driver = drive(place, clock)  # which makes a backup
    driver.writer._backups.end()
    hands.driver = driver
    other = hands.set_up()
    past = Past([], [], [], place / "backups")
    for _ in range(PRESSES):
        hands.work(1, [name, other])
        past.files.append(((place / FILE_NAME).read_bytes(), (place / WAL_NAME).read_bytes()))
        past.entries.append(driver._log.last_seq())
    past.truth = on_disk(place)
    dies(driver)
    return past


@dataclass
class Fault:
    """The files left on the disk, and how much of them must be found again.

    Attributes:
        file: the file; None if it is gone.
        wal: the write-ahead log.
        least: entries safely written.
        most: entries ever begun.
        traces: whether the remains show a loss.
        sound: nothing is missing, so a refusal is a fault.
    """

    file: bytes | None
    wal: bytes
    least: int
    most: int
    traces: bool = False
    sound: bool = False


def _cut_off(past: Past, rng: random.Random) -> Fault:
    """The last presses never reached the disk."""
    file, wal = past.files[-1]
    at = rng.randrange(len(wal) + 1)
    least = _safe(past, at)
    return Fault(file, wal[:at], least, past.entries[-1], sound=True)


def _safe(past: Past, upto: int) -> int:
    """Entries safe in the file and the first ``upto`` bytes of the write-ahead log."""
    file = past.files[-1][0]
    whole = [n for (f, w), n in zip(past.files, past.entries, strict=True)
             if len(w) <= upto and f == file]  # fmt: skip
    before = [n for (f, _), n in zip(past.files, past.entries, strict=True) if f != file]
    return max([*whole, *before, 0])


def _torn(past: Past, rng: random.Random) -> Fault:
    """Power failed in the middle of a press: only pieces of its write are there."""
    while True:
        at = rng.randrange(len(past.files) - 1)
        (file, wal), (_, after) = past.files[at], past.files[at + 1]
        if len(after) > len(wal):
            break
    pieces = bytearray(after)
    for start in range(len(wal), len(after), SECTOR):
        if rng.random() < 0.4:
            size = len(pieces[start : start + SECTOR])
            pieces[start : start + SECTOR] = rng.choice((bytes(size), rng.randbytes(size)))
    return Fault(file, bytes(pieces), past.entries[at], past.entries[at + 1], sound=True)


def _moving_pages(past: Past, rng: random.Random) -> Fault:
    """Power failed while presses moved from the write-ahead log into the file."""
    file, wal = past.files[-1]
    page = int.from_bytes(wal[8:12])
    pages = bytearray(file)
    for at in range(32, len(wal) - page - 23, page + 24):
        number = int.from_bytes(wal[at : at + 4])
        if rng.random() < 0.5:
            end = number * page
            pages.extend(bytes(max(0, end - len(pages))))
            pages[end - page : end] = wal[at + 24 : at + 24 + page]
    return Fault(bytes(pages), wal, past.entries[-1], past.entries[-1], sound=True)


def _bad_wal(past: Past, rng: random.Random) -> Fault:
    """Damage in the safely written part of the write-ahead log."""
    file, wal = past.files[-1]
    spoilt = _spoilt(wal, rng)
    return Fault(file, spoilt, 0, past.entries[-1], traces=_has_traces(wal, spoilt))


def _has_traces(wal: bytes, spoilt: bytes) -> bool:
    """Whether a press still ends after the first damage.

    Otherwise the remains equal those of a power cut in the middle of the last press, and don't
    show that it was once whole. A frame that ends a press has the size of the file in bytes 4
    to 8 of its header (SQLite, "The WAL file format").
    """
    first = next((i for i, (a, b) in enumerate(zip(wal, spoilt, strict=True)) if a != b), len(wal))
    page = int.from_bytes(wal[8:12])
    return any(
        any(wal[at + 4 : at + 8]) and spoilt[at : at + 24] == wal[at : at + 24]
        for at in range(32, len(wal), page + 24)
        if at > first
    )


def _bad_heading(past: Past, rng: random.Random) -> Fault:
    """The header of the file is damaged."""
    file, wal = past.files[-1]
    spoilt = bytearray(file)
    for _ in range(rng.randrange(1, 9)):
        spoilt[rng.randrange(HEADER)] = rng.randrange(256)
    return Fault(bytes(spoilt), rng.choice((wal, b"")), 0, past.entries[-1])


def _bad_file(past: Past, rng: random.Random) -> Fault:
    """Changed bytes in the file, an empty or foreign page, or a missing end."""
    file, wal = past.files[-1]
    page = 4096
    where = rng.randrange(0, len(file), page)
    kind = rng.randrange(5)
    if kind == 0:
        spoilt = file[: rng.randrange(len(file))]
    elif kind == 1:
        spoilt = file[:where] + bytes(page) + file[where + page :]
    elif kind == 2:
        other = rng.randrange(0, len(file), page)
        spoilt = file[:where] + file[other : other + page] + file[where + page :]
    else:
        spoilt = _spoilt(file, rng)
    return Fault(spoilt, rng.choice((wal, b"")), 0, past.entries[-1])


def _no_file(past: Past, rng: random.Random) -> Fault:
    """The file is empty, missing, or something else."""
    wal = rng.choice((past.files[-1][1], b""))
    other = rng.randbytes(rng.randrange(1, 20_000))
    return Fault(rng.choice((None, b"", other)), wal, past.entries[-1], past.entries[-1])


def _spoilt(raw: bytes, rng: random.Random) -> bytes:
    spoilt = bytearray(raw)
    for _ in range(rng.randrange(1, 4)):
        at = rng.randrange(len(raw))
        size = min(rng.choice((1, 1, 8, SECTOR, 4096)), len(raw) - at)
        spoilt[at : at + size] = rng.choice((bytes(size), rng.randbytes(size)))
    return bytes(spoilt)


def _loss(past: Past, fault: Fault, place: Path) -> str:
    """The loss after one fault; empty without a loss."""
    shutil.copytree(past.saved, place / "backups")
    if fault.file is not None:
        (place / FILE_NAME).write_bytes(fault.file)
    (place / WAL_NAME).write_bytes(fault.wal)
    try:
        found = _opened(place)
    except Damaged as damage:
        if fault.sound:
            return f"refused although all of it is there: {damage}"
        return _way_back(past, fault, place, damage)
    except StoreError as error:
        wrong = _untouched(fault, place) if check.SMALL_BYTES else ""
        return f"{wrong}: {error}" if wrong else ""
    truth = past.truth[: len(found)]
    if by_hand(found) != by_hand(truth):
        return "it shows entries that are not those written"
    if not fault.least <= len(found) <= fault.most or len(found) not in _ends(past):
        return f"{len(found)} entries, of {fault.least} that were safe"
    if len(found) < fault.most and fault.traces:
        return _told_of_loss(fault, place)
    return ""


def _ends(past: Past) -> set[int]:
    """Entry numbers at which a press ended."""
    presses = {(x.run, x.event.press, x.stamp.noted_ms): x.seq for x in past.truth}
    return {0, *presses.values()}


def _opened(place: Path) -> list[LogEntry]:
    """The state of the bench when opened, without the entries of the opening itself."""
    clock = ManualClock(NOON + 10**9, boot="b")
    clock.count_ms = 10**9
    with closing(EventLog(place)) as log:
        before = log.last_seq()
        remarks = log.remarks
    with closing(drive(place, clock)) as driver:
        for name in [line.name for line in driver.recent(100)]:
            driver.record(name)
        driver.writer.baths.baths(clock.wall_ms)
        found = driver._log.entries_after(0)[:before]
        for name in driver.names:
            driver.notices.setdefault(name, []).extend(remarks)
    (place / "remarks").write_text("\n".join(remarks), encoding="utf-8")
    return found


def _untouched(fault: Fault, place: Path) -> str:
    left = (place / FILE_NAME).read_bytes() if (place / FILE_NAME).exists() else None
    return "" if left == fault.file else "the damaged file was changed"


def _way_back(past: Past, fault: Fault, place: Path, damage: Damaged) -> str:
    """A refusal must leave the file alone and name a backup whose restore works."""
    if check.SMALL_BYTES and (wrong := _untouched(fault, place)):
        return f"{wrong}: {damage.reason}"
    copy = newest_good(place)
    if copy is None or not damage.reason:
        return "no way back is told"
    whole = mendable(place / FILE_NAME)
    source = place / FILE_NAME if whole >= copy.seq else copy.path
    count = max(whole, copy.seq)
    if not way_back(place).endswith(f"restore {source}"):
        return "another way back is told"
    there = place / FILE_NAME
    there = there if there.exists() else place / WAL_NAME
    was = there.read_bytes() if there.exists() else None
    kept = restore(place, source)
    if was is not None and kept is None:
        return "the damaged file is not kept"
    if kept is not None and kept.name.startswith("bench-damaged") and kept.read_bytes() != was:
        return "the damaged file is not kept as it was"
    found = by_hand(on_disk(place))
    if found != by_hand(past.truth)[: len(found)] or len(on_disk(place)) != count:
        return "the backup put back is not what was written"
    return ""


def _told_of_loss(fault: Fault, place: Path) -> str:
    """A loss of safely written presses must be reported, and the files kept."""
    kept = [path.read_bytes() for path in place.glob("bench-found-*.sqlite3-wal")]
    if (place / "remarks").read_text(encoding="utf-8") and fault.wal in kept:
        return ""
    return "presses are gone and nothing is said"


KINDS: Sequence[tuple[str, Callable[[Past, random.Random], Fault], str, int]] = (
    ("the power went in the middle of a press: pieces of it on the disk", _torn,
     "every press before it there, the bench as it was", 4),
    ("the power went while presses were moved into the file", _moving_pages,
     "every press there", 3),
    ("the newest part of the log cut off at any byte", _cut_off,
     "every whole press before the cut there", 3),
    ("the newest part of the log damaged where it was safe", _bad_wal,
     "what is read is true; what can't be is said, files kept", 3),
    ("the heading of the file damaged", _bad_heading,
     "true, or refused, kept, and back from the backup", 2),
    ("bytes or pages of the file damaged, or its end missing", _bad_file,
     "true, or refused, kept, and back from the backup", 4),
    ("the file empty, gone, or replaced by rubbish", _no_file,
     "refused, kept, and back from the backup", 1),
)  # fmt: skip


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` damaged logs, opened again."""
    shares = sum(share for *_, share in KINDS)
    rows = []
    rng = random.Random(seed)
    with folder() as place:
        past = _a_past(place, rng)
        for fault, make, kept, share in KINDS:
            lost = [_one(past, make, rng) for _ in range(max(1, tries * share // shares))]
            wrong = [text for text in lost if text]
            rows.append(Row(fault, len(lost), len(wrong), kept, next(iter(wrong), "")))
    return rows


def _one(past: Past, make: Callable[[Past, random.Random], Fault], rng: random.Random) -> str:
    fault = make(past, rng)
    large = rng.random() < 0.5
    with folder() as place, patch.object(check, "SMALL_BYTES", 0 if large else check.SMALL_BYTES):
        try:
            return _loss(past, fault, place)
        except Exception as error:  # any exception is a loss
            return f"{type(error).__name__}: {error}"
