"""Alarms and their answers, and times across zones and clock changes."""

from __future__ import annotations

from pathlib import Path

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.records.record import make_record
from benchtimer.run import commands as c
from tests.records.golden import entries_of
from tests.support import MINUTE, READY, Hands, small_recipe, start, table


def test_a_late_pull_shows_how_long_the_alarm_rang() -> None:
    """The bell rings at target, and a pull 70 s later answered it in 70 s."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE + 70_000)
    lifts = [a for a in make_record(entries_of(hands)).alarms if a.what == "pull"]
    assert [(a.who, a.answered_s) for a in lifts] == [("bolster", 70.0)]


def test_a_pull_before_target_answers_no_alarm() -> None:
    """A part pulled before target rang no alarm."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 4 * MINUTE + 30_000)
    record = make_record(entries_of(hands))
    assert [a for a in record.alarms if a.what == "pull"] == []
    assert record.parts[0].visits[-1].due_s == record.parts[0].visits[1].in_s + 300  # type: ignore[operator]


def test_a_reading_on_schedule_answers_its_alarm() -> None:
    """Ten minutes after the last reading the station rings until you take the next."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Read("tank", "66 C"), 10 * MINUTE)
    reads = [a for a in make_record(entries_of(hands)).alarms if a.what == "read"]
    assert reads[-1].who == "tank"
    assert 0 < reads[-1].answered_s < 120


def test_an_undone_press_answers_no_alarm() -> None:
    """After an undo the bell keeps ringing until the press that counts."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE + 10_000)
    hands(c.Undo(), 5_000)
    hands(c.Begin("bolster"), 15_000)
    lifts = [a for a in make_record(entries_of(hands)).alarms if a.what == "pull"]
    assert [a.answered_s for a in lifts] == [30.0]


def test_a_dwell_through_a_clock_change_keeps_its_length(tmp_path: Path) -> None:
    """On 2026-03-29 clocks in central Europe skip from 02:00 to 03:00; the dwell doesn't change."""
    clock = ManualClock(1_774_742_400_000, offset_s=3600)  # 2026-03-29 01:00 local
    driver = drive(tmp_path, clock)
    name = driver.set_up(NewRun("Test", {"small": table(small_recipe())}, [("pin", "small")]))
    for command in (*READY, c.Begin("pin")):
        driver.press(name, command)
    clock.advance(60_000)
    driver.press(name, c.Finish("pin"))
    driver.press(name, c.Finish("pin"))
    clock.advance(90 * MINUTE)
    clock.offset_s = 7200
    driver.press(name, c.Begin("pin"))
    record = driver.record(name)
    driver.close()
    assert record.parts[0].visits[1].dwell_s == 5400.0
    began = [line for line in record.lines if "began: Look" in line.text]
    assert record.created == "2026-03-29T01:00:00+01:00"
    assert began[0].at == "2026-03-29T03:31:00+02:00"
    assert [line.elapsed_s for line in began] == [5460.0]
    assert not [line for line in record.lines if "wall clock was set" in line.text]


def test_one_moment_in_two_zones(tmp_path: Path) -> None:
    """A run recorded in another zone has other times of day and the same durations."""
    found = []
    for zone, offset_s in (("east", 19_800), ("west", -28_800)):
        clock = ManualClock(1_770_000_000_000, offset_s=offset_s)
        driver = drive(tmp_path / zone, clock)
        name = driver.set_up(NewRun("T", {"small": table(small_recipe())}, [("pin", "small")]))
        clock.advance(90_000)
        start(driver, name)
        found.append(driver.record(name))
        driver.close()
    assert [r.created for r in found] == ["2026-02-02T08:10:00+05:30", "2026-02-01T18:40:00-08:00"]
    assert [r.run for r in found] == ["2026-02-02-1", "2026-02-01-1"]
    assert found[0].lines[-1].elapsed_s == found[1].lines[-1].elapsed_s == 90.0
