"""Kills processes at any moment and checks the log afterward."""

from __future__ import annotations

import shutil
import signal
import tempfile
import tomllib
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random

from benchtimer.atomic_file import WRITING
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.run import commands as c
from benchtimer.run.decide import Now, decide
from benchtimer.run.events import Event
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import OVER, RunState
from benchtimer.store import log_transfer
from benchtimer.store.log import FILE_NAME, EventLog
from tests.faults import screen_kills
from tests.faults.row import Row
from tests.faults.tally import Tally
from tests.faults.victim import NEW, NOON, clock_at, in_a_child, killed_at, script, work_on

LIVES = 12
"""Lives of one store before the next begins."""

OLD_MS = 3_600_000


class Store:
    """One log through many lives, and its expected contents."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="benchtimer-kills-"))
        self.t_ms = NOON
        with closing(drive(self.folder, clock_at(NOON))) as driver:
            self.name = driver.set_up(NEW)
            self.model = driver.state(self.name)

    def entries(self) -> list[Event]:
        """The entries on the disk, as a watcher finds them."""
        with closing(EventLog(self.folder, read_only=True)) as log:
            return [entry.event for entry in log.entries(self.name)]

    def check(self, presses: list[tuple[int, c.Command]], acknowledged: int) -> str:
        """The faults after a life; the model follows the disk."""
        events = self.entries()
        found = fold(events)
        taken = found.presses - self.model.presses
        if not acknowledged <= taken <= acknowledged + 1:
            return f"{acknowledged} presses acknowledged, {taken} in the log"
        wanted, written = self._by_the_model(presses[:taken])
        own = [event for event in events if event.press > self.model.presses]
        self.model = wanted
        if own != written:
            return "the entries are not those that were pressed"
        self.t_ms = max(self.t_ms, presses[taken - 1][0] if taken else 0)
        return self.differs(found) or self._reopen()

    def _by_the_model(self, presses: list[tuple[int, c.Command]]) -> tuple[RunState, list[Event]]:
        state, written = self.model, []
        for t_ms, command in presses:
            events = decide(state, command, Now(t_ms, "maker"))
            written += events
            state = fold(events, state)
        return state, written

    def differs(self, found: RunState) -> str:
        """Where a state differs from the model's."""
        result, wanted = ((s.bench, s.past, s.future, s.presses) for s in (found, self.model))
        return "" if result == wanted else "the state is not that of the same presses in memory"

    def _reopen(self) -> str:
        """Reopen an hour later: the same state, an hour more on every timer, the record kept."""
        self.t_ms += OLD_MS
        clock = clock_at(self.t_ms)
        with closing(drive(self.folder, clock)) as driver:
            wrong = self.differs(driver.state(self.name))
            if driver.stamp().noted_ms != self.t_ms:
                wrong = wrong or f"a timer is off by {driver.stamp().noted_ms - self.t_ms} ms"
            driver.look()
            return wrong or self._record(driver)

    def _record(self, driver: OpenBench) -> str:
        """The record file of a closed run is complete; any file is whole or absent."""
        folder = self.folder / "records"
        if list(folder.glob(f"{WRITING}*")):
            return "half a record is left"
        file = folder / f"{self.name}.toml"
        if not file.exists():
            return "a record is missing" if self.model.bench.phase in OVER else ""
        data = tomllib.loads(file.read_text(encoding="utf-8"))
        record = driver.record(self.name)
        if self.model.bench.phase in OVER and len(data["lines"]) != len(record.lines):
            return f"its record has {len(data['lines'])} lines of {len(record.lines)}"
        return ""


def kill_presses(
    tries: int, seed: int, work: Callable[..., Callable[[Callable[[str], None]], None]] = work_on
) -> Tally:
    """Kill a bench at work, again and again; ``work`` replaces its work in tests."""
    draw, tally = Random(seed), Tally()
    while tally.tried < tries and not tally.lost:
        store = Store()
        try:
            for _ in range(LIVES):
                presses = list(script(store.model, store.t_ms, draw.getrandbits(32), 5))
                wrong, killed = _one_life(store, presses, draw, work)
                tally.tried += killed
                if wrong:
                    tally.wrong(f"seed {seed}, kill {tally.tried}: {wrong}")
        finally:
            shutil.rmtree(store.folder)
    return tally


