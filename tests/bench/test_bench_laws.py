"""Driver, watcher and log agree after any presses and disk failures."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.run.events import PROGRAM, Event, Reopened
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import OVER, RunState
from benchtimer.store.log import EventLog
from benchtimer.store.place import data_folder
from tests.store.histories import DISK
from tests.support import Hands, small_recipe, table
from tests.tui.benches import CHOICES, Choices, press

NOON = 1_770_000_000_000
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small"), ("pin", "small")])


@dataclass
class AtDriver(Hands):
    """Hands at a real bench, with its log on a disk and a clock that tests move."""

    clock: ManualClock = field(default_factory=lambda: ManualClock(NOON))
    driver: OpenBench = field(init=False)
    name: str = ""
    folder: Path = Path()

    def __post_init__(self) -> None:
        self.driver = drive(self.folder, self.clock)
        self.name = self.driver.set_up(NEW)
        self._look()

    def _look(self) -> None:
        self.state, self.now_ms = self.driver.state(self.name), self.driver.stamp().noted_ms

    def __call__(self, command: c.Command, after_ms: int = 1000) -> list[Event]:
        """Press at the bench; a refused press changes nothing."""
        self.clock.advance(after_ms)
        before = self.driver.state(self.name)
        try:
            events = list(self.driver.press(self.name, command))
        except Refused:
            # A write that waited for the disk may have been retried, which moves the time on.
            after = self.driver.state(self.name)
            assert replace(after, last_ms=before.last_ms) == before
            raise
        self._look()
        return events

    def deed(self, chosen: Choices) -> None:
        """Wait, then press."""
        self.clock.advance(chosen.wait_ms)
        self._look()
        press(self, chosen)

    def disk(self, *, works: bool) -> None:
        """Make writing fail or work again."""
        self.driver._log._db.execute(f"PRAGMA query_only = {'OFF' if works else 'ON'}")


@contextmanager
def _bench() -> Iterator[AtDriver]:
    with TemporaryDirectory() as place:
        hands = AtDriver(folder=Path(place) / "bench")
        try:
            yield hands
        finally:
            hands.driver.close()


def _on_disk(hands: AtDriver) -> list[Event]:
    log = EventLog(hands.folder, read_only=True)
    try:
        return [entry.event for entry in log.entries(hands.name)]
    finally:
        log.close()


DEEDS = st.lists(CHOICES, max_size=15)


@given(DEEDS, st.lists(st.booleans(), max_size=15))
@DISK
def test_a_watcher_sees_what_the_driver_sees(deeds: list[Choices], looks: list[bool]) -> None:
    """However often a watcher looks, it ends with the driver's runs, states and time."""
    with _bench() as hands:
        watcher = look_on(hands.folder, hands.clock)
        for deed, look in zip(deeds, [*looks, *[False] * len(deeds)], strict=False):
            hands.deed(deed)
            if look:
                watcher.refresh()
                assert watcher.state(hands.name) == hands.state
        watcher.refresh()
        assert watcher.refresh() == []
        assert watcher.names == hands.driver.names
        assert watcher.state(hands.name) == hands.state
        assert watcher.stamp().noted_ms == hands.driver.stamp().noted_ms
        assert watcher.record(hands.name) == hands.driver.record(hands.name)
        assert agenda(watcher.state(hands.name).bench, 0) == agenda(hands.state.bench, 0)
        watcher.close()


@given(DEEDS, st.integers(0, 10**7))
@DISK
def test_a_bench_opened_again_is_as_it_was_left(deeds: list[Choices], away_ms: int) -> None:
    """A reopened run has its bench and its undo, and time has passed."""
    with _bench() as hands:
        for deed in deeds:
            hands.deed(deed)
        before, then = hands.state, hands.driver.stamp().noted_ms
        hands.driver.close()
        hands.clock.advance(away_ms)
        hands.driver = drive(hands.folder, hands.clock)
        assert hands.driver.stamp().noted_ms == then + away_ms
        if before.bench.phase in OVER:
            assert hands.driver.names == []
            return
        again = hands.driver.state(hands.name)
        assert (again.bench, again.past, again.future) == (before.bench, before.past, before.future)
        found = [event for event in _on_disk(hands) if isinstance(event, Reopened)]
        assert len(found) <= 1
        assert all(event.by == PROGRAM for event in found)


@given(st.lists(st.one_of(st.booleans(), CHOICES), max_size=20))
@DISK
def test_a_flaky_disk_loses_and_duplicates_nothing(
    deeds: list[Choices | bool],
) -> None:
    """After any disk failures every press is on the disk once, in order."""
    with _bench() as hands:
        pressed: list[RunState] = []
        for deed in deeds:
            if isinstance(deed, bool):
                hands.disk(works=deed)
            else:
                hands.deed(deed)
                pressed.append(hands.state)
        hands.disk(works=True)
        hands.driver.writer.notice_clock()
        assert hands.driver.unsaved_entries == 0
        assert hands.driver.unsaved == ""
        watcher = look_on(hands.folder, hands.clock)
        assert watcher.state(hands.name) == hands.driver.state(hands.name)
        assert watcher.state(hands.name).bench == hands.state.bench
        watcher.close()
        numbers = [event.press for event in _on_disk(hands) if event.press]
        assert numbers == sorted(numbers)
        assert len({*numbers}) == hands.state.presses


@given(DEEDS)
@DISK
def test_unsaved_presses_are_counted_while_the_disk_is_gone(deeds: list[Choices]) -> None:
    """While writing fails, every press counts as unsaved and none is on the disk."""
    with _bench() as hands:
        hands.disk(works=False)
        for deed in deeds:
            hands.deed(deed)
        pressed = hands.state.presses
        assert bool(hands.driver.unsaved_entries) == (pressed > 0)
        if pressed:
            word = "1 press since" if pressed == 1 else f"{pressed} presses since"
            assert word in hands.driver.unsaved
        assert len(_on_disk(hands)) == 1
        hands.disk(works=True)


@pytest.mark.parametrize(
    ("speed", "name"), [(1, "shop"), (10, "shop/practice-10x"), (1.5, "shop/practice-1.5x")]
)
def test_practice_has_its_own_folder(tmp_path: Path, speed: float, name: str) -> None:
    """Each practice speed keeps its log in a folder with its name."""
    assert data_folder(tmp_path / "shop", speed) == tmp_path / name


def test_runs_of_a_day_get_unused_numbers(tmp_path: Path) -> None:
    """Run names count up through the day, open or over, and start again the next day."""
    clock = ManualClock(NOON)
    driver = drive(tmp_path, clock)
    names = [driver.set_up(NEW) for _ in range(3)]
    driver.press(names[1], c.Abort("enough"))
    with suppress(Refused):
        driver.press(names[1], c.Acknowledge("Hot tank"))
    names.append(driver.set_up(NEW))
    clock.advance(86_400_000)
    names.append(driver.set_up(NEW))
    driver.close()
    assert names == [
        *(f"2026-02-02-{number}" for number in (1, 2, 3, 4)), "2026-02-03-1"]  # fmt: skip
