"""How spent a bath is, and the warnings before a run."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bath.bath_state import Bath, TimedReading, Usage
from benchtimer.bath.bath_wear import WearLimits, complaints, exhaustion, wear_of
from benchtimer.bath.ties import needs, tie, warnings
from benchtimer.quantity import Quantity, parse
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import ShopPlace
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run.refusals import Refused
from benchtimer.times import rough_duration

DAY = 86_400_000
ETCH = Bath(
    "etch 1", 0, "Etchant for short cycles", "etchant", "etch-darken",
    made=Quantity(2, "L"), fecl3=Quantity(20, "%"), window=(Quantity(18, "C"), Quantity(27, "C")),
)  # fmt: skip


def _used(bath: Bath, parts: int, minutes: float) -> Bath:
    names = tuple(f"p{i}" for i in range(parts))
    return replace(bath, used={"r1": Usage(names, parts, round(minutes * 60_000))})


def test_exhaustion_by_the_balanced_equation() -> None:
    """2 L of 20 % FeCl3 take 81.5 g of iron, and half of that is half.

    Iron: 2 x 1183 x 0.20 x 0.17214 g/g (2 FeCl3 + Fe -> 3 FeCl2), with 1.183 kg/L at 20 C from the
    producer's table.
    """
    share, why = exhaustion(replace(ETCH, removed_g=40.73))
    assert share == pytest.approx(0.5, abs=0.001)
    assert why == ""


@pytest.mark.parametrize(
    ("bath", "why"),
    [
        (ETCH, "no metal weighed yet"),
        (replace(ETCH, made=None, removed_g=1.0), "volume is not known"),
        (replace(ETCH, fecl3=None, removed_g=1.0), "not entered as ferric chloride"),
        (replace(ETCH, removed_g=500.0), "more than the bath could dissolve"),
    ],
)
def test_what_cannot_be_estimated_is_named(bath: Bath, why: str) -> None:
    """Without strength, volume or weights the reason replaces the figure."""
    share, said = exhaustion(bath)
    assert share is None
    assert why in said
    assert why in wear_of(bath).words


def test_without_limits_there_is_no_estimate() -> None:
    """Without a published or set limit the text says so and gives parts and time."""
    words = wear_of(_used(replace(ETCH, fecl3=None), 3, 90)).words
    assert words == (
        "3 parts, 1 h 30 min of dwell; there is no published limit, and your settings have none"
    )


def test_the_nearest_limit_sets_the_wear() -> None:
    """The limit closest to being reached counts."""
    worn = wear_of(_used(ETCH, 3, 90), WearLimits(parts=10, dwell_s=7200))
    assert worn.share == pytest.approx(0.75)
    assert "75 % of the shop's limit" in worn.words


def test_a_good_bath_has_no_complaints() -> None:
    """A young, fresh bath, read in its window, has no warning."""
    bath = replace(_used(ETCH, 3, 90), by_hand=(TimedReading(0, Quantity(20, "C")),))
    assert complaints(bath, WearLimits(age_s=86_400 * 60, parts=40), DAY) == []


@pytest.mark.parametrize(
    ("bath", "limits", "words"),
    [
        (ETCH, WearLimits(age_s=86_400), "old: 3 d, this shop's limit is 1 d"),
        (_used(ETCH, 4, 1), WearLimits(parts=4), "spent: 4 parts, this shop's limit is 4"),
        (_used(ETCH, 1, 61), WearLimits(dwell_s=3600), "spent: 1 h 1 min of dwell"),
        (replace(ETCH, removed_g=40.0), WearLimits(exhaustion=0.3), "spent: about 49 % of its"),
        (replace(ETCH, removed_g=500.0), WearLimits(), "more metal than it could"),
        (
            replace(ETCH, by_hand=(TimedReading(2 * DAY, parse("12 C")),)),
            WearLimits(),
            "last read 12 C, 1 d ago: under its window of 18 C to 27 C",
        ),
        (
            replace(ETCH, by_hand=(TimedReading(2 * DAY, parse("90 F")),)),
            WearLimits(),
            "over its window of 18 C to 27 C",
        ),
        (replace(ETCH, retired_ms=DAY, how="x"), WearLimits(), "it is retired"),
    ],
)
def test_reasons_to_replace_a_bath(bath: Bath, limits: WearLimits, words: str) -> None:
    """An old, spent or out-of-range bath has one short text each, with figure and limit."""
    found = complaints(bath, limits, 3 * DAY)
    assert len(found) == 1
    assert words in found[0]


@given(
    st.integers(0, 500), st.floats(0, 1e5), st.floats(0, 80), st.integers(1, 500),
    st.integers(1, 10**6),
)  # fmt: skip
def test_more_use_never_means_less_wear(
    parts: int, minutes: float, grams: float, max_parts: int, max_dwell_s: int
) -> None:
    """Use never lowers the share of the limit, and a share of one or more gives a warning."""
    limits = WearLimits(parts=max_parts, dwell_s=max_dwell_s, exhaustion=0.5)
    less = replace(_used(ETCH, parts, minutes), removed_g=grams)
    more = replace(_used(ETCH, parts + 1, minutes + 1), removed_g=grams + 1)
    first, second = wear_of(less, limits), wear_of(more, limits)
    assert first.share is not None
    assert second.share is not None
    assert second.share >= first.share
    assert (first.share >= 1) == bool(complaints(less, limits, 0))


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (61, "1 min 1 s"), (3661, "1 h 1 min"), (7100, "1 h 58 min"), (7200, "2 h"),
     (172_799, "1 d 23 h"), (172_800, "2 d"), (40 * 86_400, "40 d")],
)  # fmt: skip
def test_ages_have_handy_units(seconds: float, words: str) -> None:
    """An age shows its two largest units, in whole numbers."""
    assert rough_duration(seconds) == words


def _recipes(*names: str) -> dict[str, Recipe]:
    return {name: RecipeFiles().find(name) for name in names}


def test_the_newest_open_bath_is_chosen() -> None:
    """Of two open baths of the mix the newer is in the station; a retired one is never used."""
    older, newer = ETCH, replace(ETCH, name="etch 2", mixed_ms=DAY)
    gone = replace(ETCH, name="etch 3", mixed_ms=2 * DAY, retired_ms=2 * DAY)
    tied = tie(_recipes("etch-darken"), [newer, older, gone])
    assert list(tied.values()) == ["etch 2"]


def test_two_recipes_may_need_different_oils() -> None:
    """Two recipes call different things "oil", so neither uses the other's bath."""
    oil = Bath("oil 1", 0, "Water-displacing oil", "oil", "hot-black")
    assert "oil 1" in tie(_recipes("hot-black"), [oil]).values()
    assert "oil 1" not in tie(_recipes("slow-rust-blue"), [oil]).values()
    anyone = replace(oil, recipe=None)
    assert "oil 1" in tie(_recipes("slow-rust-blue"), [anyone]).values()


