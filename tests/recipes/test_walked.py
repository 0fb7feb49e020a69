"""Shipped recipes with four parts and simulated hands: pages, readings, heat and oil."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.quantity import parse
from benchtimer.recipe.model import Recipe, Station
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.rehearsal import READING_S, Rehearsal
from benchtimer.run import events as e
from benchtimer.run.run_state import SESSION_GAP_MS
from benchtimer.trade.compatibility import BURNS_C
from benchtimer.trade.sheets.cooling_sheet import PART_INTO_OIL_MAX_C

RECIPES = {name: RecipeFiles().find(name) for name in RecipeFiles().paths()}
ANY = pytest.mark.parametrize("name", RECIPES)
SEEDS = (1, 2, 3)
UNDER_WAY_MS = 5 * 60_000
"""A part in hand goes in even if its reading expires on the way."""


@cache
def _walked(name: str, seed: int) -> tuple[e.Event, ...]:
    """Every event of a rehearsal with four parts."""
    recipe, parts = RECIPES[name], [f"part {i}" for i in range(4)]
    known = {part: {prop.id: "200 C" for prop in recipe.part_properties} for part in parts}
    new = NewRun("Test", {name: recipe_table(recipe)}, [(p, name) for p in parts], known)
    hands = Rehearsal(new, seed)
    hands.run()
    return tuple(entry.event for entry in hands.entries)


def _late_pages(recipe: Recipe, events: tuple[e.Event, ...]) -> Iterator[str]:
    """Pages not read when the work or the bath behind them began."""
    read: set[str] = set()
    baths: dict[str, set[str | None]] = {f"mix {s.id}": {s.id, s.bath} for s in recipe.station}
    steps = {step.id: step for step in recipe.step}
    for event in events:
        guarded: set[str | None] = set()
        if isinstance(event, e.Acknowledged):
            read.add(event.hazard)
        elif isinstance(event, e.Prepared):
            guarded = baths.get(event.item, set())
        elif isinstance(event, e.Heated):
            guarded = {event.station}
        elif isinstance(event, e.WorkBegan):
            guarded = {event.step, steps[event.step].at}
        for page in recipe.hazard:
            if guarded & set(page.before) and page.title not in read:
                yield f"{page.title}: after {event}"


@ANY
def test_no_hazard_page_comes_after_the_first_exposure(name: str) -> None:
    """Every page is read before its bath is mixed or heated and its step begins."""
    for seed in SEEDS:
        assert list(_late_pages(RECIPES[name], _walked(name, seed))) == []


def test_a_page_that_was_never_read_is_found() -> None:
    """Without one page's entry, the walk names everything that it guards."""
    events = _walked("hot-black", 1)
    (salts,) = (c.title for c in RECIPES["hot-black"].hazard if c.title.startswith("Boiling caus"))
    unread = tuple(v for v in events if not isinstance(v, e.Acknowledged) or v.hazard != salts)
    found = " ".join(_late_pages(RECIPES["hot-black"], unread))
    assert "Heated" in found
    assert "step='black'" in found


@ANY
def test_each_session_reads_the_pages_of_what_it_heats(name: str) -> None:
    """The next day, a place is heated or made up only after its pages are read that day."""
    recipe, heated = RECIPES[name], 0
    for seed in SEEDS:
        read: set[str] = set()
        last_ms = 0
        for event in _walked(name, seed):
            if event.t_ms - last_ms >= SESSION_GAP_MS:
                read.clear()
            last_ms = event.t_ms
            if isinstance(event, e.Acknowledged):
                read.add(event.hazard)
            elif isinstance(event, e.Heated | e.MadeUp):
                heated += 1
                pages = {page.title for page in recipe.hazard if event.station in page.before}
                assert pages <= read, event
    assert heated or not any(station.heat_up_s for station in recipe.station)


@ANY
def test_a_bath_is_read_before_a_part_goes_in(name: str) -> None:
    """Each part enters a bath on a valid reading inside the limits."""
    stations = {station.id: station for station in RECIPES[name].station}
    for seed in SEEDS:
        readings: dict[str, e.ReadingTaken] = {}
        for event in _walked(name, seed):
            if isinstance(event, e.ReadingTaken):
                readings[event.station] = event
            elif isinstance(event, e.PutIn):
                station = stations[event.station]
                if station.temperature is not None and station.purpose is None:
                    reading = readings[station.id]
                    assert reading.verdict == "in"
                    every_s = station.temperature.every_s  # without a rhythm, for the session
                    if every_s is not None:
                        assert event.t_ms - reading.t_ms <= every_s * 1000 + UNDER_WAY_MS


def _is_hot(station: Station) -> bool:
    window = station.temperature
    return station.heat_up_s is not None or (window is not None and window.max.base >= BURNS_C)


@pytest.mark.parametrize("name", ["hot-black", "slow-rust-blue"])
def test_no_walk_takes_a_hot_part_into_the_oil(name: str) -> None:
    """Each part enters the oil from a cool place, at 40 C or less on a fresh reading."""
    stations = {station.id: station for station in RECIPES[name].station}
    entered = 0
    for seed in SEEDS:
        last: dict[str, str] = {}
        warmth: dict[str, float] = {}
        for event in _walked(name, seed):
            if isinstance(event, e.Answered) and event.check == "warmth":
                warmth[event.part] = parse(str(event.answer)).base
            elif isinstance(event, e.PutIn):
                if event.station == "oil":
                    entered += 1
                    assert not _is_hot(stations[last[event.part]])
                    assert warmth.pop(event.part) <= PART_INTO_OIL_MAX_C
                last[event.part] = event.station
    assert entered >= len(SEEDS)


def test_a_cleaned_part_is_never_set_down_on_its_way_to_the_boil() -> None:
    """From the cleaner to the dip no wet part waits, except for a bath's new reading."""
    way = {"rinse", "film", "black", "look"}
    for seed in SEEDS:
        ended: dict[str, int] = {}
        for event in _walked("hot-black", seed):
            if isinstance(event, e.WorkFinished | e.TakenOut):
                ended[event.part] = event.t_ms
            elif isinstance(event, e.WorkBegan) and event.step in way:
                assert event.t_ms - ended[event.part] <= READING_S * 1000, event
