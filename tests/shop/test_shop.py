"""The shop: places, hands, numbers and hazards across every run on the bench."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from benchtimer.bath.bath_decide import MixBath, Retire
from benchtimer.bench.advice import advise
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.recipe.places import ShopPlace
from benchtimer.run import commands as c
from benchtimer.run.refusals import Crowded, HandsFull, OutOfService, Refused, StationFull
from benchtimer.run.run_state import PartPhase
from benchtimer.shop.shop_state import last_press, shop_of
from tests.support import MINUTE, READY, SMALL, Hands, small_recipe, table

NOON = 1_770_000_000_000


def _new(*parts: str, text: str = SMALL, baths: dict[str, str] | None = None) -> NewRun:
    recipe = {"small": table(small_recipe(text))}
    return NewRun("Test", recipe, [(part, "small") for part in parts], baths=baths or {})


@contextmanager
def _opened(folder: Path, clock: ManualClock) -> Iterator[OpenBench]:
    """The bench in its own process, as the command line opens it."""
    with closing(drive(folder, clock)) as driver:
        yield driver


def _dip(driver: OpenBench, name: str, part: str, clock: ManualClock) -> None:
    """Bring a new part to the tank."""
    driver.press(name, c.Begin(part))
    clock.advance(MINUTE)
    driver.press(name, c.Finish(part))
    clock.advance(20_000)
    driver.press(name, c.Finish(part))


def test_two_runs_one_after_the_other_share_a_tank(tmp_path: Path) -> None:
    """The second process's part is kept out, and the message says by which part and how long."""
    clock = ManualClock(NOON)
    with _opened(tmp_path, clock) as driver:
        first = driver.set_up(_new("pommel"))
        for command in READY:
            driver.press(first, command)
        _dip(driver, first, "pommel", clock)
    with _opened(tmp_path, clock) as driver:
        second = driver.set_up(_new("guard"))
        for command in READY[:2]:
            driver.press(second, command)
        driver.press(second, c.Begin("guard"))  # the first run has read the tank
        driver.press(second, c.Finish("guard"))
        before = driver.state(second)
        with pytest.raises(StationFull) as refused:
            driver.press(second, c.Finish("guard"))
        until = driver.shop(driver.stamp()).clock(driver.stamp().noted_ms + 5 * MINUTE)
        assert until
        assert str(refused.value) == (
            f"Can't finish guard: Tank holds 1: pommel of run {first} is in it until about "
            f"{until}. Pull pommel of run {first} first."
        )
        assert driver.state(second) == before
        clock.advance(5 * MINUTE)
        driver.press(first, c.Begin("pommel"))
        driver.press(second, c.Finish("guard"))
        assert driver.state(second).bench.parts["guard"].phase is PartPhase.DWELLING


def test_a_tank_with_another_title_is_another_tank(tmp_path: Path) -> None:
    """Tanks with one id but different titles are two places."""
    other = SMALL.replace('title = "Tank"', 'title = "Soda bath"')
    clock = ManualClock(NOON)
    with _opened(tmp_path, clock) as driver:
        names = [driver.set_up(_new("pommel")), driver.set_up(_new("guard", text=other))]
        for name, part in zip(names, ("pommel", "guard"), strict=True):
            for command in READY:
                driver.press(name, command)
            _dip(driver, name, part, clock)
        shop = driver.shop(driver.stamp())
        assert [p.title for p in shop.places] == ["Tank", "Rack", "Soda bath"]
        assert len(shop.bench(names[1]).places["rack"].guests) == 0


