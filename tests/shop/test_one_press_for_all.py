"""One press for several runs: a reading of a shared bath, and when you must leave."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.bath.bath_decide import MixBath
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.setup import known_of
from benchtimer.view.beside_picture import last_entries
from benchtimer.view.board_text import make_board, undo_of
from benchtimer.view.desk import Desk
from benchtimer.view.space import Size
from tests.run.test_setup import BREW
from tests.support import GEARED, MINUTE, SMALL, small_recipe, table


@pytest.fixture
def clock() -> ManualClock:
    """A clock that the test moves."""
    return ManualClock(1_770_000_000_000)


@pytest.fixture
def driver(tmp_path: Path, clock: ManualClock) -> Iterator[OpenBench]:
    """A bench for the test alone."""
    with closing(drive(tmp_path, clock)) as opened:
        yield opened


def _started(driver: OpenBench, *parts: str, text: str = SMALL) -> list[str]:
    """A started run for each part, in one tank that has no reading."""
    recipe = {"small": table(small_recipe(text))}
    names = [driver.set_up(NewRun("Test", recipe, [(part, "small")])) for part in parts]
    for name in names:
        for command in GEARED:
            driver.press(name, command)
    return names


def _read(driver: OpenBench, name: str) -> list[str]:
    return [reading.reading for reading in driver.record(name).readings]


def test_a_reading_is_in_the_record_of_every_run_that_uses_the_bath(
    driver: OpenBench, clock: ManualClock
) -> None:
    """A reading for one run is in the record of both, and neither asks again."""
    one, two = _started(driver, "pommel", "guard")
    clock.advance(1000)
    driver.press(one, c.Read("tank", "65 C"))
    assert _read(driver, one) == _read(driver, two) == ["65 C"]
    assert not [a for a in driver.moment().actions if a.kind is ActionKind.READING]
    driver.press(two, c.Begin("guard"))


def test_undo_removes_a_shared_reading_from_every_run_and_says_so(
    driver: OpenBench, clock: ManualClock
) -> None:
    """Undo, redo and backdating change the reading in all runs that have it."""
    one, two, _ = names = _started(driver, "pommel", "guard", "cap")
    desk = Desk(driver, one, guard_s=0)
    clock.advance(MINUTE)
    driver.press(two, c.Read("tank", "56 C"))
    clock.advance(MINUTE)
    moment = driver.moment()
    look = desk.look(moment.first, moment)
    assert look.undo is not None
    assert sorted((look.undo[0], *look.also)) == sorted(names)
    assert sum("Tank" in entry for entry in last_entries(moment)) == 1
    board = make_board(moment, moment.first, Size(80, 24), look)
    assert board.undo_line == "U undoes: Tank reads 56 C, too low (3 runs)"
    desk.undo()
    assert desk.message == "Taken back: Tank reads 56 C, too low (3 runs)."
    assert [_read(driver, name) for name in names] == [[], [], []]
    clock.advance(1000)
    desk.redo()
    assert [_read(driver, name) for name in names] == [["56 C"]] * 3
    clock.advance(1000)
    desk.back_date(30)
    assert desk.message == "Backdated by 30 s."
    found = [driver.state(name).bench.places["tank"].reading for name in names]
    assert len(set(found)) == 1
    assert found[0] is not None
    assert found[0].t_ms == driver.stamp().noted_ms - 92_000
    clock.advance(1000)
    desk.undo()
    desk.undo()
    assert [_read(driver, name) for name in names] == [[], [], []]


def test_a_run_without_need_of_the_bath_gets_no_reading(
    driver: OpenBench, clock: ManualClock
) -> None:
    """A part past the tank and a run planned for Saturday are left out."""
    one, two, three = _started(driver, "pommel", "guard", "cap")
    driver.press(two, c.Skip("guard", "hang", "blued before"))
    driver.press(three, c.Abort())
    later = driver.set_up(NewRun("Test", {"small": table(small_recipe())}, [("pin", "small")]))
    driver.press(later, c.Postpone(None, driver.stamp().noted_ms + 24 * 60 * MINUTE))
    clock.advance(1000)
    driver.press(one, c.Read("tank", "65 C"))
    assert [_read(driver, name) for name in (one, two, three, later)] == [["65 C"], [], [], []]


def _into_the_tank(driver: OpenBench, name: str, part: str, clock: ManualClock) -> None:
    driver.press(name, c.Begin(part))
    clock.advance(MINUTE)
    driver.press(name, c.Finish(part))
    clock.advance(20_000)
    driver.press(name, c.Finish(part))


def test_a_run_set_up_after_a_reading_has_it_once_a_part_goes_in(
    driver: OpenBench, clock: ManualClock
) -> None:
    """The reading that let its part in is in its record and bath book, with its own time."""
    (one,) = _started(driver, "pommel")
    driver.press(one, c.Read("tank", "65 C"))
    read_ms = driver.stamp().noted_ms
    clock.advance(MINUTE)
    (two,) = _started(driver, "guard")
    assert _read(driver, two) == []
    _into_the_tank(driver, two, "guard", clock)
    assert _read(driver, two) == ["65 C"]
    said = [line.text for line in driver.record(two).lines if "65 C" in line.text]
    assert said == ["Tank reads 65 C, in its window (read 2 min 20 s before, in another run)"]
    assert undo_of(driver.state(two), driver.stamp()) == "U undoes: #2 guard into Tank"
    reading = driver.state(two).bench.places["tank"].reading
    assert reading is not None
    assert reading.t_ms == read_ms
    clock.advance(1000)
    driver.press(two, c.Undo())
    assert _read(driver, two) == []


def test_a_reading_too_old_is_not_shared(driver: OpenBench, clock: ManualClock) -> None:
    """A part that goes in without a valid reading gets none from another run."""
    (one,) = _started(driver, "pommel")
    driver.press(one, c.Read("tank", "65 C"))
    (two,) = _started(driver, "guard")
    clock.advance(1000)
    driver.press(two, c.Begin("guard"))
    clock.advance(11 * MINUTE)
    driver.press(two, c.SkipReading("tank", c.NO_READING[0]))
    driver.press(two, c.Finish("guard"))
    clock.advance(20_000)
    driver.press(two, c.Finish("guard"))
    assert _read(driver, two) == []


def test_a_value_of_a_mix_outlives_its_run(driver: OpenBench, clock: ManualClock) -> None:
    """The flash point is asked once and stays known after its run is aborted."""
    asks = '[[property]]\nid = "flash"\nask = "Flash point?"\nof = "brew"\nunit = "C"\n\n[[mix]]'
    recipe = {"small": table(small_recipe(BREW.replace("[[mix]]", asks, 1)))}
    one, two = (driver.set_up(NewRun("Test", recipe, [(p, "small")])) for p in ("pommel", "guard"))
    key = "flash of tank"
    for page in ("Mixing", "Hot tank"):
        driver.press(one, c.Acknowledge(page))
    driver.press(one, c.Prepare(key, said="93 C"))
    clock.advance(1000)
    driver.press(one, c.Abort())
    bench = driver.shop(driver.stamp()).bench(two)
    assert bench.prepared[key].said == "93 C"
    assert str(known_of(bench, bench.parts["guard"])["flash"]) == "93 C"


def test_a_bath_of_the_bath_book_has_a_shared_reading_once(
    driver: OpenBench, clock: ManualClock
) -> None:
    """Two runs that share a reading count it once in the bath book."""
    driver.write_bath("brew 1", MixBath("Brew", mix="brew", recipe="small"))
    names = [
        driver.set_up(NewRun("Test", {"small": table(small_recipe(BREW))}, [(part, "small")]))
        for part in ("pommel", "guard")
    ]
    clock.advance(1000)
    driver.press(names[0], c.Read("tank", "65 C"))
    for name in names:
        driver.press(name, c.Abort())
    bath = driver.writer.baths.baths(driver.stamp().noted_ms)["brew 1"]
    assert [str(reading.quantity) for reading in bath.readings] == ["65 C"]


def test_the_time_you_leave_is_entered_once_for_all_runs(
    driver: OpenBench, clock: ManualClock
) -> None:
    """One press changes the hours of every open run, and one undo restores them."""
    names = _started(driver, "pommel", "guard")
    desk = Desk(driver, names[1], guard_s=0)
    clock.advance(1000)
    now_ms = driver.stamp().noted_ms
    away = (now_ms + 60 * MINUTE, now_ms + 600 * MINUTE)
    assert desk.leave(*away)
    assert [driver.state(name).bench.gone for name in names] == [away] * 2
    clock.advance(1000)
    desk.undo()
    assert desk.message.endswith(f" (runs {names[0]} and {names[1]}).")
    assert [driver.state(name).bench.gone for name in names] == [None] * 2


def test_hours_and_hands_are_changed_for_all_runs(driver: OpenBench, clock: ManualClock) -> None:
    """Hours and hands set for one run apply to all."""
    names = _started(driver, "pommel", "guard")

    def known() -> list[tuple[int, tuple[str, ...]]]:
        return [(driver.state(name).bench.hands, driver.state(name).bench.away) for name in names]

    clock.advance(1000)
    driver.press(names[0], c.ChangeHours(("22:00-07:00",)))
    clock.advance(1000)
    driver.press(names[1], c.ChangeHands(2))
    assert known() == [(2, ("22:00-07:00",))] * 2
    clock.advance(1000)
    driver.press(names[1], c.Undo())
    assert known() == [(1, ("22:00-07:00",))] * 2
    driver.press(names[0], c.Undo())
    assert known() == [(1, ())] * 2


def test_a_hot_bath_of_two_runs_is_cooled_once(driver: OpenBench, clock: ManualClock) -> None:
    """With parts of both runs in it, the bath is cooled by one press, in both records."""
    one, two = _started(driver, "pommel", "guard", text=SMALL.replace("holds = 1", "holds = 2", 1))
    driver.press(one, c.Read("tank", "65 C"))
    for run, part in ((one, "pommel"), (two, "guard")):
        for command in (c.Begin(part, anyway=True), c.Finish(part, "dip")):
            clock.advance(1000)
            driver.press(run, command)
    driver.press(one, c.Read("tank", "75 C"))
    (cool,) = (a for a in driver.moment().actions if a.kind is ActionKind.COOL)
    assert driver.moment().first == cool
    clock.advance(1000)
    assert cool.command is not None
    driver.press(cool.run, cool.command)
    assert not any(a.kind is ActionKind.COOL for a in driver.moment().actions)
    clock.advance(1000)
    driver.press(cool.run, c.Undo())
    assert driver.moment().actions[0].kind is ActionKind.COOL
