"""A probe's readings reach the bench through its folder and are checked like yours."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.probes import (
    FROZEN_READINGS,
    FROZEN_S,
    SILENT_S,
    TAKEN,
    ProbeReading,
    Probes,
    file_of,
    read_answer,
    read_reading,
    write_reading,
)
from benchtimer.bench.writer import drive
from benchtimer.run import commands as c
from benchtimer.run.events import Deviated, Event, ProbeRead
from benchtimer.run.probe import KEEP_MS
from benchtimer.view.alarm import OVERDUE, Alarm
from tests.support import MINUTE, alarms_of
from tests.tui.conftest import Shop

SAID = ProbeReading("tank", "salts probe", "65 C", 1, 5.0)


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path / "bench").set_up("bolster")
    yield shop
    shop.driver.close()


class Probe:
    """Writes readings five seconds apart and lets the bench look at each."""

    def __init__(self, shop: Shop, place: str = "tank") -> None:
        self.shop, self.number, self.now = shop, 0, 1000.0
        self.place = place
        driver = shop.driver
        driver.writer.probes = Probes(driver.folder, driver.writer._take_reading, lambda: self.now)

    def says(self, value: str, after_s: float = 5.0, times: int = 1) -> None:
        """Repeat the same value this many times."""
        for _ in range(times):
            self.number += 1
            self.waits(after_s, look=False)
            said = replace(SAID, place=self.place, value=value, number=self.number)
            write_reading(self.shop.driver.folder, said)
            self.shop.driver.writer.notice_clock()

    def waits(self, seconds: float, *, look: bool = True) -> None:
        """Write nothing for a while."""
        self.now += seconds
        self.shop.clock.advance(round(seconds * 1000))
        if look:
            self.shop.driver.writer.notice_clock()

    @property
    def troubles(self) -> list[str]:
        """What the board says about the probe."""
        return list(self.shop.driver.writer.probes.troubles)


def _readings(driver: OpenBench, name: str) -> list[ProbeRead]:
    return [e for e in _events(driver, name) if isinstance(e, ProbeRead)]


def _events(driver: OpenBench, name: str) -> list[Event]:
    return [entry.event for entry in driver._log.entries(name)]


def _bath_alarms(shop: Shop) -> list[Alarm]:
    bench, now_ms = shop.driver.state(shop.name).bench, shop.driver.stamp().noted_ms
    return [alarm for alarm in alarms_of("r", bench, now_ms) if alarm.about[0] == "bath"]


def test_a_reading_counts_like_one_you_enter(shop: Shop) -> None:
    """The tank is read under the probe's name, and a part can go in."""
    probe = Probe(shop)
    probe.says("65 C")
    (event,) = _readings(shop.driver, shop.name)
    assert (event.reading, event.verdict, event.probe) == ("65 C", "in", "salts probe")
    assert (event.by, event.press) == ("probe salts probe", 0)
    assert shop.driver.state(shop.name).bench.places["tank"].reading is not None
    shop.press(c.Begin("bolster"))
    shop.press(c.Finish("bolster"), MINUTE)
    assert read_answer(shop.driver.folder, "salts probe") == TAKEN
    assert "(probe salts probe)" in "\n".join(
        line.text for line in shop.driver.record(shop.name).lines
    )


@pytest.mark.parametrize("place", ["tank", "TANK", "Tank", " tank "])
def test_a_place_is_known_by_its_names(shop: Shop, place: str) -> None:
    """Id, title and short name all find the place, in any case."""
    Probe(shop, place).says("65 C")
    assert len(_readings(shop.driver, shop.name)) == 1


def test_an_unknown_place_is_reported_on_both_sides(shop: Shop) -> None:
    """The board and the sending program hear that the readings go nowhere."""
    probe = Probe(shop, "tnak")
    probe.says("65 C")
    (trouble,) = probe.troubles
    assert "no open run has a place" in trouble
    assert 'did you mean "Tank"?' in trouble
    assert read_answer(shop.driver.folder, "salts probe") == trouble
    assert not _readings(shop.driver, shop.name)


def test_the_log_keeps_one_a_minute_and_what_changes(shop: Shop) -> None:
    """Ten minutes of readings make about ten entries; a new verdict is kept at once."""
    probe = Probe(shop)
    for number in range(120):
        probe.says(f"{65 + 0.1 * (number % 3):.1f} C")
    kept = _readings(shop.driver, shop.name)
    assert 10 <= len(kept) <= 12
    gaps = [b.t_ms - a.t_ms for a, b in pairwise(kept)]
    assert all(gap <= KEEP_MS + 5000 for gap in gaps)
    probe.says("71 C")
    assert _readings(shop.driver, shop.name)[-1].verdict == "high"
    (deviation,) = [e for e in _events(shop.driver, shop.name) if isinstance(e, Deviated)]
    assert (deviation.what, deviation.found) == ("reading", "71 C")
    probe.says("71.2 C")
    assert sum(isinstance(e, Deviated) for e in _events(shop.driver, shop.name)) == 1


def test_the_alarm_rings_at_the_limit(shop: Shop) -> None:
    """With a part in the bath, a probe's reading out of range is overdue at once."""
    shop.to_tank("bolster")
    probe = Probe(shop)
    probe.says("66 C")
    bench = shop.driver.state(shop.name).bench
    assert not [
        a for a in alarms_of("r", bench, shop.driver.stamp().noted_ms) if a.about[0] == "bath"
    ]
    probe.says("71 C")
    (first,) = _bath_alarms(shop)
    assert (first.about, first.level) == (("bath", "tank"), OVERDUE)
    assert first.words == "Tank reads 71 C, above the 70 C max. W: what to do"
    probe.says("69 C")
    bench = shop.driver.state(shop.name).bench
    assert not [
        a for a in alarms_of("r", bench, shop.driver.stamp().noted_ms) if a.about[0] == "bath"
    ]


