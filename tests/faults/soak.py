"""Two weeks at the bench in fast time: one driver, one watcher, one run with twelve parts."""

from __future__ import annotations

import gc
import shutil
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase, RunState
from benchtimer.store.log import EventLog, LogEntry, Stamp
from benchtimer.view.board_text import make_board
from benchtimer.view.desk import Desk
from benchtimer.view.space import Size
from tests.faults.row import Row
from tests.faults.tally import Tally
from tests.support import GEARED, small_recipe, table

NAMES = [f"part {number}" for number in range(1, 13)]
START_MS = 1_770_000_000_000
DAY_MS = 86_400_000
DAYS = 14
SIZE = Size(80, 24)

LEAK_KB = 600
"""Limit for the growth of Python's memory from the third day to the end."""

SLOWER = 2.0
"""Limit for the replay time per entry of the whole log over that of its start."""


def _long_recipe() -> dict[str, object]:
    """The small recipe with a rack for all parts."""
    recipe = table(small_recipe())
    recipe["station"] = [{**x, "holds": 12} if x["id"] == "rack" else x for x in recipe["station"]]
    return recipe


@dataclass(slots=True)
class Fortnight:
    """A maker who repeats all parts again and again, with a slip now and then."""

    folder: Path
    seed: int
    clock: ManualClock = field(default_factory=lambda: ManualClock(START_MS))
    draw: Random = field(init=False)
    driver: OpenBench = field(init=False)
    watcher: OpenBench = field(init=False)
    name: str = field(init=False)
    presses: int = 0

    def __post_init__(self) -> None:
        self.draw = Random(self.seed)
        self.driver = drive(self.folder, self.clock)
        parts = [(name, "small") for name in NAMES]
        self.name = self.driver.set_up(NewRun("A fortnight", {"small": _long_recipe()}, parts))
        self.watcher = look_on(self.folder, self.clock)
        for command in GEARED:
            self._press(command)

    def close(self) -> None:
        """Close the bench."""
        self.watcher.close()
        self.driver.close()

    @property
    def state(self) -> RunState:
        """The run in the driver."""
        return self.driver.state(self.name)

    def work_until(self, end_ms: int, after_press: Callable[[Fortnight], None]) -> None:
        """Work until a moment, with a check after every press."""
        while self.clock.wall_ms < end_ms:
            before = self.presses
            self.clock.advance(1000 * self.draw.choice((5, 20, 60, 240)))
            self._slip_or_work()
            if self.presses > before:
                after_press(self)

    def _slip_or_work(self) -> None:
        chance = self.draw.random()
        if chance < 0.06:
            corrections = (c.Undo(), c.Redo(), c.BackDate(1000), c.Note("as it should be"))
            self._press(self.draw.choice(corrections))
        elif chance < 0.07:  # the clock is set, or the machine sleeps
            self.clock.set_wall(self.clock.wall_ms + self.draw.choice((-3000, 3000, 5000)))
        else:
            self._go_on()

    def _go_on(self) -> None:
        """The next press; a part at its last step returns to the first, so work never ends."""
        stamp = self.driver.stamp()
        for action in agenda(self.state.bench, stamp.noted_ms):
            if action.kind is ActionKind.READING and action.to_station:
                self._press(c.Read(action.to_station, "65 C"))
                return
            if action.part is None or action.blocked or action.due_ms > stamp.noted_ms:
                continue
            self._press(
                self._next_for(action.part, action.check.id if action.check else "", action.command)
            )
            return

    def _next_for(self, name: str, check: str, command: c.Command | None) -> c.Command:
        part = self.state.bench.parts[name]
        step = self.state.bench.step_of(part).id
        if step == "judge" and part.phase is PartPhase.IN_HAND:
            return c.SendBack(name, "prepare", "again")
        if part.held is not None:
            return c.Resume(name)
        if check:
            return c.Answer(name, check, {"heat": "25 C"}.get(check, self.draw.random() < 0.8))
        return command if command is not None else c.Note("nothing to do", name)

    def _press(self, command: c.Command) -> None:
        try:
            self.driver.press(self.name, command)
            self.presses += 1
        except Refused:
            return


