"""Random recipes, and the smallest recipe."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from benchtimer.quantity import KINDS, show_number
from benchtimer.recipe.checks import CHECK_KINDS
from benchtimer.recipe.fields import READING_UNITS
from benchtimer.recipe.model import BUILT_IN_SOURCES, Recipe
from benchtimer.recipe.problems import RecipeError, RecipeProblem
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import shipped_folder
from benchtimer.times import duration

Table = dict[str, Any]

SHIPPED = sorted(shipped_folder().glob("*.toml"))

SAMPLE = Path(__file__).parent / "hot-black.toml"
"""A recipe with one of everything, independent of the shipped ones."""

SMALLEST = """\
schema = 1
title = "Wipe"

[[step]]
id = "wipe"
title = "Wipe it dry"
hands = "20 s"
"""


def read(text: str | bytes, name: str = "trial.toml") -> Recipe:
    """The recipe in a text."""
    raw = text.encode() if isinstance(text, str) else text
    return parse_recipe(raw, name=name, default_id=Path(name).stem)


def problems(text: str | bytes) -> list[RecipeProblem]:
    """Everything wrong with a text; empty if it is a recipe."""
    try:
        read(text)
    except RecipeError as error:
        return error.problems
    return []


titles = st.text(
    st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=12
).filter(lambda text: bool(text.strip()))
texts = st.lists(titles, min_size=1, max_size=3).map("\n".join)
durations = st.integers(1, 400_000)


def ids(prefix: str, most: int, least: int = 0) -> st.SearchStrategy[list[str]]:
    """Distinct ids."""
    return st.integers(least, most).map(lambda n: [f"{prefix}-{i}" for i in range(n)])


def optional(keys: dict[str, st.SearchStrategy[Any]]) -> st.SearchStrategy[Table]:
    """Some of these keys."""
    return st.fixed_dictionaries({}, optional=keys)


@st.composite
def rising(draw: st.DrawFn, keys: tuple[str, ...], needed: tuple[str, ...], unit: str) -> Table:
    """Limits in one unit, each at least as large as the one before."""
    kind = next(k for k in KINDS.values() if unit in k.units)
    low = -40.0 if kind.name == "temperature" else 0.0
    chosen = [k for k in keys if k in needed or draw(st.booleans())]
    top = int(min(50, (kind.high - low) / kind.units[unit].factor))
    values = sorted(draw(st.lists(st.integers(0, top), min_size=len(keys), max_size=len(keys))))
    return {k: f"{show_number(low + v)} {unit}" for k, v in zip(chosen, values, strict=False)}


@st.composite
def dwells(draw: st.DrawFn) -> Table:
    """A dwell with its times in order."""
    times = sorted(draw(st.lists(st.integers(0, 400_000), min_size=3, max_size=3)))
    dwell = dict(zip(("min", "target", "max"), map(duration, times), strict=True))
    if draw(st.booleans()):
        del dwell["max"]
    return dwell


@st.composite
def mixes(draw: st.DrawFn, name: str, sources: list[str]) -> Table:
    """A mix for a vessel."""
    amounts = st.sampled_from(["90 g/L", "2 oz", "5 mL", "12 oz/gal", "1 mL/L", "4 %", "0.5 gal"])
    of = []
    for what in draw(st.lists(titles, min_size=1, max_size=3)):
        parts = {"parts": draw(st.integers(1, 9) | st.floats(0.1, 9))}
        item = parts if draw(st.booleans()) else {"amount": draw(amounts)}
        of.append(
            {"what": what}
            | item
            | draw(optional({"source": st.sampled_from(sources), "note": titles}))
        )
    volume = {"volume": draw(st.sampled_from(["4 L", "1 gal", "250 mL"]))}
    return {"id": name, "title": draw(titles), "of": of} | volume | draw(optional({"text": texts}))


@st.composite
def checks(draw: st.DrawFn, name: str, earlier: list[str]) -> Table:
    """A check of any kind that can send back to an earlier step."""
    kind = draw(st.sampled_from(list(CHECK_KINDS)))
    check: Table = {"id": name, "kind": kind, "ask": draw(titles)}
    if kind == "reading":
        unit = draw(st.sampled_from([u for u in READING_UNITS if u != "K"]))
        hangs_on = unit in ("C", "F") and draw(st.booleans())
        keys = ("min", "max") if hangs_on else ("min", "max", "ceiling")
        limits = draw(rising(keys, (), unit))
        check |= limits or {"unit": unit}
        if hangs_on:
            check["ceiling_from"] = {"property": "temper", "margin": "45 F"}
    if kind == "choice":
        options = draw(st.lists(titles, min_size=2, max_size=9, unique=True))
        check |= {"options": options}
    answers = {
        "yes-no": ["no"],
        "reading": [w for w, key in (("below", "min"), ("above", "max")) if key in check],
        "choice": check.get("options", [])[:-1],
    }.get(kind, [])
    if answers and draw(st.booleans()):
        sending = draw(st.lists(st.sampled_from(answers), min_size=1, max_size=9, unique=True))
        check["send"] = {answer: draw(_sends(earlier)) for answer in sending}
    return check


@st.composite
def _sends(draw: st.DrawFn, earlier: list[str]) -> Table:
    """Where an answer sends the part, or why it stops it."""
    if draw(st.booleans()):
        return {"stop": draw(texts)}
    limit = draw(st.integers(1, 99))
    send: Table = {"to": draw(st.sampled_from(earlier)), "limit": limit}
    send |= draw(optional({"expect": st.floats(0, limit) | st.integers(0, limit)}))
    return send | draw(optional({"new_try": st.just(True)}))


@st.composite
def recipes(draw: st.DrawFn) -> Table:
    """The tables of a valid recipe."""
    source_ids = draw(ids("source", 2))
    sources = [*source_ids, *BUILT_IN_SOURCES]
    stations, mix_ids = draw(ids("station", 3, 1)), draw(ids("mix", 2))
    steps = draw(ids("step", 4, 1))
    cited = {"source": st.sampled_from(sources)}
    table: Table = {
        "schema": 1,
        "title": draw(titles),
        "property": [{"id": "temper", "ask": draw(titles)}],
        "source": [{"id": name, "cite": draw(texts)} for name in source_ids],
        "mix": [draw(mixes(name, sources)) for name in mix_ids],
        "station": [draw(_stations(name, mix_ids, cited)) for name in stations],
        "step": [draw(_steps(i, steps, stations, cited)) for i in range(len(steps))],
        "walk": {stations[0]: {stations[-1]: duration(draw(durations))}},
    }
    if draw(st.booleans()):
        before = draw(st.lists(st.sampled_from(stations + steps), min_size=1, max_size=3))
        hazard = {"before": before, "title": draw(titles), "text": draw(texts)}
        lists = st.lists(titles, max_size=3)
        extra = optional({"wear": lists, "never": lists, "first_aid": texts, **cited})
        table["hazard"] = [hazard | draw(extra)]
    return table | draw(optional({"about": texts, "revision": st.integers(1, 100_000)}))


@st.composite
def _stations(
    draw: st.DrawFn, name: str, baths: list[str], cited: dict[str, st.SearchStrategy[Any]]
) -> Table:
    station: Table = {"id": name, "title": draw(titles)}
    if draw(st.booleans()):
        unit = draw(st.sampled_from(["C", "F"]))
        window = draw(rising(("min", "target", "max", "ceiling"), ("min", "max"), unit))
        every = {"every": durations.map(duration)}
        station["temperature"] = window | draw(optional({**every, **cited}))
    if baths:
        station |= draw(optional({"bath": st.sampled_from(baths)}))
    return station | draw(optional({"holds": st.integers(1, 100), "text": texts, **cited}))


@st.composite
def _steps(
    draw: st.DrawFn,
    index: int,
    steps: list[str],
    stations: list[str],
    cited: dict[str, st.SearchStrategy[Any]],
) -> Table:
    step: Table = {"id": steps[index], "title": draw(titles)}
    step["hands"] = duration(draw(durations))
    if draw(st.booleans()):
        step |= {"at": draw(st.sampled_from(stations)), "dwell": draw(dwells())}
    names = draw(ids("check", 2))
    step["check"] = [draw(checks(name, steps[: index + 1])) for name in names]
    return step | draw(optional({"text": texts, **cited}))
