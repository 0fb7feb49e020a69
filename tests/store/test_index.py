"""The index: which runs a word finds."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.store.index import Query, index_all, words_in
from benchtimer.store.log import FILE_NAME, EventLog
from benchtimer.store.register import Register
from tests import behind
from tests.support import small_recipe, table

NOON = 1_770_000_000_000
DAY_MS = 86_400_000


@pytest.fixture(name="driver")
def _driver(tmp_path: Path) -> Iterator[OpenBench]:
    """Three runs on three days: a bolster twice, a ferrule once."""
    clock = ManualClock(NOON, offset_s=3600)
    driver = drive(tmp_path, clock)
    for names in (["Bolster"], ["ferrule"], ["bolster", "pin"]):
        parts = [(name, "small") for name in names]
        driver.set_up(NewRun("Test", {"small": table(small_recipe())}, parts))
        clock.advance(DAY_MS)
    yield driver
    driver.close()


def _found(driver: OpenBench, **asked: object) -> list[str]:
    return [line.name for line in driver._log.find(Query(**asked))]  # type: ignore[arg-type]


FIRST, SECOND, THIRD = "2026-02-02-1", "2026-02-03-1", "2026-02-04-1"


@pytest.mark.parametrize(
    ("asked", "runs"),
    [
        ({"part": "bolster"}, [THIRD, FIRST]),
        ({"part": "BOLSTER "}, [THIRD, FIRST]),
        ({"part": "bol"}, []),
        ({"part": "bol*"}, [THIRD, FIRST]),
        ({"part": "pin", "recipe": "small"}, [THIRD]),
        ({"part": "pin", "date": "2026-02-02"}, []),
        ({"recipe": "small"}, [THIRD, SECOND, FIRST]),
        ({"date": "2026"}, [THIRD, SECOND, FIRST]),
        ({"date": "2026-02-03"}, [SECOND]),
        ({"bath": "etch 1"}, []),
        ({}, [THIRD, SECOND, FIRST]),
    ],
)
def test_runs_are_found(driver: OpenBench, asked: dict[str, str], runs: list[str]) -> None:
    """All terms must match, capitals make no difference, and a star matches any ending."""
    assert _found(driver, **asked) == runs


def test_words_of_notes_and_answers_find_a_run(driver: OpenBench) -> None:
    """All words must occur, in any note or answer."""
    driver.press(FIRST, c.Note("The tank looked Cloudy, 刃"))
    driver.press(FIRST, c.Scrap("Bolster", "cracked at the slot"))
    assert _found(driver, words=("cloudy", "cracked")) == [FIRST]
    assert _found(driver, words=("刃",)) == [FIRST]
    assert _found(driver, words=("clou*",)) == [FIRST]
    assert _found(driver, words=("cloudy", "bright")) == []


def test_undone_words_find_nothing(driver: OpenBench) -> None:
    """A note that was undone is not found until a redo."""
    driver.press(FIRST, c.Note("cloudy"))
    driver.press(FIRST, c.Undo())
    assert _found(driver, words=("cloudy",)) == []
    driver.press(FIRST, c.Redo())
    assert _found(driver, words=("cloudy",)) == [FIRST]


def test_the_last_judgment_of_a_part_counts(driver: OpenBench) -> None:
    """A replaced verdict no longer finds the run, unless another part still has it."""
    driver.press(THIRD, c.Judge("bolster", "rejected", 1))
    assert _found(driver, verdict="rejected") == [THIRD]
    driver.press(THIRD, c.Judge("bolster", "accepted"))
    assert _found(driver, verdict="rejected") == []
    assert _found(driver, verdict="accepted", part="bolster") == [THIRD]
    driver.press(THIRD, c.Judge("pin", "rework"))
    assert _found(driver, verdict="rework", date="2026-02") == [THIRD]


def _terms(log: EventLog) -> list[str]:
    return behind.terms(log._db)


def test_the_index_can_be_rebuilt_at_any_time(driver: OpenBench) -> None:
    """The index written press by press equals the one rebuilt from the events."""
    driver.press(FIRST, c.Note("cloudy"))
    driver.press(FIRST, c.Judge("Bolster", "accepted"))
    driver.press(FIRST, c.AddPart("butt cap", "small"))
    driver.press(FIRST, c.Undo())
    before = _terms(driver._log)
    index_all(driver._log._db)
    assert _terms(driver._log) == before


def test_an_index_of_another_form_is_rebuilt_on_opening(driver: OpenBench, tmp_path: Path) -> None:
    """A program with a newer form of index rebuilds it once from the old entries."""
    driver.press(SECOND, c.Note("cloudy"))
    before = _terms(driver._log)
    driver.close()
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as db:
        register = Register(db)
        line = register.line_of(SECOND)
        assert line is not None
        register.set_terms(line, [])
        register.set_form(0)
        db.commit()
    with closing(EventLog(tmp_path)) as log:
        assert [found.name for found in log.find(Query(words=("cloudy",)))] == [SECOND]
        assert _terms(log) == before


def test_words_are_letters_and_digits() -> None:
    """Punctuation separates words; long ones are cut, in notes and searches alike."""
    assert words_in("Grey-blue, 3 spots!") == ["grey", "blue", "3", "spots"]
    assert words_in("x" * 60) == ["x" * 40]


def test_a_bath_finds_its_runs(driver: OpenBench) -> None:
    """A run set up with a bath from the bath book is found by the bath's name."""
    from dataclasses import replace

    from benchtimer.run.events import Created

    log = driver._log
    first, line = log.entries(FIRST)[0], log.run_line(FIRST)
    assert isinstance(first.event, Created)
    assert line is not None
    tied = replace(first.event, uid="f" * 32, baths={"tank": "Etch 3"})
    log.append("2026-02-02-2", [tied], first.stamp, replace(line, name="2026-02-02-2"))
    assert _found(driver, bath="etch 3") == ["2026-02-02-2"]


def test_a_back_dated_entry_is_found_until_undone(driver: OpenBench) -> None:
    """A backdated note can still be found, until both presses are undone."""
    clock = driver.timeline._clock
    assert isinstance(clock, ManualClock)
    clock.advance(60_000)
    driver.press(FIRST, c.Note("cloudy"))
    driver.press(FIRST, c.BackDate(30_000))
    assert _found(driver, words=("cloudy",)) == [FIRST]
    driver.press(FIRST, c.Undo())
    driver.press(FIRST, c.Undo())
    assert _found(driver, words=("cloudy",)) == []
    before = _terms(driver._log)
    index_all(driver._log._db)
    assert _terms(driver._log) == before


def test_outcomes_are_read_for_many_runs_at_once(driver: OpenBench) -> None:
    """One query returns the verdicts of any number of runs; a run not judged has none."""
    driver.press(FIRST, c.Judge("Bolster", "rework"))
    driver.press(THIRD, c.Judge("bolster", "accepted", 4))
    driver.press(THIRD, c.Judge("pin", "rejected"))
    many = [FIRST, SECOND, THIRD, *(f"no run {n}" for n in range(1200))]
    assert driver.verdicts(many) == {FIRST: ("rework",), THIRD: ("accepted", "rejected")}
    assert driver.verdicts([]) == {}
