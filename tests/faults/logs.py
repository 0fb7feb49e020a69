"""Imports damaged exports and restores damaged backups."""

from __future__ import annotations

import json
import math
import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from pathlib import Path
from random import Random
from typing import Any

from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.records.forms import FORMS
from benchtimer.records.record_lookup import record_of
from benchtimer.run import commands as c
from benchtimer.run.refusals import Refused
from benchtimer.store import log_transfer
from benchtimer.store.log import FILE_NAME, EventLog, StoreError
from benchtimer.store.seal import Broken
from tests.behind import lock_again, seal_again
from tests.faults.mutate import changed_bytes, changed_table, nasty_value
from tests.faults.shown import trouble
from tests.faults.tally import Tally, attempt
from tests.faults.victim import NEW, NOON, clock_at, script
from tests.support import start

NASTY_SQL = (
    "DROP TABLE register", "DROP INDEX event_run", "CREATE TABLE more (x)", "DELETE FROM register",
    "PRAGMA user_version = 0", "PRAGMA user_version = 2", "PRAGMA user_version = 99",
    "PRAGMA user_version = -1", "PRAGMA application_id = 7",
    "UPDATE register SET value = 'splendid'", "UPDATE register SET value = '[]' WHERE key = 'log'",
    "UPDATE register SET value = char(27) || '[2J'", "DELETE FROM register WHERE key > 'run'",
    "CREATE TRIGGER gone AFTER INSERT ON event BEGIN SELECT RAISE(IGNORE); END",
    "CREATE TRIGGER more AFTER INSERT ON event BEGIN DELETE FROM register; END",
    "CREATE TRIGGER never BEFORE INSERT ON event BEGIN SELECT RAISE(IGNORE); END",
    "INSERT INTO event SELECT seq + 10000, run, kind, press, t_ms, noted_ms, by, body, boot,"
    " count_ms, wall_ms, offset_s, carried_ms, prev, digest FROM event LIMIT 5",
    "DELETE FROM event WHERE seq % 3 = 1", "UPDATE event SET seq = 9223372036854775807"
    " WHERE seq = (SELECT max(seq) FROM event)", "UPDATE event SET run = 'bath/x'",
    "UPDATE event SET run = '../../x'", "DELETE FROM event", "DROP TABLE event",
)  # fmt: skip

COLUMNS = ("run", "kind", "press", "t_ms", "noted_ms", "by", "body", "boot", "count_ms",
           "wall_ms", "offset_s", "carried_ms")  # fmt: skip


class Shop:
    """A log with one closed run and one under way, an export and a backup of it."""

    def __init__(self) -> None:
        self.home = Path(tempfile.mkdtemp(prefix="benchtimer-files-"))
        self.folder = self.home / "bench"
        self.clock = clock_at(NOON)
        with closing(drive(self.folder, self.clock)) as driver:
            over = self._run(driver, 1, 40)
            self.clock.advance(1000)
            driver.press(over, c.Abort("enough"))
            self._run(driver, 2, 15)
        with closing(EventLog(self.folder, read_only=True)) as log:
            self.lines = list(log_transfer.run_lines(log.entries(over)))
            self.entries = [entry for run in log.runs() for entry in log.entries(run.name)]
        self.backup = self.home / "backup"
        log_transfer.backup(self.folder, self.backup)
        self.whole = self.backup.read_bytes()

    def _run(self, driver: OpenBench, seed: int, presses: int) -> str:
        name = driver.set_up(NEW)
        for t_ms, command in script(driver.state(name), self.clock.wall_ms, seed, presses):
            if not isinstance(command, c.Abort):
                self.clock.advance(max(0, t_ms - self.clock.wall_ms))
                with suppress(Refused):  # without the abort some no longer fit
                    driver.press(name, command)
        return name

    def close(self) -> None:
        """Remove the folder."""
        shutil.rmtree(self.home)


def changed_lines(draw: Random, lines: list[str]) -> bytes:
    """An export with bytes, lines or values changed."""
    what = draw.random()
    if what < 0.2:
        return changed_bytes(draw, "\n".join(lines).encode())
    lines = list(lines)
    for _ in range(draw.choice((1, 1, 2, 5))):
        at = draw.randrange(len(lines))
        if what < 0.35:
            lines.insert(draw.randrange(len(lines)), lines.pop(at))
        elif what < 0.45 and len(lines) > 1:
            del lines[at]
        else:
            lines[at] = _changed_json(draw, lines[at])
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def _changed_json(draw: Random, line: str) -> str:
    try:
        table = json.loads(line)
    except ValueError:
        return line
    changed = changed_table(draw, table, 1) if isinstance(table, dict) else table
    return json.dumps(changed, ensure_ascii=draw.random() < 0.5)


def try_exports(tries: int, seed: int) -> Tally:
    """Import mutated exports into an empty bench."""
    draw, tally, shop = Random(seed), Tally(), Shop()
    file, folder = shop.home / "run.jsonl", shop.home / "other"
    try:
        for _ in range(tries):
            file.write_bytes(changed_lines(draw, shop.lines))
            attempt(tally, lambda: _import(file, folder), lambda: _kept(file, tally))
    finally:
        shop.close()
    return tally


