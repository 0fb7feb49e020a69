"""Flips one bit of a log and runs everything that reads it: each must be true or refuse.

Each command that reads the log runs on the damaged one. It must print the same as on the sound
one, or exit 3 with a message. Then the bench opens. If anything was refused, there must be a way
back without loss. Bits are flipped anywhere, and more often where one bit hides many entries: in
interior pages and in the cell pointers of pages.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from random import Random
from unittest.mock import patch

from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.store import check
from benchtimer.store.backups import way_back
from benchtimer.store.errors import StoreError
from benchtimer.store.log import FILE_NAME, EventLog
from benchtimer.store.log_transfer import NotCarried, backup, restore
from benchtimer.store.place import wal_of
from tests.faults.bench_work import NEW
from tests.faults.flip_shop import (
    LOOKS,
    REFUSED,
    Reply,
    Shop,
    a_shop,
    frozen,
    opened_bench,
    said,
)
from tests.faults.row import Row
from tests.faults.tally import Tally, attempt

PAGE = 4096


def loss(shop: Shop, name: str, at: int, bit: int) -> str:
    """Flip a bit, read everything, open the bench, recover; return any loss or false output."""
    shop.put(name, at, bit)
    refused = False
    with frozen(shop.clock):
        for words, truth in shop.said.items():
            found = LOOKS[words[0]](shop) if words[0] in LOOKS else said(shop, words)
            wrong = _wrong(words[0], found, truth)
            if wrong:
                return f"{' '.join(words)}: {wrong}"
            refused = refused or found[0] == REFUSED
    shop.refused += refused
    return _worked_at(shop, shop.clock, refused=refused)


def _wrong(word: str, found: Reply, truth: Reply) -> str:
    """Any output of a command that is neither true nor a refusal."""
    if found == truth or (word == "--complete" and not found[1]):
        return ""
    if found[0] != REFUSED:
        return f"exit code {found[0]}, {_differs(found[1], truth[1])}"
    if word == "export":  # files written before the refusal
        return "" if {*found[1].split("\0")} <= {"", *truth[1].split("\0")} else "a file is wrong"
    return found[1] if found[1].startswith("refused without") else ""


def _differs(found: str, truth: str) -> str:
    same = next((i for i, (a, b) in enumerate(zip(found, truth, strict=False)) if a != b), -1)
    return f"{found[max(0, same - 40) : same + 80]!r} for {truth[max(0, same - 40) : same + 80]!r}"


def _worked_at(shop: Shop, clock: ManualClock, *, refused: bool) -> str:
    """Open the bench; after any refusal, follow the recovery it names."""
    before = {path.name: path.read_bytes() for path in shop.place.glob(f"{FILE_NAME}*")}
    try:
        states = dict(opened_bench(shop, clock))
    except StoreError as error:
        if (shop.place / FILE_NAME).read_bytes() != before[FILE_NAME]:
            return f"the damaged file was changed: {error}"
        return _gone_back(shop)
    if _was_told(shop):
        return ""
    if states != shop.states:
        return "the bench shows other runs"
    try:
        refused = not _press(shop, clock) or refused
    except StoreError:
        refused = True
    return _gone_back(shop) if refused else _as_copied(shop)


def _press(shop: Shop, clock: ManualClock) -> bool:
    """Work at the opened bench until the file grows; return whether all of it is saved."""
    with closing(drive(shop.place, ManualClock(clock.wall_ms, boot="b"))) as driver:
        driver.writer._backups._wanted = False
        names = [*driver.names, driver.set_up(NEW)]
        for name in names:
            driver.press(name, c.Note("one more"))
        return not driver.unsaved_entries


def _as_copied(shop: Shop) -> str:
    """A backup of a log in which no reader found a fault is true or refused."""
    copy = shop.place / "copy"
    try:
        backup(shop.place, copy)
    except (NotCarried, StoreError):
        return _gone_back(shop)
    with closing(sqlite3.connect(copy)) as db:
        digests = [row[0] for row in db.execute("SELECT digest FROM event ORDER BY seq")]
    same = digests[: len(shop.digests)] == shop.digests
    return "" if same else "a backup has other entries"


def _gone_back(shop: Shop) -> str:
    """Follow the recovery that the message names; no entry may be missing afterward."""
    way_back_text = way_back(shop.place)
    if " restore " not in way_back_text:
        return f"no way back is told: {way_back_text}"
    try:
        restore(shop.place, Path(way_back_text.split(" restore ")[1].strip()))
    except (NotCarried, StoreError) as error:
        return f"the way back does not work: {error}"
    with closing(EventLog(shop.place)) as log:
        there = log.entries_after(0)
    if there[: len(shop.entries)] != shop.entries:
        return "entries are missing after the way back"
    return ""


def _was_told(shop: Shop) -> bool:
    """Whether the files were kept because the latest presses could not be read."""
    return any(shop.place.glob("bench-found-*"))


def places(draw: Random, raw: bytes) -> Iterator[tuple[int, int]]:
    """Bits of a file to flip, without end."""
    kinds: dict[int, list[int]] = {}
    for number in range(len(raw) // PAGE):
        start = number * PAGE
        kinds.setdefault(raw[start + (100 if number == 0 else 0)], []).append(start)
    trees = [pages for kind, pages in kinds.items() if kind in (2, 5, 10, 13)]
    while True:
        what = draw.random()
        if what < 0.4:
            yield draw.randrange(len(raw)), draw.randrange(8)
        elif what < 0.5:
            yield draw.randrange(100), draw.randrange(8)
        else:
            start = draw.choice(draw.choice(trees))
            room = PAGE if what < 0.75 else 40  # the page's header and cell pointers
            yield start + draw.randrange(room), draw.randrange(8)


def try_flips(shop: Shop, tries: int, seed: int, name: str = FILE_NAME) -> Tally:
    """``tries`` flips in one file of a log, one at a time."""
    draw, tally = Random(seed), Tally()
    where = places(draw, shop.files[FILE_NAME])
    for _ in range(tries):
        at, bit = next(where)
        if name != FILE_NAME:
            at = draw.randrange(len(shop.files[name]))
        attempt(
            tally, lambda at=at, bit=bit: loss(shop, name, at, bit),  # type: ignore[misc]
            lambda at=at, bit=bit: f"bit {bit} of byte {at} of {name}", many=1000,  # type: ignore[misc]
        )  # fmt: skip
    return tally


KEPT = "every command and the board true, or refused with a way back that lost nothing"


@dataclass(frozen=True)
class Kind:
    """One kind of log to flip bits in.

    Attributes:
        fault: the row's text in the table.
        share: of all tries.
        runs: the number of runs.
        large: whether it has more than 8 MB.
        live: whether a killed program left its newest presses beside the file.
        small_bytes: up to this size, opening checks the whole log.
    """

    fault: str
    share: int
    runs: int = 7
    large: bool = False
    live: bool = False
    small_bytes: int = check.SMALL_BYTES


KINDS = (
    Kind("a bit flipped in a small log, which is looked through on opening", 8),
    Kind("a bit flipped in a log of which opening reads the newest part and the open runs", 8,
         runs=12, small_bytes=0),
    Kind("a bit flipped in a log of more than 8 MB", 3, large=True),
    Kind("a bit flipped in the newest part of a log that a killed program left", 1, live=True),
)  # fmt: skip


def try_kind(kind: Kind, tries: int, seed: int) -> Row:
    """``tries`` flips in a log of one kind."""
    with (
        patch.object(check, "SMALL_BYTES", kind.small_bytes),
        a_shop(seed, runs=kind.runs, large=kind.large, live=kind.live) as shop,
    ):
        assert not kind.large or len(shop.files[FILE_NAME]) > check.SMALL_BYTES
        name = wal_of(shop.place / FILE_NAME).name if kind.live else FILE_NAME
        tally = try_flips(shop, tries, seed, name)
        return tally.row(f"{kind.fault} (refused {shop.refused:,} times)", KEPT)


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` flips in logs of all kinds."""
    shares = sum(kind.share for kind in KINDS)
    return [
        try_kind(kind, max(1, tries * kind.share // shares), seed + number)
        for number, kind in enumerate(KINDS)
    ]
