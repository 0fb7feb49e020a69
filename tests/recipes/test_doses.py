"""The printed doses are readable and correct."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.check_list import make_page, render_page
from benchtimer.orders import new_run
from benchtimer.quantity import parse
from benchtimer.recipe.describe import describe
from benchtimer.recipe.mixing import rate
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles, shipped_folder
from benchtimer.records.facts import facts_of
from benchtimer.records.tries import tries_of
from benchtimer.rehearsal import rehearse
from benchtimer.settings import Settings
from benchtimer.view.preparation import prepare_rows
from benchtimer.view.space import Size
from tests.recipe.drawn import SMALLEST
from tests.units import UNITS

DOSES: dict[str, dict[str, list[str]]] = tomllib.loads(
    (Path(__file__).parent / "doses.toml").read_text("utf-8")
)
SHELF = RecipeFiles()
VESSELS = ["40 mL", "250 mL", "2 L", "6 L", "210 L", "12 fl oz", "3 qt", "1 gal", "55 gal"]
SHOPS = ("si", "us")
_NAMES = {"fl oz": "US_fluid_ounce", "gal": "US_liquid_gallon", "qt": "US_liquid_quart"}
_MASSES = {"oz": "ounce", "lb": "pound"}


def _shop(units: str, **vessels: str) -> Settings:
    return Settings.model_validate({"units": units, "vessels": vessels})


def _doses(recipe: Recipe, shop: Settings, mix: str) -> list[str]:
    """The lines of a mix on the page before a run, without the text below them."""
    page = make_page(put({recipe.id: recipe}).recipes, shop)
    (mixes,) = (section for section in page.sections if section.title == "Mixes")
    (found,) = (item for item in mixes.items if f"[{mix}]" in item.text)
    count = next(len(m.of) for m in recipe.mix if m.id == mix)
    return list(found.more[:count])


# ---------------------------------------------------------------- wording


def test_every_mix_that_ships_is_listed() -> None:
    """The table of doses has every mix of every shipped recipe, and no other."""
    listed = {name: set(mixes) for name, mixes in DOSES.items()}
    shipped = {name: {mix.id for mix in SHELF.find(name).mix} for name in SHELF.paths()}
    assert listed == {name: mixes for name, mixes in shipped.items() if mixes}


@pytest.mark.parametrize(
    ("name", "mix"), [(name, mix) for name, mixes in DOSES.items() for mix in mixes]
)
def test_a_dose_is_recognized(name: str, mix: str) -> None:
    """Page, board and show give amount, substance, and the rate in parentheses."""
    recipe = SHELF.find(name)
    lines = DOSES[name][mix]
    assert _doses(recipe, Settings(), mix) == lines
    page = make_page(put({recipe.id: recipe}).recipes, Settings())
    assert all(line in " ".join(render_page(page, 200).split()) for line in lines)
    rows = prepare_rows(page, {}, None, Size(200, 60))  # type: ignore[arg-type]
    on_board = " ".join(" ".join(line for row in rows for line in row.lines).split())
    assert all(line in on_board for line in lines)
    shown = " ".join(describe(recipe).split())
    for item in next(m for m in recipe.mix if m.id == mix).of:
        assert f" {item.what} (" in shown


def _ingredients() -> Iterator[tuple[str, dict[str, Any]]]:
    for path in sorted(shipped_folder().glob("*.toml")):
        for mix in tomllib.loads(path.read_text("utf-8")).get("mix", ()):
            yield from ((path.stem, item) for item in mix["of"])


@pytest.mark.parametrize(("name", "item"), list(_ingredients()))
def test_every_dose_names_a_substance(name: str, item: dict[str, Any]) -> None:
    """A substance is a name, without half sentences, figures or instructions."""
    assert name
    assert re.fullmatch(r"[a-z]+([ -][a-z]+)*", item["what"])
    assert item["what"].split()[-1] not in ("about", "of", "per", "as", "with", "for", "first")


def test_the_source_is_printed_below_its_mix() -> None:
    """A one-word source follows the dose, and a title has its own line."""
    text = '[[source]]\nid = "card"\ncite = "A card, 1999, p. 3"\n[[mix]]\nid = "m"\ntitle = "M"\n'
    text += 'of = [{ what = "salt", amount = "5 g/L", source = "card" }]\n'
    recipe = parse_recipe((SMALLEST + text).encode(), name="m", default_id="m")
    page = make_page(put({recipe.id: recipe}).recipes, Settings())
    (item,) = page.sections[-1].items
    assert (item.more, item.sources) == (("5 g salt (5 g/L)",), ("A card, 1999, p. 3",))


# ---------------------------------------------------------------- amounts


def _pint(text: str) -> Any:
    """A quantity in pint: US gallons and fluid ounces, ounces and pounds of mass."""
    number, unit = text.split(" ", 1)
    top, *below = unit.split("/")
    result = UNITS(_NAMES.get(top) or _MASSES.get(top) or top)
    for part in below:
        result = result / UNITS(_NAMES.get(part) or part)
    return float(number) * result


def _wanted(item: dict[str, Any], mix: dict[str, Any], vessel: Any) -> Any:
    """How much of an ingredient a vessel takes, calculated with pint."""
    if "parts" in item:
        return vessel * item["parts"] / sum(other.get("parts", 0) for other in mix["of"])
    if item["amount"].endswith("%"):
        return vessel * float(item["amount"].split()[0]) / 100
    amount = _pint(item["amount"])
    if amount.check("[mass]") or amount.check("[length] ** 3"):
        return amount * (vessel / _pint(mix["volume"])).to("").magnitude
    return amount * vessel


def _assert_is(line: str, wanted: Any) -> None:
    """Assert that a line begins with the wanted amount, to its own precision."""
    found = re.match(r"(\d+(?:\.(\d+))?) (fl oz|\S+) ", line)
    assert found is not None, line
    unit = found[3]
    exact = wanted.to(_NAMES.get(unit) or _MASSES.get(unit) or unit).magnitude
    places = len(found[2] or "")
    assert float(found[1]) == pytest.approx(exact, abs=0.5000001 * 10**-places, rel=1e-9), line
    assert float(found[1]) == pytest.approx(exact, rel=0.05), line  # two figures at least


@pytest.mark.parametrize("units", SHOPS)
@pytest.mark.parametrize("volume", VESSELS)
@pytest.mark.parametrize("name", list(DOSES))
def test_every_shipped_dose_is_right(name: str, volume: str, units: str) -> None:
    """In a vessel of any size, in either system, each amount matches pint."""
    raw = tomllib.loads((shipped_folder() / f"{name}.toml").read_text("utf-8"))
    for mix in raw["mix"]:
        lines = _doses(SHELF.find(name), _shop(units, **{mix["id"]: volume}), mix["id"])
        for line, item in zip(lines, mix["of"], strict=True):
            _assert_is(line, _wanted(item, mix, _pint(volume)))


_AMOUNTS = st.one_of(
    st.tuples(st.integers(1, 3000), st.sampled_from(["g/L", "mL/L"])),
    st.tuples(st.integers(1, 40), st.sampled_from(["oz/gal", "lb/gal", "oz", "lb", "fl oz", "%"])),
    st.tuples(st.integers(1, 900), st.sampled_from(["mg", "g", "mL"])),
    st.tuples(st.integers(1, 3), st.sampled_from(["kg/L", "kg", "L", "qt", "gal"])),
).filter(lambda drawn: drawn[1] != "mL/L" or drawn[0] <= 1000)
_VOLUMES = st.one_of(
    st.tuples(st.integers(1, 900), st.sampled_from(["mL", "L", "gal", "qt", "fl oz"]))
).map(lambda drawn: f"{drawn[0]} {drawn[1]}")


@given(
    _AMOUNTS.map(lambda drawn: f"{drawn[0] if drawn[1] != 'lb/gal' else drawn[0] / 2} {drawn[1]}"),
    _VOLUMES,
    _VOLUMES,
    st.lists(st.integers(1, 20), min_size=1, max_size=4),
    st.sampled_from(SHOPS),
)
def test_any_dose_is_right(
    amount: str, volume: str, vessel: str, parts: list[int], units: str
) -> None:
    """In any unit, amounts and parts match pint, on the page and in show."""
    items: list[dict[str, Any]] = [{"what": "salt", "amount": amount}]
    items += [{"what": "oil", "parts": n} for n in parts]
    mix = {"id": "m", "volume": volume, "of": items}
    result = ", ".join(
        f'{{ what = "{i["what"]}", '
        + (f'amount = "{i["amount"]}" }}' if "amount" in i else f"parts = {i['parts']} }}")
        for i in items
    )
    text = f'{SMALLEST}[[mix]]\nid = "m"\ntitle = "M"\nvolume = "{volume}"\nof = [{result}]\n'
    recipe = parse_recipe(text.encode(), name="m", default_id="m")
    assert parse(vessel, "volume")
    for line, item in zip(_doses(recipe, _shop(units, m=vessel), "m"), items, strict=True):
        _assert_is(line, _wanted(item, mix, _pint(vessel)))
    shown = [line.strip() for line in describe(recipe).splitlines()]
    start = shown.index(f"m: M ({recipe.mix[0].volume})") + 1
    for line, item in zip(shown[start : start + len(items)], items, strict=True):
        _assert_is(line, _wanted(item, mix, _pint(volume)))


# ---------------------------------------------------------------- the record


@pytest.mark.parametrize("name", list(DOSES))
def test_a_record_names_the_mix_and_the_substance(name: str) -> None:
    """A comparison of records names a mix by its title, substance and rate."""
    recipe = SHELF.find(name)
    record = rehearse(new_run(SHELF, name, ["pin"]), 1)
    facts = facts_of(tries_of(record, record.parts[0])[-1])
    for mix in recipe.mix:
        for number, item in enumerate(mix.of, start=1):
            fact = facts["setting", f"{mix.id}.{number}"]
            assert fact.label == f"{mix.title}: {item.what}"
            assert fact.shown == (rate(item, mix) or "the whole of it")
