"""The shipped recipes as a maker would check them: sources, hazards, words, windows."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest

from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.outcome import Optimal
from benchtimer.plan.planner import solve
from benchtimer.quantity import Quantity, parse
from benchtimer.recipe.model import BUILT_IN_SOURCES, Hazard, Recipe, Station
from benchtimer.recipe.places import put
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table, write_recipe
from benchtimer.trade import abrasive, caustic, etchant
from benchtimer.trade.sheets import temper_sheet, waterbreak_sheet
from benchtimer.view.hazard_page import hazard_lines
from benchtimer.view.space import Size

Table = dict[str, Any]

RECIPES = {name: RecipeFiles().find(name) for name in RecipeFiles().paths()}
TABLES = {name: recipe_table(recipe) for name, recipe in RECIPES.items()}
WINDOWS = tomllib.loads((Path(__file__).parent / "windows.toml").read_text("utf-8"))["figure"]

WANTED = {
    "edge-and-assembly",
    "etch-darken",
    "etchant-coupon",
    "fittings-polish",
    "hot-black",
    "hot-wax",
    "slow-rust-blue",
    "strip-black",
    "temper-cycles",
}

HAZARDS = {
    ("edge-and-assembly", "stones"): "sharp",
    ("edge-and-assembly", "clamp"): "adhesive",
    ("etch-darken", "etch"): "acid",
    ("etch-darken", "neutral"): "acid",
    ("etch-darken", "soak"): "bare",
    ("etchant-coupon", "etch"): "acid",
    ("etchant-coupon", "neutral"): "acid",
    ("fittings-polish", "wheel"): "gloves",
    ("hot-black", "cleaner"): "caustic",
    ("hot-black", "salts"): "caustic",
    ("hot-black", "boil"): "scalds",
    ("hot-black", "dip"): "caustic",
    ("hot-black", "oil"): "flammable",
    ("hot-wax", "pot"): "hot wax",
    ("hot-wax", "wax-bench"): "hot steel",
    ("slow-rust-blue", "box"): "acid",
    ("slow-rust-blue", "bench"): "acid",
    ("slow-rust-blue", "boil"): "scald",
    ("slow-rust-blue", "hooks"): "hot steel",
    ("slow-rust-blue", "soda"): "acid",
    ("slow-rust-blue", "oil"): "oily rags",
    ("strip-black", "soda"): "acid",
    ("strip-black", "strip"): "acid",
    ("temper-cycles", "oven"): "hot steel",
}
"""Dangerous stations, with the word that their hazard must have."""

UNHURT = {("hot-wax", "start")}
"""Steps at such a station with nothing hot, caustic, acid or sharp yet."""

APART = {
    ("hot-black", "salts"): ("water", "acid", "aluminum", "zinc", "oil", "ammonium"),
    ("hot-black", "black-salts"): ("water", "hot", "aluminum", "acid", "ammonium", "oil"),
    ("hot-black", "cleaner"): ("water", "acid", "aluminum"),
    ("hot-black", "oil"): ("40 c", "salts", "water"),
    ("strip-black", "strip"): ("nitrite", "caustic", "bleach", "zinc"),
    ("etch-darken", "etch"): ("caustic", "nitrite", "bleach", "aluminum"),
    ("etch-darken", "neutral"): ("lid",),
    ("etchant-coupon", "etch"): ("caustic", "nitrite", "bleach", "aluminum"),
    ("etchant-coupon", "neutral"): ("lid",),
    ("slow-rust-blue", "box"): ("caustic", "nitrite", "bleach", "zinc"),
    ("fittings-polish", "wheel"): ("gloves",),
    ("hot-wax", "warm"): ("solvent", "water"),
}
"""What a hazard's list of nevers must name: hot caustic with water, acid, light metals, fuel and
ammonium (ICSC 0360, 0185, 1120); ferric chloride with bases (ICSC 1499).
"""

FRAME_ROWS = 7
"""Rows of a hazard page around the hazard: header, action, end of the run, undo and keys."""

ANY = pytest.mark.parametrize("recipe", RECIPES.values(), ids=RECIPES)


def _figures(data: Table) -> Iterator[tuple[str, Table]]:
    """Every entry with a dwell, window, limit, amount or count, and its place."""
    for station in data.get("station", ()):
        if {"heat_up", "too_hot"} & set(station):
            yield f"station.{station['id']}", station
        for key in ("temperature", "make_up"):
            if key in station:
                yield f"station.{station['id']}.{key}", station[key]
    for prop in data.get("property", ()):
        if "min" in prop:
            yield f"property.{prop['id']}", prop
    for mix in data.get("mix", ()):
        for number, item in enumerate(mix["of"], start=1):
            yield f"mix.{mix['id']}.{number}", item
    for step in data["step"]:
        yield f"step.{step['id']}", step  # its hands
        if "dwell" in step:
            yield f"step.{step['id']}.dwell", step["dwell"]
        for check in step.get("check", ()):
            yield from _check_figures(f"step.{step['id']}.check.{check['id']}", check)


def _check_figures(place: str, check: Table) -> Iterator[tuple[str, Table]]:
    yield place, check
    if "ceiling_from" in check:
        yield f"{place}.ceiling_from", check["ceiling_from"]
    for answer, send in check.get("send", {}).items():
        yield f"{place}.send.{answer}", send


def _unmarked(data: Table) -> list[str]:
    return [place for place, entry in _figures(data) if "source" not in entry]


def _marks(data: Any, path: tuple[str, ...] = ()) -> Iterator[str]:
    """Every source mark in a recipe."""
    if isinstance(data, dict):
        for key, value in data.items():
            if key == "source" and isinstance(value, str):
                yield value
            else:
                yield from _marks(value, (*path, key))
    elif isinstance(data, list | tuple):
        for item in data:
            yield from _marks(item, path)


def _hazards(recipe: Recipe, guarded: str) -> list[Hazard]:
    """The hazards that name a station or a step, or precede every step at a station."""
    result = [c for c in recipe.hazard if guarded in c.before]
    steps = [s for s in recipe.step if s.at == guarded and (recipe.id, s.id) not in UNHURT]
    if not result and steps:
        result = [c for s in steps for c in recipe.hazards_for(s)]
        assert all(list(recipe.hazards_for(s)) for s in steps), guarded
    return result


def _words(*hazards: Hazard) -> str:
    return " ".join(f"{c.title} {c.text} {' '.join(c.wear)}" for c in hazards).lower()


def test_the_shipped_recipes_cover_the_whole_job() -> None:
    """Every recipe of the job ships and reads without problems."""
    assert set(RECIPES) == WANTED


@ANY
def test_every_figure_has_a_source_mark(recipe: Recipe) -> None:
    """Hands, dwells, windows, limits, amounts and send-backs all name their source."""
    assert _unmarked(TABLES[recipe.id]) == []


@ANY
def test_a_missing_source_mark_is_found(recipe: Recipe) -> None:
    """Removing the mark of any one figure makes the walk report exactly that figure."""
    data = recipe_table(recipe)
    for place, entry in _figures(data):
        mark = entry.pop("source")
        assert _unmarked(data) == [place]
        entry["source"] = mark


@ANY
def test_the_walk_reaches_every_quantity(recipe: Recipe) -> None:
    """The walk covers each quantity of the file, except vessel sizes and walks."""
    data = TABLES[recipe.id]
    walked = {id(entry) for _, entry in _figures(data)}
    loose = [path for path, holder in _quantities(data) if id(holder) not in walked]
    assert {path[0] for path in loose} <= {"walk", "mix"}
    assert all(path[-1] == "volume" for path in loose if path[0] == "mix")


def _quantities(data: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Table]]:
    if isinstance(data, dict):
        for key, value in data.items():
            if isinstance(value, str) and re.fullmatch(r"\d+(\.\d+)? [A-Za-z%/0-9 ]{1,9}", value):
                yield (*path, key), data
            else:
                yield from _quantities(value, (*path, key))
    elif isinstance(data, list | tuple):
        for item in data:
            if isinstance(item, dict):
                yield from _quantities(item, path)


@ANY
def test_no_verdict_rests_on_memory(recipe: Recipe) -> None:
    """A figure from memory can be a mix amount, but never decides on a part."""
    for place, entry in _figures(TABLES[recipe.id]):
        assert entry["source"] != "from-memory" or place.startswith("mix."), place


@ANY
def test_every_source_listed_is_used(recipe: Recipe) -> None:
    """Every source that a recipe lists is used in it."""
    used = set(_marks(TABLES[recipe.id])) - set(BUILT_IN_SOURCES)
    assert used == {source.id for source in recipe.source}


@pytest.mark.parametrize(("name", "station"), HAZARDS, ids="/".join)
def test_a_station_that_can_hurt_has_a_hazard_before_it(name: str, station: str) -> None:
    """Each dangerous station has a hazard that names the danger."""
    result = _hazards(RECIPES[name], station)
    assert result
    assert HAZARDS[name, station] in _words(*result)


@ANY
def test_every_hot_station_and_bath_has_a_hazard(recipe: Recipe) -> None:
    """Every station with a bath or a scalding window is in the table of hazards."""
    for station in recipe.station:
        if station.bath is not None or _can_scald(station):
            assert (recipe.id, station.id) in HAZARDS, station.id


def _can_scald(station: Station) -> bool:
    """Water of 54 C burns deep in half a minute (burn-prevention tables)."""
    return station.temperature is not None and station.temperature.max.base >= 54


@ANY
def test_every_hazard_names_gear_and_first_aid(recipe: Recipe) -> None:
    """Each hazard gives gear, first aid, and the source of both."""
    for hazard in recipe.hazard:
        assert hazard.wear, hazard.title
        assert hazard.first_aid, hazard.title
        assert hazard.source, hazard.title


@ANY
def test_a_hazard_is_one_page_on_a_small_screen(recipe: Recipe) -> None:
    """At 80 x 24 each danger of a shipped recipe is one page and one SPACE."""
    size = Size(80, 24)
    rows = size.height - FRAME_ROWS
    for hazard in recipe.hazard:
        assert len(hazard_lines(hazard, size.width - 3)) <= rows, hazard.title


@pytest.mark.parametrize(("name", "guarded"), APART, ids="/".join)
def test_chemicals_that_must_never_meet_are_listed(name: str, guarded: str) -> None:
    """The nevers before a dangerous bath name each chemistry that must not meet it."""
    nevers = " ".join(n for c in _hazards(RECIPES[name], guarded) for n in c.never).lower()
    assert [word for word in APART[name, guarded] if word not in nevers] == []


@ANY
def test_the_data_sheet_comes_first(recipe: Recipe) -> None:
    """Each recipe puts the data sheet first, and disposal under local code."""
    result = " ".join((recipe.about or "").split())
    assert "data sheet" in result
    assert not recipe.mix or "local code" in result


def test_gloves_stay_off_at_the_wheel() -> None:
    """Gear at the buffing wheel includes no gloves."""
    hazard = next(c for c in RECIPES["fittings-polish"].hazard if "wheel" in c.before)
    gear = [item for item in hazard.wear if "glove" in item]
    assert gear
    assert all(item.startswith("no gloves") for item in gear)


@ANY
def test_texts_are_short_enough_for_a_glance(recipe: Recipe) -> None:
    """Titles and questions have at most 60 letters, and a question ends in a question mark."""
    asked = [(step, check) for step in recipe.step for check in step.check]
    assert [step.title for step in recipe.step if len(step.title) > 60] == []
    assert [check.ask for _, check in asked if len(check.ask) > 60] == []
    assert all(check.ask.endswith("?") for _, check in asked)


@ANY
def test_yes_is_the_good_answer_in_plain_words(recipe: Recipe) -> None:
    """No question begins with a no, since yes and no to "No cracks?" can mean the same."""
    asks = [check.ask for step in recipe.step for check in step.check]
    assert [ask for ask in asks if re.match(r"(no|not|nothing|never|none)\b", ask.lower())] == []


@ANY
def test_nothing_declared_is_unused(recipe: Recipe) -> None:
    """Every station has a step, every mix a station, every property a reading to limit."""
    mixes = {station.bath for station in recipe.station} - {None}
    known = {prop.of for prop in recipe.property} - {None}
    assert known <= mixes
    limits = {
        check["ceiling_from"]["property"]
        for step in TABLES[recipe.id]["step"]
        for check in step.get("check", ())
        if "ceiling_from" in check
    }
    assert {step.at for step in recipe.step} - {None} == {s.id for s in recipe.station}
    assert mixes == {mix.id for mix in recipe.mix}
    assert limits == {prop.id for prop in recipe.property}


@pytest.mark.parametrize("row", WINDOWS, ids=lambda r: f"{r['recipe']}-{r['of']}-{r['key']}")
def test_a_key_window_is_the_published_one(row: Table) -> None:
    """The recipe's figure equals its named source and has its mark."""
    entry = dict(_figures(TABLES[row["recipe"]]))[row["of"]]
    found, result = parse(entry[row["key"]]), parse(row["value"])
    assert found.kind is result.kind
    if row.get("gives") == "at most":
        assert found.base <= result.base
    else:
        assert found.base == pytest.approx(result.base)
    assert entry["source"] == row["marked"]


