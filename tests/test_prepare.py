"""The page before a run: all to wear, mix, heat and set, in the shop's units."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.check_list import CheckList, Item, in_units, make_page, render_page
from benchtimer.quantity import parse
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.settings import Settings

HERE = Path(__file__).parent


def _recipe(text: str, name: str) -> Recipe:
    return parse_recipe(text.encode(), name=name, default_id=name)


WHOLE = _recipe((HERE / "recipe" / "whole.toml").read_text(encoding="utf-8"), "whole")
BOIL = _recipe(
    """
schema = 1
title = "Boil it clean"
[[station]]
id = "boil"
title = "Boiling rinse"
[[station]]
id = "near"
title = "Kettle"
temperature = { min = "96 C", target = "99 C", max = "100 C" }
[[station]]
id = "salts"
title = "Salts"
bath = "salts"
chemistry = ["alkali"]
temperature = { min = "285 F", target = "290 F", max = "295 F" }
[[hazard]]
before = ["near", "salts"]
title = "Hot water, hot salts"
text = "They burn."
[[step]]
id = "boil"
title = "Boil"
hands = "10 s"
at = "boil"
dwell = { min = "1 min", target = "5 min" }
""",
    "boil",
)
WHEEL = _recipe(
    """
schema = 1
title = "Buff"
[[hazard]]
before = "buff"
title = "Wheel: it grabs"
text = "It grabs and throws."
wear = ["face shield", "dust mask"]
[[step]]
id = "buff"
title = "Buff"
hands = "5 min"
[[step.check]]
id = "speed"
kind = "reading"
ask = "At what surface speed?"
min = "20 m/s"
max = "30 m/s"
""",
    "wheel",
)
METRIC = Settings()
HIGH_UP = Settings.model_validate(
    {
        "units": "us",
        "altitude": "1600 m",
        "vessels": {"brew": "2 gal"},
        "wheels": ["8 in", "150 mm"],
    }
)


def page_of(
    *recipes: Recipe, shop: Settings = METRIC, baths: Mapping[str, str] | None = None
) -> CheckList:
    """The page before a run of these recipes, with their stations at their places."""
    keyed = {f"{recipe.id}-{i}" if i else recipe.id: recipe for i, recipe in enumerate(recipes)}
    return make_page(put(keyed).recipes, shop, baths)


def _items(page: CheckList, section: str) -> list[Item]:
    return [item for s in page.sections if s.title == section for item in s.items]


def _lines(recipe: Recipe, section: str, shop: Settings = METRIC) -> list[str]:
    return [line for i in _items(page_of(recipe, shop=shop), section) for line in (i.text, *i.more)]


def test_the_page_of_a_metric_shop() -> None:
    """Mixes in grams and milliliters for the recipe's vessel, and the recipe's windows."""
    assert _lines(WHOLE, "Mixes") == [
        "Brew [brew]: 4 L, the recipe's vessel",
        "360 g salt (90 g/L, own tests; table salt)",
        "20 mL soap (5 mL/L)",
        "80 mL spirit (2 % by volume)",
        "12 g grit (12 g for 4 L)",
        "Salt into water, slowly.",
        "Polish [polish]: 1 L, as an example",
        "750 mL oil (3 parts)",
        "250 mL wax (1 part)",
    ]
    assert _lines(WHOLE, "Temperatures and readings") == [
        "Tank with a lid: 60 C to 70 C, target 65 C, never above 80 C, read every 10 min",
        "Wax pot: 150 F to 180 F (66 to 82 C)",
    ]


def test_the_page_of_a_shop_high_up() -> None:
    """Two gallons in its own vessel: 681 g of salt are 1.5 lb, 37.9 mL of soap 1.28 fl oz."""
    assert _lines(WHOLE, "Mixes", HIGH_UP)[:5] == [
        "Brew [brew]: 2 gal, your vessel",
        "1.5 lb salt (90 g/L, own tests; table salt)",
        "1.28 fl oz soap (5 mL/L)",
        "5.12 fl oz spirit (2 % by volume)",
        "0.8 oz grit (12 g for 4 L)",
    ]
    assert _lines(WHOLE, "Temperatures and readings", HIGH_UP) == [
        "Tank with a lid: 60 C to 70 C (140 to 158 F), target 65 C (149 F), "
        "never above 80 C (176 F), read every 10 min",
        "Wax pot: 150 F to 180 F",
    ]


@given(st.integers(1, 400))
def test_a_larger_vessel_takes_proportionally_more(tenths: int) -> None:
    """Every amount of a mix grows with the vessel, and plain parts fill it."""
    litres = tenths / 10
    shop = Settings.model_validate({"vessels": {"brew": f"{litres} L", "polish": f"{litres} L"}})
    items = _items(page_of(WHOLE, shop=shop), "Mixes")
    amounts = [
        parse(" ".join(line.split()[:2]))
        for i in items
        for line in i.more
        if line[0] in "0123456789"
    ]
    found = [amount.base for amount in amounts]
    wanted = [90 * litres, 0.005 * litres, 0.02 * litres, 3 * litres, 0.75 * litres, 0.25 * litres]
    assert found == pytest.approx(wanted, rel=0.006)


def test_gear_is_listed_once_with_its_hazards() -> None:
    """Gear for two hazards is listed once with both names, without their explanations."""
    gear = [item.text for item in _items(page_of(WHOLE, WHEEL, WHOLE), "Gear")]
    assert gear == [
        "face shield (Hot and caustic; Wheel)", "gauntlets (Hot and caustic)", "dust mask (Wheel)"
    ]  # fmt: skip


def test_a_hazard_is_printed_in_full_and_defers_to_the_data_sheet() -> None:
    """The page has text, first aid and nevers, after the data sheet and the law."""
    found = _items(page_of(WHOLE, WHOLE), "Hazards")
    assert [item.text for item in found[:-2]] == ["DANGER: Hot and caustic"]
    assert found[0].more == (
        "It burns skin and eyes.", "first aid: Rinse at once with plenty of water.",
        "never: acid near it", "never: water into it",
    )  # fmt: skip
    assert "They can differ" in found[1].text
    assert found[1].more[0].startswith("DANGER: this will cause death")
    assert "safety data sheet, local codes and the rules for licensed work" in found[2].text


def test_acid_and_alkali_in_one_run_come_first() -> None:
    """Acid and alkali in one run have a warning with its own gear, before all else."""
    acid = _recipe(
        (HERE / "recipe" / "whole.toml").read_text(encoding="utf-8")
        .replace('chemistry = ["alkali"]', 'chemistry = ["acid"]').replace('"tank"', '"etch"')
        .replace("tank =", "etch ="), "acid",
    )  # fmt: skip
    both, clash = (
        page_of(WHOLE, acid),
        "DANGER: Acid and alkali on one bench: violent heat and spray",
    )
    assert _items(both, "Hazards")[0].text == clash
    assert "a fresh pair of gloves for each bath (Acid and alkali on one bench)" in [
        item.text for item in _items(both, "Gear")
    ]
    (pair,) = _items(both, "Keep apart")
    assert pair.text.startswith("Tank with a lid (acid-1) and Tank with a lid (whole): violent")
    assert pair.sources
    for alone in (WHOLE, acid):
        assert "violent" not in render_page(page_of(alone))


def test_two_tanks_with_one_name_are_listed_as_two() -> None:
    """Two recipes with different tanks "tank" show two baths, titles and windows."""
    other = _recipe(
        (HERE / "recipe" / "whole.toml").read_text(encoding="utf-8")
        .replace('title = "Tank with a lid"', 'title = "Open tank"')
        .replace('min = "60 C", target = "65 C", max = "70 C"', 'min = "20 C", max = "30 C"'),
        "other",
    )  # fmt: skip
    page = page_of(WHOLE, other, baths={"tank": "brew 1", "other-1-tank": "brew 2"})
    found = {item.text: item.more[-1] for item in _items(page, "Stations") if "ank" in item.text}
    assert found == {
        "Tank with a lid [tank], room for 2 parts": "bath brew: brew 1",
        "Open tank [other-1-tank], room for 2 parts": "bath brew: brew 2",
    }
    windows = [item.text for item in _items(page, "Temperatures and readings")]
    assert any(text.startswith("Tank with a lid: 60 C to 70 C") for text in windows)
    assert any(text.startswith("Open tank: 20 C to 30 C") for text in windows)


def test_a_station_names_its_capacity_and_bath() -> None:
    """A station shows how many parts fit, and its bath in the book or that it has none."""
    page = page_of(WHOLE, BOIL, baths={"tank": "brew 1, 3 d old"})
    found = {item.text: item.more for item in _items(page, "Stations")}
    assert found["Bench [bench], room for one part"] == ()
    assert found["Tank with a lid [tank], room for 2 parts"][1] == "bath brew: brew 1, 3 d old"
    assert found["Salts [salts], room for one part"] == (
        "bath salts: none is open in the bath book",
    )
    assert len(found) == 6


def test_what_must_be_known_is_asked_once() -> None:
    """Two recipes that ask the same about a part share one line."""
    asked = _items(page_of(WHOLE, WHOLE), "What to know about each part")
    assert [item.text for item in asked] == ["At what heat was it tempered? [temper]"]


_CITED = "A card that stands on the shelf"


def test_figures_keep_their_sources() -> None:
    """The recipe's citation is below its line."""
    page = page_of(WHOLE)
    assert _items(page, "Mixes")[0].sources == (_CITED,)
    assert _items(page, "Temperatures and readings")[0].sources == (_CITED,)
    assert _items(page, "Stations")[1].sources == ("the shop's own tests",)