def _one_life(
    store: Store,
    presses: list[tuple[int, c.Command]],
    draw: Random,
    work: Callable[..., Callable[[Callable[[str], None]], None]],
) -> tuple[str, bool]:
    if draw.random() < 0.7:
        job = work(store.folder, store.name, presses, draw.randint(1, 400))
        words, ended = in_a_child(job)
    else:  # at any point of its work
        job = work(store.folder, store.name, presses, 0)
        words, ended = in_a_child(job, (draw.randrange(6), draw.random() * 0.004))
    if ended not in (0, -signal.SIGKILL):
        return f"it ended with {ended}", True
    return store.check(presses, words.count("press")), ended < 0


def kill_copies(tries: int, seed: int) -> Tally:
    """Kill backups and restores; the log must be whole, and so must any copy."""
    draw, tally = Random(seed), Tally()
    store = Store()
    try:
        older = store.folder / "older"
        log_transfer.backup(store.folder, older)
        whole = len(store.entries())
        clock = clock_at(NOON)
        with closing(drive(store.folder, clock)) as driver:
            for t_ms, command in script(store.model, NOON, seed, 30):
                clock.advance(t_ms - clock.wall_ms)
                driver.press(store.name, command)
        newer = len(store.entries())
        while tally.tried < tries and not tally.lost:
            tally.tried += _kill_backup(store, draw, tally, newer)
            tally.tried += _kill_restore(store, draw, tally, older, {whole, newer})
            newer = len(store.entries())
    finally:
        shutil.rmtree(store.folder)
    return tally


def _kill_backup(store: Store, draw: Random, tally: Tally, count: int) -> bool:
    target = store.folder / "copy"

    def work(acknowledge: Callable[[str], None]) -> None:
        with killed_at(draw.randint(1, 60)):
            log_transfer.backup(store.folder, target)
        acknowledge("done")

    words, ended = in_a_child(work)
    draw.random()
    if target.exists() and log_transfer.checked(target) != count:
        tally.wrong("a copy that is not whole has its name")
    log_transfer.backup(store.folder, store.folder / "next")
    (store.folder / "next").unlink()
    if list(store.folder.glob(f"{WRITING}*")):
        tally.wrong("a killed backup's half is still there after the next backup")
    if words and not target.exists():
        tally.wrong("a copy that was made is not there")
    if len(store.entries()) != count:
        tally.wrong("the log has lost entries to a backup")
    target.unlink(missing_ok=True)
    return ended < 0


def _kill_restore(store: Store, draw: Random, tally: Tally, older: Path, good: set[int]) -> bool:
    def work(_acknowledge: Callable[[str], None]) -> None:
        with killed_at(draw.randint(1, 120)):
            log_transfer.restore(store.folder, older)

    _, ended = in_a_child(work)
    draw.random()
    if len(store.entries()) not in good:
        tally.wrong("a restore that was killed left neither the old log nor the copy")
    if log_transfer.checked(store.folder / FILE_NAME) not in good:
        tally.wrong("a restore that was killed left a damaged log")
    return ended < 0


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` whole-program kills, twice as many inside a press, a fifth in copies."""
    inside, copies = kill_presses(2 * tries, seed), kill_copies(max(1, tries // 5), seed + 1)
    kept = "every press that was acknowledged, the same state as in memory, timers to the ms"
    return [
        screen_kills.kill_programs(tries, seed + 2).row(
            "the whole program killed at the keys of its screen (SIGKILL, SIGTERM, SIGHUP, "
            "terminal closed)",
            "every press whose effect had been on the screen, undo, timers, the screen itself",
        ),
        inside.row("killed between the steps of a press: before, inside and after the write, and "
                   "while the record's file is written", f"{kept}, the record"),
        copies.row("killed in the middle of a backup or a restore",
                   "the log is whole, old or restored; no half copy has a copy's name, "
                   "none is left after the next backup"),
    ]  # fmt: skip
