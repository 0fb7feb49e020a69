"""A log to flip bits in, and every reader's output while it is sound."""

from __future__ import annotations

import io
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random
from unittest.mock import patch

from benchtimer.bath.bath_decide import MixBath, ReadBath
from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock, Tick
from benchtimer.run import commands as c
from benchtimer.run.events import Noted
from benchtimer.store.backups import make_backup
from benchtimer.store.errors import StoreError
from benchtimer.store.index import Query
from benchtimer.store.log import FILE_NAME, EventLog, LogEntry
from benchtimer.store.place import wal_of
from benchtimer.view.telling import Teller
from tests.faults.bench_work import NEW, NOON, Hands
from tests.support import READY

LARGE_TEXT = "The pattern stands well above the ground, even from heel to tip. " * 30
OFFERS = ("--complete", "zsh", "benchtimer", "--data", "PLACE")
"""The query of shell completion, which offers all names or none."""

LARGE_ENTRIES = 4_200
"""This number of notes of that length makes a log too large for the full check on opening."""

REFUSED = 3

Reply = tuple[int, str]
"""Exit code and output of a command."""


@dataclass
class Shop:
    """A log as written, and every reader's output.

    Attributes:
        place: the data folder.
        files: the log's files, by name.
        entries: every entry of it.
        runs: the names of its runs.
        states: the open runs, folded.
        clock: the time of the last entry.
        digests: the checksums of all entries.
        said: the output of each command.
        refused: the number of flips after which a command refused.
    """

    place: Path
    files: dict[str, bytes]
    entries: list[LogEntry]
    runs: list[str]
    states: dict[str, object]
    clock: ManualClock
    said: dict[tuple[str, ...], Reply] = field(default_factory=dict)
    refused: int = 0
    digests: list[int] = field(default_factory=list)

    def put(self, name: str, at: int, bit: int) -> None:
        """Restore the log with one bit flipped."""
        for path in self.place.iterdir():
            if path.name != "backups":
                shutil.rmtree(path) if path.is_dir() else path.unlink()
        for file, raw in self.files.items():
            (self.place / file).write_bytes(raw)
        with (self.place / name).open("rb+") as target:
            target.seek(at)
            target.write(bytes([self.files[name][at] ^ 1 << bit]))


def _work(place: Path, runs: int, seed: int, *, large: bool) -> ManualClock:
    """Baths, closed runs with verdicts, two open runs; in a large log one very long run."""
    clock, rng = ManualClock(NOON, boot="b"), Random(seed)
    with closing(drive(place, clock)) as driver:
        driver.writer._backups._wanted = False
        for bath in ("tank 1", "tank 2"):
            driver.write_bath(bath, MixBath("Etchant", "etchant", "etch-darken", "2 L"))
            driver.write_bath(bath, ReadBath("62 C"))
        for number in range(runs):
            hands = Hands(driver, clock, rng)
            name = driver.set_up(NEW)
            hands.told[name] = []
            for command in READY:
                hands.press(name, command)
            hands.work(12, [name])
            hands.press(name, c.Note(f"slot {number} rinsed twice"))
            if number < runs - 2:
                hands.press(name, c.Abort("done for today"))
                hands.press(name, c.Judge("bolster", ("accepted", "rework")[number % 2]))
            clock.advance(3_600_000)
        open_run = driver.names[-1]
    if large:
        _write_much(place, open_run)
    return clock


def _write_much(place: Path, name: str) -> None:
    """Write notes to an older closed run, one after another, until the log is large."""
    with closing(EventLog(place)) as log:
        old = log.runs()[-1].name
        stamp = log.entries(name)[-1].stamp
        notes = [
            Noted(press=0, t_ms=stamp.noted_ms, by="x", part=None, text=f"{n} {LARGE_TEXT}")
            for n in range(LARGE_ENTRIES)
        ]
        log.append(old, notes, stamp)
        for n in range(40):
            log.append(name, [replace(notes[n], text=f"late {n}")], stamp)