def test_a_reading_you_enter_rings_no_alarm(shop: Shop) -> None:
    """A bad reading that you enter yourself raises no alarm."""
    shop.to_tank("bolster")
    shop.press(c.Read("tank", "71 C"))
    bench = shop.driver.state(shop.name).bench
    assert not [
        a for a in alarms_of("r", bench, shop.driver.stamp().noted_ms) if a.about[0] == "bath"
    ]


def test_undo_and_redo_skip_probe_readings(shop: Shop) -> None:
    """U and R pass a probe's reading over and act on your own presses."""
    probe = Probe(shop)
    probe.says("65 C")
    shop.press(c.Begin("bolster"))
    probe.says("66 C", after_s=70)
    shop.press(c.Undo())
    assert shop.driver.state(shop.name).bench.parts["bolster"].phase.value == "waiting"
    probe.says("66.2 C", after_s=70)
    shop.press(c.Redo())
    assert shop.driver.state(shop.name).bench.parts["bolster"].phase.value == "in hand"


def test_a_silent_probe_is_noticed(shop: Shop) -> None:
    """After four times its rhythm or 20 s the board says to read by hand, until it is back."""
    probe = Probe(shop)
    probe.says("65 C")
    probe.waits(SILENT_S - 1)
    assert not probe.troubles
    probe.waits(5)
    assert probe.troubles == ["PROBE salts probe has been silent for 24 s: read tank by hand"]
    look = shop.desk().look(None, shop.driver.moment())
    assert any("has been silent" in text for _, text in look.trouble)
    probe.says("65.1 C")
    assert not probe.troubles


def test_a_frozen_probe_is_noticed_and_ignored(shop: Shop) -> None:
    """After ten minutes of one exact value the probe stops counting, and READ falls due."""
    probe = Probe(shop)
    times = round(FROZEN_S / 5)
    assert times > FROZEN_READINGS
    probe.says("65 C", times=times)
    assert not probe.troubles
    before = len(_readings(shop.driver, shop.name))
    probe.says("65 C", times=30)
    (trouble,) = probe.troubles
    assert trouble.startswith("PROBE salts probe has shown 65 C for 12 min")
    assert len(_readings(shop.driver, shop.name)) <= before + 1
    probe.says("65.2 C")
    assert not probe.troubles
    assert _readings(shop.driver, shop.name)[-1].reading == "65.2 C"


def test_a_probe_that_was_stopped_is_forgotten(shop: Shop) -> None:
    """A probe that its user stopped gives no warning of silence."""
    probe = Probe(shop)
    probe.says("65 C")
    write_reading(shop.driver.folder, replace(SAID, number=2, ended=True))
    probe.waits(600)
    assert not probe.troubles


def test_yesterdays_value_is_not_a_reading(tmp_path: Path) -> None:
    """A file from before the bench opened counts once it changes."""
    shop = Shop(tmp_path / "bench").set_up("bolster")
    write_reading(tmp_path / "bench", SAID)
    shop.driver.close()
    shop.driver = drive(tmp_path / "bench", shop.clock)
    shop.driver.writer.notice_clock()
    assert not _readings(shop.driver, shop.name)
    write_reading(tmp_path / "bench", replace(SAID, number=2))
    shop.driver.writer.notice_clock()
    assert len(_readings(shop.driver, shop.name)) == 1
    shop.driver.close()


@pytest.mark.parametrize(
    "value", ["ERR", "", "65 g", "nan C", "1e999 C", "65 C; rm", "-9999999999999 C"]
)
def test_nonsense_is_refused_and_reported(shop: Shop, value: str) -> None:
    """The bench continues, says so, and logs nothing of it."""
    probe = Probe(shop)
    probe.says(value)
    assert not _readings(shop.driver, shop.name)
    assert probe.troubles


@given(raw=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_any_file_in_the_folder_is_harmless(
    raw: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Any file in the folder is a reading or is ignored."""
    path = tmp_path_factory.mktemp("p") / "x.json"
    path.write_bytes(raw)
    assert read_reading(path) is None


@pytest.mark.parametrize(
    "change",
    [{"every_s": 0}, {"every_s": float("nan")}, {"every_s": -1}, {"number": "x"}, {"place": None}],
    ids=str,
)
def test_odd_figures_are_harmless(tmp_path: Path, change: dict[str, object]) -> None:
    """A zero or odd rhythm is ignored, or every probe or none would be silent."""
    write_reading(tmp_path, SAID)
    path = file_of(tmp_path, SAID.probe)
    path.write_text(json.dumps(json.loads(path.read_text()) | change))
    found = read_reading(path)
    assert found is None or change == {"place": None}


def test_a_link_or_a_large_file_is_not_read(tmp_path: Path) -> None:
    """Links and large files are not read."""
    write_reading(tmp_path, SAID)
    path = file_of(tmp_path, SAID.probe)
    link = path.with_name("link.json")
    link.symlink_to(path)
    assert read_reading(link) is None
    path.write_text(path.read_text() + " " * 5000)
    assert read_reading(path) is None


def test_each_name_has_its_own_file(tmp_path: Path) -> None:
    """A name can't lead out of the folder, and two probes don't share a file."""
    names = ["../../etc", "a/b", "a", "b", "\N{SNOWMAN}", "\udc80"]
    paths = {file_of(tmp_path, name) for name in names}
    assert len(paths) == len(names)
    assert {path.parent for path in paths} == {tmp_path / "probes"}
