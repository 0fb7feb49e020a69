"""The shop's own places: declared in the settings, or asked about."""

from __future__ import annotations

import pytest

from benchtimer.recipe.onetank import groups_to_ask, settled_places
from benchtimer.recipe.places import PlaceError, ShopPlace, choose_places, put
from benchtimer.recipe.recipe_files import RecipeFiles
from tests.recipe.test_places import ACID, CAUSTIC, tank

BOIL = ShopPlace("boil", "Big pot", 2, ("black.tank", "blue.tank"))
BLACK, BLUE = tank("Boil", "holds = 3"), tank("Clean boil", "holds = 4", step="rinse")
BOTH = {"black": BLACK, "blue": BLUE}


def test_stations_that_the_settings_put_together_are_one_place() -> None:
    """They share the shop's title and room; without the settings they are two places."""
    assert len(put(BOTH).places) == 2
    (place,) = put(BOTH, shop=(BOIL,)).places.values()
    assert (place.id, place.title, place.holds) == ("boil", "Big pot", 2)


def test_the_smaller_capacity_of_recipe_and_shop_counts() -> None:
    """A shop's tank of ten does not raise a recipe's three."""
    (place,) = put(BOTH, shop=(ShopPlace("pot", "", 10, BOIL.stations),)).places.values()
    assert (place.title, place.holds) == ("Boil", 3)


def test_stations_that_the_settings_separate_are_two_places() -> None:
    """Two identical stations are two places if the settings name two."""
    shop = (ShopPlace("old", "Old pot", 1, ("a.tank",)), ShopPlace("new", "", 2, ("b.tank",)))
    found = put({"a": BLACK, "b": BLACK}, shop=shop)
    assert found.at == {"a.tank": "old", "b.tank": "new"}


def test_a_declared_id_is_never_shared_with_another_place() -> None:
    """A station with the id of a declared place gets a longer id."""
    shop = (ShopPlace("tank", "Pot", 1, ("black.tank",)),)
    found = put(BOTH, shop=shop)
    assert found.at["black.tank"] == "tank" != found.at["blue.tank"]


def test_a_recipe_that_joins_uses_the_settings_places() -> None:
    """The first recipe's place keeps its id, and the second recipe goes there."""
    before = choose_places({"black": BLACK})
    after = choose_places(BOTH, known=before, shop=(BOIL,))
    assert after["blue.tank"] == after["black.tank"] == before["black.tank"]


def test_acid_and_caustic_cannot_be_declared_one_place() -> None:
    """The settings can't join chemistry that must not meet."""
    shop = (ShopPlace("drum", "Drum", 1, ("a.tank", "b.tank")),)
    with pytest.raises(PlaceError, match="in one vessel"):
        put({"a": ACID, "b": CAUSTIC}, shop=shop)


def test_stations_with_something_in_common_are_asked_about_once() -> None:
    """Stations that share an id, title or bath are asked about until each has its place."""
    (group,) = groups_to_ask(BOTH)
    assert [where for where, _ in group] == ["black.tank", "blue.tank"]
    shop = settled_places(BOTH, (), group, [ShopPlace("", "Pot", 2, BOIL.stations)])
    assert shop == [ShopPlace("tank", "Pot", 2, ("black.tank", "blue.tank"))]
    assert groups_to_ask(BOTH, shop) == []
    alone = settled_places(BOTH, (), group, [])
    assert [place.stations for place in alone] == [("black.tank",), ("blue.tank",)]
    assert groups_to_ask(BOTH, alone) == []


def test_the_shipped_recipes_ask_about_soda_and_boil() -> None:
    """The bicarbonate baths of three recipes are one question, though their ids differ."""
    shelf = RecipeFiles()
    recipes = {name: shelf.find(name) for name in shelf.paths()}
    asked = [{where for where, _ in group} for group in groups_to_ask(recipes)]
    soda = {"etch-darken.neutral", "slow-rust-blue.soda", "strip-black.soda"}
    assert any(soda <= group for group in asked)
    assert {"hot-black.boil", "slow-rust-blue.boil"} in asked