@pytest.mark.parametrize(
    ("text", "si", "us"),
    [
        ("2 L", "2 L", "67.6 fl oz"),
        ("0.25 L", "250 mL", "8.45 fl oz"),
        ("8 L", "8 L", "2.11 gal"),
        ("1 gal", "3.79 L", "1 gal"),
        ("90 g", "90 g", "3.17 oz"),
        ("1500 g", "1.5 kg", "3.31 lb"),
        ("65 C", "65 C", "149 F"),
        ("212 F", "100 C", "212 F"),
        ("90 g/L", "90 g/L", "90 g/L"),
        ("12.34 %", "12.3 %", "12.3 %"),
    ],
)
def test_quantities_are_in_the_shops_units(text: str, si: str, us: str) -> None:
    """Amounts have two or three figures in the shop's unit, or a smaller unit below one."""
    assert [in_units(parse(text), shop) for shop in (METRIC, HIGH_UP)] == [si, us]


@pytest.mark.parametrize("name", list(RecipeFiles().paths()))
@pytest.mark.parametrize("shop", [METRIC, HIGH_UP], ids=["metric", "us"])
def test_every_hazard_of_a_shipped_recipe_is_on_its_page(name: str, shop: Settings) -> None:
    """The page has each hazard, gear, mix and window of a shipped recipe."""
    recipe = RecipeFiles().find(name)
    page = page_of(recipe, shop=shop)
    shown = " ".join(render_page(page, 10_000).split())
    for hazard in recipe.hazard:
        assert f"[ ] {hazard.level.upper()}: {hazard.title}" in shown
        assert all(f"[ ] {thing} (" in shown for thing in hazard.wear)
    for mix in recipe.mix:
        assert f"{mix.title} [{mix.id}]" in shown
    windows = [s for s in recipe.station if s.temperature is not None]
    assert len(_items(page, "Temperatures and readings")) >= len(windows)


@pytest.mark.parametrize("width", [20, 40, 60, 88, 120])
def test_the_page_fits_its_width(width: int) -> None:
    """No line is wider than the limit, or than forty letters if the limit is lower."""
    lines = render_page(page_of(WHOLE, BOIL, WHEEL, shop=HIGH_UP), width).splitlines()
    assert max(map(len, lines)) <= max(40, width)
    assert sum(line.startswith("  [ ] ") for line in lines) == sum(
        len(section.items) for section in page_of(WHOLE, BOIL, WHEEL, shop=HIGH_UP).sections
    )


def test_programs_get_the_same_page() -> None:
    """The plain values have every section and line, and survive JSON."""
    page = page_of(WHOLE, BOIL)
    data = json.loads(json.dumps(page.as_dict()))
    assert data["title"] == "Before the run: Everything at once on a butt cap; Boil it clean"
    assert [s["title"] for s in data["sections"]] == [s.title for s in page.sections]
    for section, drawn in zip(data["sections"], page.sections, strict=True):
        assert [(i["text"], tuple(i["more"]), tuple(i["sources"])) for i in section["items"]] == [
            (i.text, i.more, i.sources) for i in drawn.items
        ]