def test_windows_agree_with_the_trade_figures() -> None:
    """The salts' window and the minute of the water-break test match the trade figures."""
    window = RECIPES["hot-black"].station_named("salts").temperature
    assert window is not None
    assert (window.min.base, window.max.base) == pytest.approx(caustic.WINDOW_C)
    for name in ("hot-black", "etch-darken", "slow-rust-blue"):
        recipe = RECIPES[name]
        assert recipe.step[recipe.step_index("film")].hands_s == waterbreak_sheet.WATCH_S


def test_the_etchant_as_mixed_reads_inside_its_limits() -> None:
    """The mix, by its own hydrometer reading, is in the strength that the recipe accepts."""
    mix = RECIPES["etch-darken"].mix[0]
    parts = {item.what: item.parts or 0 for item in mix.of}
    (water,) = (n for what, n in parts.items() if "water" in what)
    (stock,) = (n for what, n in parts.items() if what == "ferric chloride solution")
    assert any("42 Be" in (item.note or "") for item in mix.of)
    stock_kg = stock * etchant.specific_gravity(42) * etchant.WATER_60F_KG_L
    strong_pct = etchant.strength_from_baume_pct(42)
    mixed_pct = strong_pct * stock_kg / (stock_kg + water * etchant.WATER_60F_KG_L)
    reads = etchant.baume_from_strength(mixed_pct)
    low, high = _limits("etch-darken", "ready", "strength")
    assert low.base < reads < high.base
    said = re.search(r"reads about ([\d.]+) Be", mix.text or "")
    assert said is not None
    assert reads == pytest.approx(float(said[1]), abs=0.5)


