"""A bath mixed after setup, put into its place from the board."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from benchtimer.bath.bath_decide import MixBath, Retire
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.records.card import sections
from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.setup import setup_items
from benchtimer.view.desk import Desk
from benchtimer.view.menu import bath_of, offers
from tests.run.test_setup import BREW
from tests.support import MINUTE, small_recipe, start, table

RUN = NewRun("Brew", {"brew": table(small_recipe(BREW))}, [("bolster", "brew"), ("cap", "brew")])


@pytest.fixture
def clock() -> ManualClock:
    """A clock that the test moves."""
    return ManualClock(1_770_000_000_000)


@pytest.fixture
def driver(tmp_path: Path, clock: ManualClock) -> Iterator[OpenBench]:
    """A bench for the test alone."""
    opened = drive(tmp_path, clock)
    yield opened
    opened.close()


def _asked(driver: OpenBench, name: str) -> list[str]:
    return [item.title for item in setup_items(driver.state(name).bench)]


def test_a_mix_on_the_board_is_in_the_bath_book_and_in_its_place(driver: OpenBench) -> None:
    """After one name the book has the bath, and the setup no longer asks for the mix."""
    name = driver.set_up(RUN)
    desk = Desk(driver, name, guard_s=0)
    assert "Brew" in _asked(driver, name)
    assert desk.mix_bath("tank", "brew 1", "6 L")
    assert driver.state(name).bench.baths == {"tank": "brew 1"}
    assert "Brew" not in _asked(driver, name)
    bath = driver.writer.baths.baths(driver.stamp().noted_ms)["brew 1"]
    assert (bath.mix, bath.recipe, str(bath.volume)) == ("brew", "small", "6 L")
    assert not desk.mix_bath("tank", "brew 1")
    assert "it is open" in desk.message


def test_a_bath_of_the_bath_book_is_offered_where_it_fits(driver: OpenBench) -> None:
    """The menu offers to put a bath in, unless it is already there or retired."""
    name = driver.set_up(RUN)
    driver.write_bath("old", MixBath("Brew", mix="brew", recipe="brew"))
    driver.write_bath("gone", MixBath("Brew", mix="brew", recipe="brew"))
    driver.write_bath("gone", Retire("poured away as the local code says"))
    bench = driver.state(name).bench

    def put_in() -> list[object]:
        bench = driver.state(name).bench
        suiting = driver.writer.baths.suiting(bench, driver.stamp().noted_ms)
        return [offer.command for offer in offers(bench, None, suiting)[7].choices[2].choices]

    assert put_in() == [c.TieBath("tank", "old")]
    driver.press(name, c.TieBath("tank", "old"))
    assert put_in() == []
    assert list(bath_of(bench)) == ["tank"]
    with pytest.raises(r.Refused, match="it is already in there"):
        driver.press(name, c.TieBath("tank", "old"))
    with pytest.raises(r.Refused, match="its recipe names no bath"):
        driver.press(name, c.TieBath("rack", "old"))
    with pytest.raises(r.Refused, match=f"run {name} is open and uses it"):
        driver.write_bath("old", Retire("x"))


def test_parts_count_for_the_bath_they_were_in(driver: OpenBench, clock: ManualClock) -> None:
    """The old bath keeps its parts, and the new one counts its own."""
    name = driver.set_up(RUN)
    desk = Desk(driver, name, guard_s=0)
    assert desk.mix_bath("tank", "one")
    start(driver, name)

    def dip(part: str) -> None:
        clock.advance(46 * MINUTE)
        driver.press(name, c.Read("tank", "65 C"))
        for hazard in ("Dust", "Hot tank"):
            driver.press(name, c.Acknowledge(hazard))
        driver.press(name, c.Begin(part))
        driver.press(name, c.Finish(part))
        driver.press(name, c.Finish(part))

    dip("bolster")
    with pytest.raises(r.Refused, match="bolster is in it"):
        driver.press(name, c.TieBath("tank", "two"))
    clock.advance(5 * MINUTE)
    driver.press(name, c.TakeOut("bolster"))
    assert desk.mix_bath("tank", "two")
    place = driver.state(name).bench.places["tank"]
    assert (place.reading, place.heated_ms) == (None, None), "another bath is read and heated anew"
    driver.press(name, c.Heat("tank"))
    dip("cap")
    clock.advance(5 * MINUTE)
    baths = driver.writer.baths.baths(driver.stamp().noted_ms)
    assert [(n, baths[n].parts) for n in ("one", "two")] == [("one", 1), ("two", 1)]
    record = driver.record(name)
    assert [(found.station, found.bath) for found in record.baths] == [
        ("tank", "one"),
        ("tank", "two"),
    ]
    assert sections(record)