@pytest.mark.parametrize("stations", [("small.tank", "other.bath"), ("small.tank",)])
def test_the_settings_say_which_stations_of_two_runs_are_one_tank(
    tmp_path: Path, stations: tuple[str, ...]
) -> None:
    """Two recipes' stations are one tank with the smaller room if the settings name both."""
    text = SMALL.replace('"tank"', '"bath"').replace('"Tank"\nholds = 1', '"Bath"\nholds = 3')
    other = NewRun("Other", {"other": table(small_recipe(text))}, [("guard", "other")])
    places = (ShopPlace("soda", "Soda tub", None, stations),)
    with closing(drive(tmp_path, clock := ManualClock(NOON), places=places)) as driver:
        name, second = driver.set_up(_new("pommel")), driver.set_up(other)
        for command in (*READY[:2], c.Read("soda", "65 C")):
            driver.press(name, command)
        _dip(driver, name, "pommel", clock)
        bath = next(iter(driver.shop(driver.stamp()).bench(second).places.values()))
    one = len(stations) == 2
    assert (len(bath.guests), bath.station.holds) == ((1, 1) if one else (0, 3))


def test_two_places_with_one_title_name_their_run(tmp_path: Path) -> None:
    """A tank of another chemistry is never merged, and the screen shows the difference."""
    sour = SMALL.replace('title = "Tank"\n', 'title = "Tank"\nchemistry = ["acid"]\n')
    with _opened(tmp_path, ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel")), driver.set_up(_new("guard", text=sour))
        titles = [p.title for p in driver.shop(driver.stamp()).places]
        assert titles == [f"Tank (run {one})", "Rack", f"Tank (run {two})"]


def test_the_smaller_tank_counts() -> None:
    """Where one recipe says two and another one, the tank holds one."""
    wide = SMALL.replace("holds = 1", "holds = 2")
    one, two = Hands(("pommel", "cap"), small_recipe(wide)), Hands(("guard",))
    shop = shop_of({"one": one.state, "two": two.state})
    assert {run: shop.bench(run).places["tank"].station.holds for run in shop.runs} == {
        "one": 1, "two": 1,
    }  # fmt: skip


def test_a_place_is_out_of_service_for_all_runs(tmp_path: Path) -> None:
    """The last run to open or close a place decides for both."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel")), driver.set_up(_new("guard"))
        for name in (one, two):
            for command in READY:
                driver.press(name, command)
        driver.press(one, c.CloseStation("tank", "copper in it"))
        with pytest.raises(OutOfService, match="copper in it"):
            driver.press(two, c.Begin("guard"))
        clock.advance(1000)
        driver.press(two, c.OpenStation("tank"))
        assert driver.shop(driver.stamp()).bench(one).places["tank"].closed is None
        driver.press(two, c.Begin("guard"))


def test_a_place_stays_out_of_service_when_its_run_ends(tmp_path: Path) -> None:
    """Aborting the run that found the copper does not reopen the bath for the other."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel")), driver.set_up(_new("guard"))
        driver.press(one, c.CloseStation("tank", "copper in it"))
        clock.advance(1000)
        driver.press(one, c.Abort())
        assert driver.shop(driver.stamp()).bench(two).places["tank"].closed == "copper in it"


def test_a_missing_plan_names_the_part_by_its_number(tmp_path: Path) -> None:
    """Two runs have a part of one name, so the warning gives its number on the bench."""
    with _opened(tmp_path, ManualClock(NOON)) as driver:
        for name in [driver.set_up(_new("pommel")), driver.set_up(_new("pommel"))]:
            for command in READY[:2]:
                driver.press(name, command)
        driver.press(name, c.CloseStation("tank", "leaks"))
        stamp = driver.stamp()
        warning = advise(driver.shop(stamp), stamp.noted_ms).warnings[0]
    assert warning == "#1 pommel needs tank for dip, but it is out of service"