def _limits(name: str, step: str, check: str) -> tuple[Quantity, Quantity]:
    entry = dict(_figures(TABLES[name]))[f"step.{step}.check.{check}"]
    return parse(entry["min"]), parse(entry["max"])


@pytest.mark.parametrize("temper_c", [150, 200, 250])
def test_waxing_stays_below_temper_and_first_color(temper_c: float) -> None:
    """The warm window is below the ceiling of an ordinary temper and the first color."""
    entry = dict(_figures(TABLES["hot-wax"]))["step.warm.check.steel"]
    margin = parse(entry["ceiling_from"]["margin"]).base_span
    assert margin >= temper_sheet.USUAL_MARGIN_C
    assert parse(entry["max"]).base <= temper_c - margin
    assert parse(entry["max"]).base < temper_sheet.FIRST_COLOR_C


def test_the_grit_ladder_skips_no_grit() -> None:
    """The polishing steps are a P ladder without a gap, with the sizes of the table."""
    steps = [s for s in RECIPES["fittings-polish"].step if re.fullmatch(r"p\d+", s.id)]
    grits = [abrasive.parse_grit(step.id.upper()) for step in steps]
    rungs = abrasive.ladder(grits)
    assert all(rung.verdict is abrasive.StepVerdict.FINE for rung in rungs)
    for step, grit in zip(steps, grits, strict=True):
        assert f"{grit.mean_um:g} um" in (step.text or "")
    for step, (coarse, fine) in zip(steps[1:], pairwise(grits), strict=True):
        ratio = coarse.mean_um / fine.mean_um
        assert f"{ratio:.1f} times finer" in (step.text or "")


