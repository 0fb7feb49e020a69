"""Places for the stations of several recipes: one tank, or two with the same name."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import PlaceError, choose_places, place_recipes, put
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles


def tank(title: str = "Tank", *lines: str, step: str = "dip") -> Recipe:
    """A recipe with one step in a station with the id ``tank``."""
    text = f"""
schema = 1
title = "{title}"

[[station]]
id = "tank"
title = "{title}"
{chr(10).join(lines)}

[[hazard]]
before = ["tank"]
title = "Mind the {title}"
text = "It bites."

[walk.tank]
tank = "5 s"

[[step]]
id = "{step}"
title = "Dip"
at = "tank"
hands = "20 s"
dwell = {{ min = "4 min", target = "5 min", max = "8 min" }}
"""
    return parse_recipe(text.encode(), name=title, default_id=title.lower().replace(" ", "-"))


ACID = tank("Acid tank", 'chemistry = ["acid"]')
CAUSTIC = tank("Caustic tank", 'chemistry = ["alkali"]')


def test_one_id_in_two_recipes_means_two_tanks() -> None:
    """Acid and caustic tanks that are both called "tank" are two places."""
    found = put({"acid": ACID, "caustic": CAUSTIC})
    assert {p.title for p in found.places.values()} == {"Acid tank", "Caustic tank"}
    for key, recipe in found.recipes.items():
        (station,) = recipe.station
        assert recipe.step[0].at == station.id == found.at[f"{key}.tank"]
        assert recipe.hazard[0].before == (station.id,)
        assert list(recipe.hazards_for(recipe.step[0])) == list(recipe.hazard)
        assert recipe.walk_s(station.id, station.id) == 5


def test_the_same_station_in_two_recipes_is_one_place_with_the_narrower_limits() -> None:
    """With id, title, bath and chemistry alike, one tank takes the smaller room and window."""
    window = "temperature = {{ min = '{}', max = '{}', every = '{}' }}"
    one = tank("Tank", "holds = 3", window.format("20 C", "40 C", "1 h"))
    other = tank("Tank", "holds = 2", window.format("30 C", "50 C", "30 min"), step="soak")
    found = put({"one": one, "other": other})
    (place,) = found.places.values()
    assert (place.holds, found.at) == (2, {"one.tank": "tank", "other.tank": "tank"})
    assert place.temperature is not None
    limits = (place.temperature.min.base, place.temperature.max.base, place.temperature.every_s)
    assert limits == (30, 40, 1800)
    assert found.recipes["one"].station == found.recipes["other"].station


def test_one_bath_of_the_bath_book_is_one_place_under_any_name() -> None:
    """Two recipes with one bath share a tank; two baths need two."""
    soda, neutral = tank("Soda"), tank("Neutral", step="calm")
    recipes = {"a": soda, "b": neutral}
    assert len(put(recipes, {"a.tank": "soda 1", "b.tank": "soda 1"}).places) == 1
    assert len(put(recipes, {"a.tank": "soda 1", "b.tank": "soda 2"}).places) == 2
    assert len(put({"a": soda, "b": soda}, {"a.tank": "1", "b.tank": "2"}).places) == 2


def test_a_bath_wanted_at_two_temperatures_is_refused() -> None:
    """Windows that don't overlap can't share a tank."""
    cold = tank("Tank", "temperature = { min = '10 C', max = '20 C' }")
    warm = tank("Tank", "temperature = { min = '30 C', max = '40 C' }")
    with pytest.raises(PlaceError, match="at least 30 C, another at most 20 C"):
        put({"cold": cold, "warm": warm})


def test_chemistry_that_must_not_meet_is_not_put_into_one_tank() -> None:
    """A bath that two recipes use for acid and caustic is refused."""
    with pytest.raises(PlaceError, match="acid and alkali in one vessel"):
        put({"a": ACID, "b": CAUSTIC}, {"a.tank": "drum", "b.tank": "drum"})


def test_two_places_with_one_title_name_their_recipe() -> None:
    """Two places with one title name their recipes."""
    boil = tank("Boil", 'bath = "water"')
    found = put({"black": boil, "blue": boil}, {"black.tank": "old", "blue.tank": "new"})
    assert {p.title for p in found.places.values()} == {"Boil (black)", "Boil (blue)"}


def test_a_place_keeps_its_id_when_a_recipe_joins() -> None:
    """A recipe that joins does not change the places of a run."""
    before = choose_places({"a": ACID})
    after = choose_places({"a": ACID, "b": CAUSTIC}, known=before)
    assert after["a.tank"] == before["a.tank"] == "tank"
    assert after["b.tank"] != "tank"


@pytest.mark.parametrize(
    ("recipes", "apart"),
    [
        (("hot-black", "slow-rust-blue"), ("boil", "oil", "sink")),
        (("hot-black", "etch-darken"), ("sink",)),
    ],
)
def test_shipped_recipes_share_only_equal_places(
    recipes: tuple[str, str], apart: tuple[str, ...]
) -> None:
    """The caustic boil and the clean boil are two places, and so are the two sinks."""
    shelf = RecipeFiles()
    for order in permutations(recipes):
        found = put({name: shelf.find(name) for name in order})
        for station in apart:
            assert found.at[f"{recipes[0]}.{station}"] != found.at[f"{recipes[1]}.{station}"]


@given(st.lists(st.sampled_from(["Acid", "Soda", "Oil", "Boil"]), min_size=1, max_size=6))
def test_every_station_has_a_place_and_every_place_its_own_id(titles: list[str]) -> None:
    """For any number of recipes, equal tanks share a place and others don't."""
    recipes = {f"r{i}": tank(title) for i, title in enumerate(titles)}
    found = place_recipes(recipes, choose_places(recipes))
    assert len(found.places) == len(set(titles))
    assert {p.title for p in found.places.values()} == set(titles)
    by_place = {key: found.places[found.at[f"{key}.tank"]].title for key in recipes}
    assert by_place == {f"r{i}": title for i, title in enumerate(titles)}
