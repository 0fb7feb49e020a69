"""How spent baths are, against hand calculations, and which stations use them."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.bath.bath_state import Bath, TimedReading, Usage
from benchtimer.bath.bath_wear import WearLimits, complaints, exhaustion, percent, wear_of
from benchtimer.bath.ties import needs, suits, tie, warnings
from benchtimer.quantity import Quantity, parse
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.reader import parse_recipe

HOUR = 3_600_000
ETCH = Bath("etch 1", 0, "Etchant", made=Quantity(2, "L"), fecl3=Quantity(20, "%"))

with (Path(__file__).parent / "worn.toml").open("rb") as _file:
    CASES: list[dict[str, Any]] = tomllib.load(_file)["case"]


def _bath(case: dict[str, Any]) -> Bath:
    names = tuple(f"p{i}" for i in range(case.get("parts", 0)))
    use = Usage(names, len(names), case.get("minutes", 0) * 60_000)
    return replace(ETCH, used={"r1": use}, removed_g=case.get("removed_g"))


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_wear_agrees_with_a_calculation_by_hand(case: dict[str, Any]) -> None:
    """Words, share of the limit, salt used and warnings match the case."""
    bath, limits = _bath(case), WearLimits(**case.get("limits", {}))
    worn = wear_of(bath, limits)
    assert worn.words == case["words"]
    share = case.get("share")
    assert worn.share == (share if share is None else pytest.approx(share, rel=1e-3))
    if "used_up" in case:
        assert exhaustion(bath)[0] == pytest.approx(case["used_up"], rel=1e-3)
    if "against" in case:
        assert complaints(bath, limits, case.get("age_h", 0) * HOUR) == case["against"]


@pytest.mark.parametrize(
    ("share", "words"),
    [(0, "0 %"), (0.004, "0.4 %"), (0.0994, "9.9 %"), (0.1, "10 %"),
     (0.999, "100 %"), (1.5, "150 %")],
)  # fmt: skip
def test_shares_have_two_figures(share: float, words: str) -> None:
    """A share has one decimal below a tenth, and none above."""
    assert percent(share) == words


_WINDOW = (parse("60 C"), parse("70 C"))


@pytest.mark.parametrize(
    ("reading", "against"),
    [("60 C", None), ("70 C", None), ("140 F", None), ("59.9 C", "under"), ("70.1 C", "over"),
     ("158.2 F", "over"), ("7 pH", None)],
)  # fmt: skip
def test_a_reading_is_judged_by_the_window(reading: str, against: str | None) -> None:
    """A window includes its ends, in any unit, and only temperatures are judged."""
    bath = replace(ETCH, fecl3=None, by_hand=(TimedReading(0, parse(reading)),))
    found = complaints(bath, WearLimits(), 5 * HOUR, _WINDOW)
    said = f"last read {parse(reading)}, 5 h ago: {against} its window of 60 C to 70 C"
    assert found == ([said] if against else [])


def test_the_newest_temperature_is_judged() -> None:
    """Only the newest reading counts, whether by hand or in a run."""
    hot, fine = TimedReading(HOUR, parse("90 C"), "r1"), TimedReading(2 * HOUR, parse("65 C"))
    bath = replace(ETCH, by_hand=(fine,), used={"r1": Usage(readings=(hot,))})
    assert complaints(bath, WearLimits(), 5 * HOUR, _WINDOW) == []
    later = replace(bath, used={"r1": Usage(readings=(replace(hot, t_ms=3 * HOUR),))})
    assert len(complaints(later, WearLimits(), 5 * HOUR, _WINDOW)) == 1


TANK = '[[station]]\nid = "{}"\ntitle = "T"\nbath = "{}"\n'
MIX = '[[mix]]\nid = "{}"\ntitle = "{}"\nof = [{{ what = "water", parts = 1 }}]\n'
STEP = '[[step]]\nid = "s"\ntitle = "S"\nhands = "1 s"\n'


def _recipe(name: str, station: str, mix: str, title: str = "") -> Recipe:
    text = f'schema = 1\ntitle = "{name}"\n' + TANK.format(station, mix) + STEP
    text += MIX.format(mix, title) if title else ""
    return parse_recipe(text.encode(), name=name, default_id=name)


@pytest.mark.parametrize(
    ("bath", "fits"),
    [
        (Bath("b", 0, "Brew", "brew", "one"), True),
        (Bath("b", 0, "Brew", "brew", None), True),
        (Bath("b", 0, "Brew", "brew", "two"), True),
        (Bath("b", 0, "Other words", "brew", "two"), False),
        (Bath("b", 0, "Other words", "brew", "one"), True),
        (Bath("b", 0, "Brew", "broth", "one"), False),
        (Bath("b", 0, "Brew", None, None), False),
        (Bath("b", 0, "Brew", "brew", "one", retired_ms=1), False),
    ],
)
def test_a_bath_fits_by_its_mix(bath: Bath, fits: bool) -> None:
    """A bath suits if it is open, has the mix's id, and matches the recipe or its mix's name."""
    (need,) = needs({"one": _recipe("one", "tank", "brew", "Brew")})
    assert suits(bath, need) == fits


_BATHS = st.lists(
    st.builds(
        Bath,
        st.sampled_from("abcdef"),
        st.integers(0, 5),
        st.just("Brew"),
        st.sampled_from(["brew", "broth", None]),
        st.sampled_from(["one", "two", None]),
        retired_ms=st.sampled_from([None, None, 9]),
    ),
    unique_by=lambda bath: bath.name,
)


@settings(deadline=None)
@given(_BATHS)
def test_the_newest_bath_that_fits_is_chosen(baths: list[Bath]) -> None:
    """The bath at a station suits it, and no other that suits is newer."""
    recipes = {"one": _recipe("one", "tank", "brew", "Brew"), "two": _recipe("two", "pot", "broth")}
    tied = tie(recipes, baths)
    for need in needs(recipes):
        fit = [bath for bath in baths if suits(bath, need)]
        assert (need.at in tied) == bool(fit)
        chosen = [bath for bath in fit if bath.name == tied.get(need.at)]
        assert [b.mixed_ms for b in chosen] == sorted(b.mixed_ms for b in fit)[-1:]


def test_each_recipes_station_has_its_own_need() -> None:
    """Two recipes with the same tank name each list their own need."""
    recipes = {"one": _recipe("one", "tank", "brew"), "two": _recipe("two", "tank", "broth")}
    assert [(n.at, n.recipe, n.mix_id, n.mix) for n in needs(recipes)] == [
        ("one.tank", "one", "brew", None),
        ("two.tank", "two", "broth", None),
    ]


def test_everything_missing_is_on_one_line() -> None:
    """Each spent bath has a line, and all stations without a bath share one."""
    recipes = {"one": _recipe("one", "tank", "brew"), "two": _recipe("two", "pot", "broth")}
    old = Bath("brew 1", 0, "Brew", "brew", used={"r": Usage(("a", "b"))})
    warned = warnings(
        recipes, {"one.tank": "brew 1"}, {"brew 1": old}, {"brew": WearLimits(parts=1)}, 0
    )
    assert warned == [
        "bath brew 1 (tank): spent: 2 parts, this shop's limit is 1",
        "not in the bath book: broth (pot). M: the bath book",
    ]


def test_a_mix_missing_at_two_stations_is_named_for_both() -> None:
    """Two tanks of one mix need two baths; a tank that two recipes share needs one."""
    recipes = {"one": _recipe("one", "tank", "brew"), "two": _recipe("two", "pot", "brew"),
               "three": _recipe("three", "tank", "brew")}  # fmt: skip
    assert warnings(recipes, {}, {}, {}, 0) == [
        "not in the bath book: brew (tank), brew (pot). M: the bath book"
    ]
