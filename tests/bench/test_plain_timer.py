"""A simple timer: named, timed, on the board and in the record like any run."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.plain_timer import TimerError, read_timer, set_timer
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run.commands import Begin, Complete
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.view.words import confirm_words, verb


@pytest.mark.parametrize(
    ("words", "name", "seconds"),
    [
        ("glue 24h", "glue", 86_400),
        ("glue 24 h", "glue", 86_400),
        ("second coat 1 h 30 min", "second coat", 5400),
        ("  coat   2   90 s ", "coat 2", 90),
    ],
)
def test_a_name_and_a_time_are_read(words: str, name: str, seconds: int) -> None:
    """The time comes last, and the rest is the name."""
    assert read_timer(words) == (name, seconds)


@pytest.mark.parametrize("words", ["", "glue", "24 h", "glue 0 s", "glue soon", "glue 2 parsec"])
def test_text_without_a_name_or_time_is_refused(words: str) -> None:
    """The message shows how to write it."""
    with pytest.raises(TimerError, match="such as glue 24 h"):
        read_timer(words)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(words: str) -> None:
    """Any text gives a name and a time of at least a second, or one message."""
    try:
        name, seconds = read_timer(words)
    except TimerError:
        return
    assert name
    assert seconds >= 1


def test_a_timer_starts_when_it_is_set(tmp_path: Path) -> None:
    """A timer counts down at once, says TIMER at its end, and its run ends like any other."""
    clock = ManualClock()
    driver = drive(tmp_path, clock)
    run = set_timer(driver, "glue", 3600)
    bench = driver.state(run).bench
    assert (bench.phase, bench.parts["glue"].phase) == (RunPhase.RUNNING, PartPhase.DWELLING)
    (action,) = driver.moment().actions
    assert action.due_ms - driver.stamp().noted_ms == pytest.approx(3_600_000, abs=1000)
    clock.advance(3_600_000)
    (action,) = driver.moment().actions
    assert action.is_due(driver.stamp().noted_ms)
    assert verb(action) == "TIMER"
    assert confirm_words(bench, action) == "SPACE: #1 glue is done"
    driver.press(run, Begin("glue"))
    driver.press(run, Complete())
    record = driver.record(run)
    assert record.title == "Timer, 1 h"
    assert record.parts[0].visits[0].dwell_s == pytest.approx(3600, abs=1)
    driver.close()


def test_two_timers_have_separate_places(tmp_path: Path) -> None:
    """Each timer has its own place and its own number."""
    driver = drive(tmp_path, ManualClock())
    runs = [set_timer(driver, "glue", 60), set_timer(driver, "coat", 60)]
    numbers = [part.number for run in runs for part in driver.state(run).bench.parts.values()]
    assert len(set(numbers)) == 2
    driver.close()


def test_a_bad_name_sets_no_timer(tmp_path: Path) -> None:
    """A name that no part can have is refused, and no run is left behind."""
    driver = drive(tmp_path, ManualClock())
    with pytest.raises(Refused):
        set_timer(driver, "x" * 500, 60)
    assert driver.names == []
    driver.close()
