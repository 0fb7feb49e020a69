"""Runs and baths: which bath a run uses, and what it uses up."""

from __future__ import annotations

import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from benchtimer.bath import bath_decide as b
from benchtimer.bath.bath_state import Bath
from benchtimer.bath.bath_wear import WearLimits
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.records.export import as_text
from benchtimer.run import commands as c
from benchtimer.run.events import Aborted
from benchtimer.run.refusals import Refused
from benchtimer.store.log import EventLog
from tests.support import MINUTE, READY, SMALL, small_recipe, table

NOON = 1_770_000_000_000
DAY = 86_400_000

WITH_BATH = SMALL.replace(
    'title = "Tank"\n', 'title = "Tank"\nbath = "brew"\n', 1
) + """
[[mix]]
id = "brew"
title = "Brew"
of = [{ what = "water", parts = 1 }]
"""  # fmt: skip
BREW = b.MixBath("Brew", "brew", "small", "2 L")


class Shop:
    """A bench with a bath of the small recipe's mix, and a clock that tests move."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.clock = ManualClock(NOON)
        self.driver = drive(folder, self.clock, by="anna", limits={"brew": WearLimits(parts=2)})
        self.run = ""

    def set_up(self, *parts: str, **baths: str) -> str:
        """Set up a run."""
        found = {"small": table(small_recipe(WITH_BATH))}
        new = NewRun("Test", found, [(part, "small") for part in parts], baths=baths)
        self.run = self.driver.set_up(new)
        return self.run

    def start(self) -> None:
        """Start the run with its tank read."""
        self.press(*READY)

    def press(self, *commands: c.Command, after_ms: int = 1000) -> None:
        """Press each command after a while."""
        for command in commands:
            self.clock.advance(after_ms)
            self.driver.press(self.run, command)

    def dip(self, part: str) -> None:
        """Put a part into the tank."""
        self.press(c.Begin(part), c.Finish(part), c.Finish(part))

    def bath(self, name: str = "brew 1") -> Bath:
        """A bath as it is now."""
        return self.driver.writer.baths.baths(self.driver.stamp().noted_ms)[name]


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Iterator[Shop]:
    """A shop with one bath, two days old."""
    shop = Shop(tmp_path)
    shop.driver.write_bath("brew 1", BREW)
    shop.clock.advance(2 * DAY)
    yield shop
    shop.driver.close()


def _worked(shop: Shop) -> None:
    """Two parts in the tank, for five and four minutes, one of them put back once."""
    shop.set_up("pin", "cap")
    shop.start()
    shop.dip("pin")
    shop.press(c.TakeOut("pin"), after_ms=2 * MINUTE)
    shop.press(c.PutBack("pin"), after_ms=MINUTE)
    shop.press(c.TakeOut("pin"), after_ms=3 * MINUTE)
    shop.dip("cap")
    shop.press(c.TakeOut("cap"), after_ms=4 * MINUTE)


def test_a_run_names_its_bath_and_books_its_use(shop: Shop) -> None:
    """The record names the bath and its age; the bath lists parts, minutes and readings."""
    _worked(shop)
    assert shop.driver.state(shop.run).bench.baths == {"tank": "brew 1"}
    shop.press(c.Abort("enough"))
    bath = shop.bath()
    use = bath.used[shop.run]
    assert use.parts == ("pin", "cap")
    assert (use.immersions, use.dwell_ms) == (3, 9 * MINUTE)
    assert [str(r.quantity) for r in bath.readings] == ["65 C"]
    text = as_text(shop.driver.record(shop.run))
    assert "bath in tank: brew 1 (Brew), 2 d old, 0 parts and 0 s of dwell before" in text
    assert "baths: brew 1 in tank" in text
    kept = tomllib.loads((shop.folder / "records" / f"{shop.run}.toml").read_text("utf-8"))
    assert kept["baths"][0] | {"bath": "brew 1", "age_s": 172800.0} == kept["baths"][0]


def test_judging_does_not_book_a_use_again(shop: Shop) -> None:
    """Verdicts after the end add nothing to the bath's account."""
    _worked(shop)
    shop.press(c.Abort("enough"))
    shop.press(c.Judge("pin", "accepted", 4), c.Judge("cap", "accepted", 3))
    assert shop.bath().used[shop.run].immersions == 3
    booked = [entry.event for entry in shop.driver.writer.baths.entries("brew 1")]
    assert [type(event).__name__ for event in booked] == ["BathMixed", "BathUsed"]


def test_ending_a_run_twice_books_its_use_once(shop: Shop) -> None:
    """A run that ended, was undone and ended again has one use: the last."""
    _worked(shop)
    shop.press(c.Abort("enough"), c.Undo(), c.Redo(), c.Undo())
    shop.press(c.Abort("now"), after_ms=MINUTE)
    assert shop.bath().parts == 2
    assert shop.bath().dwell_s == 9 * 60
    booked = [x for x in shop.driver.writer.baths.entries("brew 1") if x.event.press == 0]
    assert len(booked) == 3  # each end is in the log; the last one counts