def test_one_mix_serves_every_recipe_that_shares_it() -> None:
    """Two recipes with the same mix of the same name share its bath."""
    soda = Bath("soda", 0, "Bicarbonate bath", "neutralizer", "etch-darken")
    tied = tie(_recipes("slow-rust-blue"), [soda])
    assert "soda" in tied.values()


def test_a_bath_can_be_chosen_for_a_station() -> None:
    """A chosen bath beats the automatic choice."""
    need = needs(_recipes("etch-darken"))[0]
    other = replace(ETCH, name="old drum", mix=None)
    for station in (need.station.id, need.at):
        tied = tie(_recipes("etch-darken"), [ETCH, other], {station: "old drum"})
        assert tied[need.at] == "old drum"


def test_an_id_that_two_tanks_share_is_refused() -> None:
    """If two recipes call different tanks "oil", a choice must name the recipe."""
    recipes = _recipes("hot-black", "slow-rust-blue")
    oil = Bath("oil 1", 0, "Water-displacing oil", "oil", "hot-black")
    with pytest.raises(Refused, match=r"hot-black\.oil or slow-rust-blue\.oil"):
        tie(recipes, [oil], {"oil": "oil 1"})
    tied = tie(recipes, [oil], {"slow-rust-blue.oil": "oil 1"})
    assert tied["slow-rust-blue.oil"] == "oil 1"


SODA_TANK = ShopPlace("soda", "Soda tank", 2, ("etch-darken.neutral", "slow-rust-blue.soda"))


def test_stations_at_one_place_have_one_bath() -> None:
    """Stations at one place share the newest bath that suits both, or the chosen one."""
    recipes = _recipes("etch-darken", "slow-rust-blue")
    old = Bath("old", 0, "Bicarbonate bath", "neutralizer", "etch-darken")
    own = replace(old, name="own", of="Own soda", mixed_ms=DAY, recipe="slow-rust-blue")
    apart = tie(recipes, [old, own])
    assert (apart["etch-darken.neutral"], apart["slow-rust-blue.soda"]) == ("old", "own")
    for wanted, name in (({}, "old"), ({"slow-rust-blue.soda": "own"}, "own")):
        tied = tie(recipes, [old, own], wanted, [SODA_TANK])
        assert {tied[at] for at in SODA_TANK.stations} == {name}


def test_two_baths_for_one_place_are_refused() -> None:
    """Two baths chosen for one tank are refused, and the message says what to do."""
    recipes = _recipes("etch-darken", "slow-rust-blue")
    one = Bath("one", 0, "Bicarbonate bath", "neutralizer", "etch-darken")
    wanted = {"etch-darken.neutral": "one", "slow-rust-blue.soda": "two"}
    with pytest.raises(Refused, match=r"one and two would be in one tank.*--bath"):
        tie(recipes, [one, replace(one, name="two")], wanted, [SODA_TANK])


@pytest.mark.parametrize(
    ("wanted", "words"),
    [({"nowhere": "etch 1"}, 'No station "nowhere"'),
     ({"rack": "etch1"}, 'Did you mean "etch 1"'),
     ({"rack": "gone"}, "it is retired")],
)  # fmt: skip
def test_a_wrong_choice_is_refused(wanted: dict[str, str], words: str) -> None:
    """An unknown station, an unknown bath and a retired one each get a message."""
    gone = replace(ETCH, name="gone", retired_ms=1, how="x")
    with pytest.raises(Refused, match=words):
        tie(_recipes("hot-black"), [ETCH, gone], wanted)


def test_missing_baths_are_listed_on_one_line() -> None:
    """One line names all stations whose mix is in no book, and how to enter it."""
    recipes = _recipes("hot-black")
    warned = warnings(recipes, {}, {}, {}, 0)
    assert len(warned) == 1
    assert "black-salts (salts)" in warned[0]
    assert "M: the bath book" in warned[0]


def test_a_bath_is_judged_by_its_stations_window() -> None:
    """The window of the station judges a bath that has none."""
    salts = Bath("s", 0, "x", "black-salts", by_hand=(TimedReading(0, parse("300 F")),))
    warned = warnings(_recipes("hot-black"), {"hot-black.salts": "s"}, {"s": salts}, {}, 60_000)
    assert "over its window of 285 F to 295 F" in warned[0]