@contextmanager
def a_shop(seed: int, *, runs: int = 7, large: bool = False, live: bool = False) -> Iterator[Shop]:
    """A shop with a log to damage; with ``live``, its newest presses are still outside the file."""
    home = Path(tempfile.mkdtemp(prefix="benchtimer-flips-"))
    place = home / "bench"
    try:
        clock = _work(place, runs, seed, large=large)
        make_backup(place)
        names = [FILE_NAME]
        if live:
            with closing(drive(place, clock)) as driver:
                for number in range(6):
                    driver.press(driver.names[-1], c.Note(f"late note {number}"))
                names += [wal_of(place / FILE_NAME).name]
                files = {name: (place / name).read_bytes() for name in names}
        else:
            files = {name: (place / name).read_bytes() for name in names}
        shop = Shop(place, files, [], [], {}, clock)
        shop.put(FILE_NAME, 0, 0)
        (place / FILE_NAME).write_bytes(files[FILE_NAME])
        with closing(EventLog(place, read_only=True)) as log:
            shop.entries = log.entries_after(0)
            shop.digests = [row[0] for row in log._rows("SELECT digest FROM event ORDER BY seq")]
            shop.runs = [line.name for line in log.runs()]
        with frozen(clock):
            shop.said = {words: said(shop, words) for words in _commands(shop, large=large)}
            shop.said |= {(name,): look(shop) for name, look in LOOKS.items()}
        wrong = [words for words, (code, _) in shop.said.items() if code not in (0, 1)]
        assert not wrong, (wrong, shop.said[wrong[0]])
        shop.states = dict(opened_bench(shop, clock))
        yield shop
    finally:
        shutil.rmtree(home)


@contextmanager
def frozen(clock: ManualClock) -> Iterator[None]:
    """Make the commands read the time from a stopped clock."""
    tick: Tick = clock.read()
    with patch("benchtimer.clock.SystemClock.read", lambda _self: tick):
        yield


def _commands(shop: Shop, *, large: bool) -> list[tuple[str, ...]]:
    """Every command that reads the log; for a large log, without the slow ones."""
    first, second, third = shop.runs[-1], shop.runs[-2], shop.runs[0]
    short = [
        ("record",), ("record", "--json"), ("record", "last"),
        ("record", second, "--as", "json"), ("record", third, "--as", "csv"),
        ("record", "--part", "bolster"), ("record", "--words", "rinsed"),
        ("record", "--words", "slot", "--verdict", "rework"),
        ("record", "--recipe", "small", "--limit", "2"),
        ("record", "--date", "2026", "--json"), ("record", "--part", "bols*", "--limit", "3"),
        ("record", "--words", "nothing of the kind"), ("bath",), ("bath", "show", "tank 1"),
        ("bath", "--json"), ("prepare", "etch-darken"), ("compare", second, third),
        ("keep", second, "--show"),
        (*OFFERS, "record", ""), (*OFFERS, "record", "--part", ""), (*OFFERS, "bath", "show", ""),
    ]  # fmt: skip
    if large:
        return short
    return [
        *short, ("record", first), ("record", "--outcome", "failed"), ("part", "bolster"),
        ("part", "ferrule", "--json"), ("causes", "small"), ("export", "all", "out"),
    ]  # fmt: skip


def said(shop: Shop, words: tuple[str, ...]) -> Reply:
    """The output of a command; for an export, the contents of its files."""
    out, err = io.StringIO(), io.StringIO()
    folder = shop.place / "out"
    named = {"out": str(folder), "PLACE": str(shop.place)}
    line = [named.get(word, word) for word in words]
    at = [] if words[0] == "--complete" else ["--data", str(shop.place)]
    with redirect_stdout(out), redirect_stderr(err):
        code = main([*at, *line])
    found = err.getvalue()
    if code >= REFUSED and (len(found) < 40 or ("damaged" in found and "restore" not in found)):
        return code, f"refused without a way back: {found!r}"
    if words[0] != "export":
        return code, out.getvalue()
    files = sorted(folder.iterdir()) if folder.exists() else []
    found = "\0".join(f"{path.name}\n{path.read_text('utf-8')}" for path in files)
    shutil.rmtree(folder, ignore_errors=True)
    return code, found


def _look_on(shop: Shop) -> Reply:
    """The first output of ``watch --plain``, and the rest a watcher sees."""
    try:
        with closing(look_on(shop.place, shop_clock())) as watcher:
            lines = [*Teller(watcher).lines()]
            lines += [repr(watcher.state(name)) for name in watcher.names]
            lines += [repr(watcher.recent(100)), repr(watcher.verdicts(shop.runs))]
            lines += [repr(watcher.find(Query(part="bolster")))]
            lines += [repr(watcher.record(name)) for name in watcher.names]
    except StoreError as error:
        return REFUSED, str(error)
    return 0, "\n".join(lines)


def shop_clock() -> ManualClock:
    """A clock a week later, for readers."""
    return ManualClock(NOON + 7 * 86_400_000, boot="b")


LOOKS: dict[str, Callable[[Shop], Reply]] = {"look on": _look_on}


def opened_bench(shop: Shop, clock: ManualClock) -> Iterator[tuple[str, object]]:
    """The open runs in a driver."""
    with closing(drive(shop.place, ManualClock(clock.wall_ms, boot="b"))) as driver:
        driver.writer._backups._wanted = False
        for name in driver.names:
            state = driver.state(name)
            yield name, (state.bench, state.past, state.future)