def test_undone_work_is_not_counted_as_use(shop: Shop) -> None:
    """A part loaded by mistake and undone has not been in the bath."""
    shop.set_up("pin")
    shop.start()
    shop.dip("pin")
    shop.press(c.Undo(), c.Abort("x"))
    assert shop.bath().used[shop.run].parts == ()
    assert shop.bath().dwell_s == 0


def test_a_back_dated_pull_counts_its_real_time(shop: Shop) -> None:
    """Time in the bath ends at the real pull, not at the key press."""
    shop.set_up("pin")
    shop.start()
    shop.dip("pin")
    shop.press(c.TakeOut("pin"), after_ms=6 * MINUTE)
    shop.press(c.BackDate(MINUTE), c.Abort("x"))
    assert shop.bath().dwell_s == 5 * 60


def test_a_part_left_in_counts_until_the_run_ends(shop: Shop) -> None:
    """Aborting the run with a part in the tank counts its time until then."""
    shop.set_up("pin")
    shop.start()
    shop.dip("pin")
    shop.press(c.Abort("x"), after_ms=3 * MINUTE)
    assert shop.bath().dwell_s == 3 * 60


def test_an_open_run_counts_so_far(shop: Shop) -> None:
    """The book shows an open run's use so far, with its name."""
    shop.set_up("pin")
    shop.start()
    shop.dip("pin")
    shop.clock.advance(2 * MINUTE)
    assert shop.bath().dwell_s == 2 * 60
    assert shop.driver.writer.baths.busy() == {"brew 1": shop.run}
    assert shop.bath().last_reading("temperature") is not None
    with pytest.raises(Refused, match=shop.run):
        shop.driver.write_bath("brew 1", b.Retire("by local code"))


def test_warnings_before_a_run(shop: Shop) -> None:
    """A spent bath and a missing one give warnings at setup, which still succeeds."""
    _worked(shop)
    shop.press(c.Abort("x"))
    name = shop.set_up("pin")
    assert shop.driver.notices[name] == [
        "bath brew 1 (tank): spent: 2 parts, this shop's limit is 2"
    ]
    shop.press(c.Abort("x"))
    shop.driver.write_bath("brew 1", b.Retire("by local code"))
    name = shop.set_up("pin")
    assert shop.driver.notices[name][0].startswith("not in the bath book: brew (tank)")


def test_a_chosen_bath_beats_the_newest(shop: Shop) -> None:
    """A bath that you choose beats the newest one."""
    shop.driver.write_bath("brew 2", BREW)
    shop.set_up("pin")
    assert shop.driver.state(shop.run).bench.baths == {"tank": "brew 2"}
    shop.press(c.Abort("x"))
    shop.set_up("pin", tank="brew 1")
    assert shop.driver.state(shop.run).bench.baths == {"tank": "brew 1"}
    with pytest.raises(Refused, match="no bath with that name"):
        shop.set_up("pin", tank="brew 9")


def test_baths_are_not_runs(shop: Shop) -> None:
    """Bath entries between presses make no run, for driver and watcher alike."""
    watcher = look_on(shop.folder, shop.clock)
    shop.set_up("pin")
    shop.driver.write_bath("brew 2", BREW)
    assert watcher.refresh()
    assert watcher.names == shop.driver.names == [shop.run]
    assert watcher.record(shop.run) == shop.driver.record(shop.run)
    watcher.close()
    shop.driver.close()
    again = drive(shop.folder, shop.clock)
    assert again.names == [shop.run]
    assert again.writer.baths.names() == ["brew 1", "brew 2"]
    again.close()
    shop.driver = drive(shop.folder, shop.clock)


def test_the_end_and_its_booking_are_written_together(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the use of a bath can't be written, the end of the run waits."""
    _worked(shop)
    log = shop.driver._log
    whole = log._insert_row

    def fails(seq: int, run: str, *rest: Any) -> None:
        if run.startswith("bath/"):
            raise sqlite3.OperationalError("disk full")
        whole(seq, run, *rest)

    monkeypatch.setattr(log, "_insert_row", fails)
    shop.press(c.Abort("x"))
    assert "disk full" in shop.driver.unsaved
    with closing(EventLog(shop.folder, read_only=True)) as disk:
        assert [x.event for x in disk.entries(shop.run) if isinstance(x.event, Aborted)] == []
        monkeypatch.undo()
        shop.driver.writer.notice_clock()
        assert [x.event for x in disk.entries(shop.run) if isinstance(x.event, Aborted)]
    assert shop.bath().parts == 2


def test_the_record_keeps_what_was_known_then(shop: Shop) -> None:
    """A later record shows the bath as it was before the run."""
    _worked(shop)
    shop.press(c.Abort("x"))
    first = shop.run
    _worked(shop)
    shop.press(c.Abort("x"))
    found = [shop.driver.record(name).baths[0].parts_before for name in (first, shop.run)]
    assert found == [0, 2]