def _import(file: Path, folder: Path) -> str:
    try:
        carried = log_transfer.read_run(file)
        with closing(EventLog(folder)) as log:
            name = log_transfer.carry_in(log, file, carried, NOON)
    except (log_transfer.NotCarried, StoreError) as error:
        return "" if len(str(error)) < 2000 else f"told at length: {str(error)[:200]!r}"
    try:
        return _looked_at(folder, name) if name is not None else "taken as there already"
    finally:
        shutil.rmtree(folder)


def _looked_at(folder: Path, name: str) -> str:
    """Check that a run shows in all forms, and that the bench opens."""
    with closing(EventLog(folder, read_only=True)) as log:
        record = record_of(log, name)
        for form in FORMS.values():
            wrong = trouble(form(record).replace("\r\n", "\n"))
            if wrong:
                return wrong
    drive(folder, ManualClock(NOON)).close()
    return ""


def changed_backup(draw: Random, whole: bytes, target: Path) -> None:
    """A backup with bytes, pages, rows or its layout changed."""
    what = draw.random()
    if what < 0.35:
        target.write_bytes(_changed_pages(draw, whole))
        return
    target.write_bytes(whole)
    with closing(sqlite3.connect(target, isolation_level=None)) as db:
        db.execute("DROP TRIGGER event_stays")
        db.execute("DROP TRIGGER event_is_kept")
        keep_open = draw.random() < 0.1
        # SQLite refuses some changes.
        with suppress(sqlite3.Error, OverflowError, UnicodeError):
            if what < 0.6:
                db.execute(draw.choice(NASTY_SQL))
            else:
                _change_row(draw, db)
        if draw.random() < 0.7:  # an attacker can recompute a checksum
            with suppress(sqlite3.Error, UnicodeError, Broken):
                seal_again(db)
        if not keep_open:
            lock_again(db)


def _changed_pages(draw: Random, whole: bytes) -> bytes:
    page = 4096
    pages = [whole[at : at + page] for at in range(0, len(whole), page)]
    what, at = draw.randrange(5), draw.randrange(len(pages))
    if what == 0:
        return changed_bytes(draw, whole)
    if what == 1:
        return whole[: draw.randrange(len(whole))]
    if what == 2:
        pages[at] = bytes(page)
    elif what == 3:
        other = draw.randrange(len(pages))
        pages[at], pages[other] = pages[other], pages[at]
    else:
        flipped = bytearray(pages[at])
        flipped[draw.randrange(len(flipped))] ^= 1 << draw.randrange(8)
        pages[at] = bytes(flipped)
    return b"".join(pages)


def _change_row(draw: Random, db: sqlite3.Connection) -> None:
    """Change one value of one entry, or something inside its body."""
    count = db.execute("SELECT count(*) FROM event").fetchone()[0]
    row = draw.choice((1, draw.randint(1, count), draw.randint(1, count)))
    column = draw.choice(("body", "body", *COLUMNS))
    old = db.execute(f"SELECT {column} FROM event WHERE seq = ?", (row,)).fetchone()[0]  # noqa: S608
    new: Any = nasty_value(draw, old)
    if column == "body" and draw.random() < 0.8:
        new = _changed_json(draw, old)
    if isinstance(new, float) and math.isnan(new):
        new = None
    db.execute(f"UPDATE event SET {column} = ? WHERE seq = ?", (new, row))  # noqa: S608


def try_backups(tries: int, seed: int) -> Tally:
    """Restore mutated backups over a log, and work at those accepted."""
    draw, tally, shop = Random(seed), Tally(), Shop()
    source = shop.home / "changed"
    try:
        for _ in range(tries):
            changed_backup(draw, shop.whole, source)
            attempt(tally, lambda: _restore(shop, source), lambda: _kept(source, tally))
    finally:
        shop.close()
    return tally


def _kept(source: Path, tally: Tally) -> str:
    """Keep a lost file for inspection; return its case."""
    kept = Path(tempfile.gettempdir()) / f"benchtimer-lost-{source.name}"
    shutil.copy(source, kept)
    return f"case {tally.tried}, kept in {kept}"


def _restore(shop: Shop, source: Path) -> str:
    try:
        log_transfer.restore(shop.folder, source)
    except (log_transfer.NotCarried, StoreError):
        with closing(EventLog(shop.folder, read_only=True)) as log:
            there = [entry for run in log.runs() for entry in log.entries(run.name)]
        return "" if there == shop.entries else "it was refused, and the log is not as it was"
    try:
        return _worked_at(shop)
    finally:
        shutil.rmtree(shop.folder)
        shop.folder.mkdir()
        (shop.folder / FILE_NAME).write_bytes(shop.whole)


def _worked_at(shop: Shop) -> str:
    """Check that the bench opens after the restore and keeps a new press."""
    with closing(drive(shop.folder, ManualClock(shop.clock.wall_ms + 1000))) as driver:
        for name in driver.names:
            driver.record(name)
            driver.press(name, c.Note("still here"))
        runs = driver.recent()
        names = driver.names
        new = driver.set_up(NEW)
        start(driver, new)
    with closing(EventLog(shop.folder, read_only=True)) as log:
        for name in names:
            if getattr(log.entries(name)[-1].event, "text", "") != "still here":
                return "a press at the restored bench was lost"
        if not log.entries(new):
            return "a run laid out at the restored bench was lost"
        for run in runs:
            wrong = trouble("".join(FORMS["text"](record_of(log, run.name))))
            if wrong:
                return wrong
    return ""