def test_with_full_hands_more_work_needs_a_confirmation(tmp_path: Path) -> None:
    """With full hands, a part that can wait begins only if you say so; a pull always works."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel", "cap")), driver.set_up(_new("guard"))
        for name in (one, two):
            for command in READY:
                driver.press(name, command)
        _dip(driver, one, "pommel", clock)
        driver.press(two, c.Begin("guard"))
        with pytest.raises(HandsFull, match=f"your hands hold guard of run {two}"):
            driver.press(one, c.Begin("cap"))
        driver.press(one, c.Begin("cap", anyway=True))
        driver.press(one, c.Begin("pommel"))  # a pull works however full the hands are


def test_undo_never_fills_a_place_another_run_uses(tmp_path: Path) -> None:
    """A pull can't be undone while another run's part is in the tank; undo that load first."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel")), driver.set_up(_new("guard"))
        for name in (one, two):
            for command in READY:
                driver.press(name, command)
        _dip(driver, one, "pommel", clock)
        clock.advance(5 * MINUTE)
        driver.press(one, c.TakeOut("pommel"))
        clock.advance(1000)
        _dip(driver, two, "guard", clock)
        with pytest.raises(Crowded, match="Undo or pull guard"):
            driver.press(one, c.Undo())
        newest = last_press({name: driver.state(name) for name in driver.names})
        assert newest is not None
        assert newest[0] == two
        driver.press(two, c.Undo())
        driver.press(one, c.Undo())
        with pytest.raises(Refused, match="Tank holds 1"):
            driver.press(two, c.Redo())


def test_a_press_of_another_run_limits_back_dating(tmp_path: Path) -> None:
    """A part can't have gone in before the other run's part came out."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel")), driver.set_up(_new("guard"))
        for name in (one, two):
            for command in READY:
                driver.press(name, command)
        _dip(driver, one, "pommel", clock)
        driver.press(two, c.Begin("guard"))
        driver.press(two, c.Finish("guard"))
        clock.advance(5 * MINUTE)
        driver.press(one, c.Begin("pommel"))
        clock.advance(10_000)
        driver.press(two, c.Finish("guard"))
        with pytest.raises(Refused, match="The limit is 10 s"):
            driver.press(two, c.BackDate(20_000))
        driver.press(two, c.BackDate(10_000))


def test_part_numbers_are_unique_on_the_bench(tmp_path: Path) -> None:
    """Two runs of two parts are 1 to 4, a part that joins is 5, and a free number returns."""
    with _opened(tmp_path, ManualClock(NOON)) as driver:
        one, two = driver.set_up(_new("pommel", "cap")), driver.set_up(_new("guard", "pin"))
        driver.press(one, c.AddPart("ring", "small"))
        numbers = {p.name: p.number for _, p in driver.shop(driver.stamp()).parts()}
        assert numbers == {"pommel": 1, "cap": 2, "guard": 3, "pin": 4, "ring": 5}
        driver.press(one, c.Abort())
        three = driver.set_up(_new("blade", "spine", "tip", "heel"))
        assert [p.number for p in driver.state(three).bench.parts.values()] == [1, 2, 5, 6]
        assert driver.shop(driver.stamp()).numbered(5) == (three, "tip")
        driver.press(one, c.Undo())  # that run is back, with other numbers
        shop = driver.shop(driver.stamp())
        assert len({part.number for _, part in shop.parts()}) == len(list(shop.parts())) == 9
        assert [p.number for run, p in shop.parts() if run == two] == [3, 4]


ACID = SMALL.replace('title = "Tank"\n', 'title = "Etch"\nchemistry = ["acid"]\n').replace(
    'title = "Hot tank"', 'title = "Etchant burns"'
)
CAUSTIC = SMALL.replace('title = "Tank"\n', 'title = "Salts"\nchemistry = ["alkali", "nitrite"]\n')


def _hazard(driver: OpenBench, run: str) -> str:
    """The page that the large line asks a run to read; empty if none."""
    action = driver.moment().first_of(run)
    assert action is not None
    return action.hazard.title if action.hazard is not None else ""


def test_an_etch_open_in_one_run_is_acknowledged_before_the_caustic_of_another(
    tmp_path: Path,
) -> None:
    """The first step into the salts needs both clash pages read."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        two = driver.set_up(_new("guard", text=CAUSTIC))
        for command in READY:
            driver.press(two, command)
        assert not driver.shop(driver.stamp()).bench(two).clashes
        one = driver.set_up(_new("blade", text=ACID))
        assert _hazard(driver, one) == "Acid and alkali on one bench: violent heat and spray"
        with pytest.raises(Refused, match="Acid and alkali on one bench"):
            driver.press(one, c.Start())
        titles = [page.title for page in driver.shop(driver.stamp()).bench(one).clashes]
        assert titles == [
            "Acid and alkali on one bench: violent heat and spray",
            "Acid and nitrite on one bench: poison gas (nitrogen oxides)",
        ]
        for title in (*titles, "Etchant burns"):
            driver.press(one, c.Acknowledge(title))
        driver.press(one, c.Start())
        # The salts were ready first; now that the etch is open, their next step asks too.
        assert _hazard(driver, two) == titles[0]
        with pytest.raises(Refused, match="Acid and alkali on one bench"):
            driver.press(two, c.Begin("guard"))
        for title in titles:
            driver.press(two, c.Acknowledge(title))
        driver.press(two, c.Begin("guard"))
        clock.advance(1000)
        driver.press(two, c.Abort())
        assert not driver.shop(driver.stamp()).bench(one).clashes