def lines_of(bench: OpenBench | OpenBench, name: str, stamp: Stamp) -> tuple[object, ...]:
    """The board of a run as a process shows it."""
    moment = bench.moment(stamp)
    look = replace(Desk(bench, name).look(moment.first, moment), read_only=False)
    board = make_board(moment, moment.first, SIZE, look)
    return (board.header, board.next_lines, board.then_line, board.scene, board.undo_line)


def drift(shop: Fortnight) -> str:
    """Where log, driver, watcher and their boards differ."""
    shop.watcher.refresh()
    with closing(EventLog(shop.folder, read_only=True)) as log:
        on_disk = fold(entry.event for entry in log.entries(shop.name))
    if on_disk != shop.state:
        return "the state in memory is not that of the log"
    if shop.watcher.state(shop.name) != shop.state:
        return "the watcher has another state"
    found = [lines_of(x, shop.name, x.stamp()) for x in (shop.driver, shop.watcher)]
    return "" if found[0] == found[1] else "the watcher's board is another one"


def replay_ratio(entries: Sequence[LogEntry]) -> float:
    """The time to replay an entry of the whole log, over that of its first tenth."""
    tenth = max(1, len(entries) // 10)
    return _replay_s(entries) / len(entries) / (_replay_s(entries[:tenth]) / tenth)


def _replay_s(entries: Sequence[LogEntry]) -> float:
    best = float("inf")
    for _ in range(3):
        begun = time.process_time()
        fold(entry.event for entry in entries)
        best = min(best, time.process_time() - begun)
    return best


def _traced_kb() -> float:
    gc.collect()
    return tracemalloc.get_traced_memory()[0] / 1024


def soak(tally: Tally, days: int, seed: int) -> tuple[float, float, int]:
    """``days`` days: memory growth in KB, the replay ratio, and the number of entries."""
    folder = Path(tempfile.mkdtemp(prefix="benchtimer-soak-"))
    shop = Fortnight(folder, seed)

    def look(at: Fortnight) -> None:
        at.watcher.refresh()
        if at.watcher.state(at.name) != at.state:
            tally.wrong(f"after press {at.presses} the watcher has another state")

    tracemalloc.start()
    settled_kb = 0.0
    try:
        for day in range(1, days + 1):
            shop.work_until(START_MS + day * DAY_MS, look)
            wrong = drift(shop)
            if wrong:
                tally.wrong(f"day {day}: {wrong}")
            if day == max(1, days // 5):
                settled_kb = _traced_kb()
        grown_kb = _traced_kb() - settled_kb
        tracemalloc.stop()
        with closing(EventLog(folder, read_only=True)) as log:
            entries = log.entries(shop.name)
        ratio = replay_ratio(entries)
    finally:
        tracemalloc.stop()
        shop.close()
        shutil.rmtree(folder)
    tally.tried += len(entries)
    return grown_kb, ratio, len(entries)


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` two-week runs."""
    tally, found = Tally(), []
    for number in range(tries):
        grown_kb, ratio, count = soak(tally, DAYS, seed + number)
        found.append(f"{grown_kb:+.0f} KB, {ratio:.2f} times")
        if grown_kb > LEAK_KB:
            tally.wrong(f"memory grew by {grown_kb:.0f} KB over {count} entries")
        if ratio > SLOWER:
            tally.wrong(f"an entry of the whole log takes {ratio:.1f} times as long to replay")
    return [
        tally.row(
            f"entries written in {tries} simulated fortnight{'s' if tries > 1 else ''} with "
            f"{len(NAMES)} parts and a watcher beside",
            "log, driver, watcher and both boards tell the same; Python's memory from the third "
            f"day on, and replay of an entry at the end over one at the start: {'; '.join(found)}",
        )
    ]