@ANY
@pytest.mark.parametrize("count", [1, 3])
def test_one_pair_of_hands_can_do_it(recipe: Recipe, count: int) -> None:
    """The planner proves a best day of each recipe with one part and with three."""
    parts = [(f"part {i}", recipe.id) for i in range(count)]
    problem = plan_problem(put({recipe.id: recipe}), parts)
    assert isinstance(solve(problem, nodes=20_000), Optimal)


@ANY
def test_a_recipe_reads_back_as_written(recipe: Recipe) -> None:
    """A shipped recipe reads back the same after writing."""
    again = parse_recipe(write_recipe(recipe).encode(), name="again.toml", default_id=recipe.id)
    assert again == recipe


@pytest.mark.parametrize("pair", list(combinations(sorted(RECIPES), 2)), ids="+".join)
def test_any_two_recipes_can_share_a_bench(pair: tuple[str, str]) -> None:
    """No two recipes put incompatible chemistry or windows at one place."""
    placed = put({name: RECIPES[name] for name in pair})
    assert len(placed.at) == sum(len(RECIPES[name].station) for name in pair)


@pytest.mark.parametrize("name", RECIPES)
def test_every_hazard_says_its_level(name: str) -> None:
    """Every shipped hazard gives its level, and boiling caustic is a danger."""
    written = tomllib.loads(RecipeFiles().paths()[name].read_text(encoding="utf-8"))
    assert all("level" in hazard for hazard in written.get("hazard", []))
    salts = [h for h in RECIPES[name].hazard if "salts" in h.before and "Boiling" in h.title]
    assert all(hazard.level == "danger" for hazard in salts)