def test_a_part_in_the_salts_can_always_be_pulled(tmp_path: Path) -> None:
    """No page blocks the pull of a part from its bath."""
    with _opened(tmp_path, clock := ManualClock(NOON)) as driver:
        two = driver.set_up(_new("guard", text=CAUSTIC))
        for command in READY:
            driver.press(two, command)
        _dip(driver, two, "guard", clock)
        one = driver.set_up(_new("blade", text=ACID))
        for page in driver.shop(driver.stamp()).bench(one).clashes:
            driver.press(one, c.Acknowledge(page.title))
        driver.press(one, c.Acknowledge("Etchant burns"))
        driver.press(one, c.Start())
        clock.advance(5 * MINUTE)
        driver.press(two, c.Begin("guard"))
        assert driver.state(two).bench.parts["guard"].station is None


def test_a_bath_of_the_bath_book_counts_as_open(tmp_path: Path) -> None:
    """The page names a mixed etchant of the book until it is retired."""
    with _opened(tmp_path, ManualClock(NOON)) as driver:
        driver.write_bath("etch 2", MixBath("Ferric chloride", fecl3="40 Be"))
        run = driver.set_up(_new("guard", text=CAUSTIC))
        first = driver.shop(driver.stamp()).bench(run).clashes[0]
        assert first.title == "Acid and alkali on one bench: violent heat and spray"
        assert "acid: Ferric chloride (etch 2); alkali: Salts" in first.text
        assert first.before == ("tank",)
        with closing(look_on(tmp_path, ManualClock(NOON))) as watcher:
            assert watcher.moment().actions == driver.moment(watcher.stamp()).actions
        driver.write_bath("etch 2", Retire("poured into the shop's waste drum"))
        assert not driver.shop(driver.stamp()).bench(run).clashes


def test_a_run_not_yet_set_up_opens_no_bath(tmp_path: Path) -> None:
    """A run set up for tomorrow, with nothing mixed or heated, is no hazard today."""
    with _opened(tmp_path, ManualClock(NOON)) as driver:
        driver.set_up(_new("blade", text=ACID))
        two = driver.set_up(_new("guard", text=CAUSTIC))
        assert not driver.shop(driver.stamp()).bench(two).clashes


def test_chemicals_that_must_not_meet_never_share_a_vessel(tmp_path: Path) -> None:
    """A recipe with acid in the bath that another run uses for caustic is refused."""

    def wanting(chemistry: str) -> str:
        bath = f'title = "Tank"\nbath = "soup"\nchemistry = ["{chemistry}"]\n'
        mix = f'[[mix]]\nid = "soup"\ntitle = "Soup"\nchemistry = ["{chemistry}"]\n'
        mix += 'of = [{ what = "soup", parts = 1 }]\n\n'
        guarded = SMALL.replace('title = "Tank"\n', bath)
        return guarded.replace("[[hazard]]", f"{mix}[[hazard]]", 1)

    with _opened(tmp_path, ManualClock(NOON)) as driver:
        driver.write_bath("soup 1", MixBath("Soup", mix="soup"))
        first = driver.set_up(_new("guard", text=wanting("alkali")))
        with pytest.raises(Refused, match=f"run {first} uses it: acid and alkali in one vessel"):
            driver.set_up(_new("blade", text=wanting("acid")))
        assert driver.names == [first]
