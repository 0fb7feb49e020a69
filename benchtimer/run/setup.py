"""The setup of a run: pages to read, baths to mix, figures to look up, baths to heat.

Gear and first aid come before mixing and heating, because those are the most dangerous work. A bath
in the bath book is not mixed again. A bath that no part reaches on the first day is heated when a
part is on its way (``upkeep``), not before the start.

This module also has the corrections: undo, redo, backdating. Each is recorded and names the press
it corrects.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress

from benchtimer.quantity import Quantity, QuantityError, parse
from benchtimer.recipe.checks import ReadingCheck
from benchtimer.recipe.model import Hazard, Mix, Property, Recipe, Station, Step
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.event_builder import Pen, lift
from benchtimer.run.evolve import station_of
from benchtimer.run.refusals import HazardFirst
from benchtimer.run.run_state import (
    SESSION_GAP_MS,
    Bench,
    Part,
    Place,
    Press,
    RunPhase,
    RunState,
    TickedItem,
)
from benchtimer.run.surroundings import Elsewhere, Surroundings
from benchtimer.times import duration
from benchtimer.trade.compatibility import BURNS_C
from benchtimer.values import dataclass

PUT_OFF = "not now"
"""The note for a setup line that was put off."""


@dataclass(frozen=True, slots=True)
class SetupItem:
    """One thing to do before the start.

    Attributes:
        key: the key it is checked off under.
        title: the mix, the question or the place in everyday words.
        recipe: key of the recipe that asks for it.
        place: id of the place to heat; None for a mix or a question.
        mix: what to mix; None for the others.
        asks: the figure to look up; None for the others.
        text: what to know about it.
    """

    key: str
    title: str
    recipe: str
    place: str | None = None
    mix: Mix | None = None
    asks: Property | None = None
    text: str = ""


def setup_pages(bench: Bench) -> Iterator[Hazard]:
    """The pages to read before anything is mixed or heated, each once."""
    seen: set[str] = set()
    for page in (*bench.clashes, *_recipe_pages(bench)):
        if page.title not in seen:
            seen.add(page.title)
            yield page


def _recipe_pages(bench: Bench) -> Iterator[Hazard]:
    first = entries_of(bench)
    for key, recipe in bench.recipes.items():
        used = _used(recipe, first[key])
        mixed = {mix.id for mix, place in mixed_for(recipe)
                 if place in bench.baths or place not in used}  # fmt: skip
        names = {mix.id for mix in recipe.mix if mix.id not in mixed}
        names |= {place for place in used if _is_prepared(bench, place)}
        yield from (page for page in recipe.hazard if names & set(page.before))


def unread_page(bench: Bench, now_ms: int) -> Hazard | None:
    """The first page to read before anything is mixed or heated; None if there is none."""
    unread = (p for p in setup_pages(bench) if not bench.is_acknowledged(p.title, now_ms))
    return next(unread, None)


def unread_page_of(bench: Bench, place: str, now_ms: int) -> Hazard | None:
    """The first page for a place that was not read in this session; None if there is none.

    A later session heats a place, or adds water to it, with no setup that shows its pages.

    Args:
        bench: the run's bench.
        place: the place's name.
        now_ms: bench time.
    """
    own = (page for recipe in bench.recipes.values() for page in recipe.hazard)
    pages = (page for page in (*bench.clashes, *own) if place in page.before)
    return next((page for page in pages if not bench.is_acknowledged(page.title, now_ms)), None)


def _is_prepared(bench: Bench, name: str) -> bool:
    """Whether a place is set up before a run: it has a bath, chemistry, or heat that burns."""
    station = bench.places[name].station
    window = station.temperature
    hot = station.heat_up_s is not None or (window is not None and window.max.base >= BURNS_C)
    return hot or bool(station.chemistry) or station.bath is not None


SET_UP_S = 1800
"""A planned run starts its setup this long before the heat has to be on.

The program's own judgment: time to read the pages and to mix.
"""


def planned_start_ms(bench: Bench) -> int | None:
    """Bench time at which a run in setup is to start; None if it can start now."""
    times = [part.not_before_ms for part in bench.parts.values() if not part.is_out]
    held_back = [t_ms for t_ms in times if t_ms is not None]
    return min(held_back) if held_back and len(held_back) == len(times) else None


def set_up_from_ms(bench: Bench, start_ms: int) -> int:
    """When to begin the setup of a run that starts at a given bench time."""
    waits = [bench.places[item.place].station.heat_up_s or 0 for item in setup_items(bench)
             if item.place is not None]  # fmt: skip
    return start_ms - (max(waits, default=0) + SET_UP_S) * 1000


def setup_items(bench: Bench) -> Iterator[SetupItem]:
    """What still has to be mixed, looked up or heated, in the order of the work."""
    for item in items_of(bench.recipes, entries_of(bench)):
        ready = item.key in bench.prepared
        if item.mix is not None:
            ready = ready or mixed_at(item.key) in bench.baths
        elif item.place is not None:
            ready = ready or was_heated(bench.places[item.place])
        if not ready:
            yield item


def setup_progress(bench: Bench, now_ms: int) -> tuple[int, int]:
    """How many pages and lines of the setup are done, and how many there are."""
    unread = [p for p in setup_pages(bench) if not bench.is_acknowledged(p.title, now_ms)]
    items = [
        item
        for item in items_of(bench.recipes, entries_of(bench))
        if mixed_at(item.key) not in bench.baths or item.mix is None
    ]
    of = len(list(setup_pages(bench))) + len(items)
    return of - len(unread) - len(list(setup_items(bench))), of


Entries = Mapping[str, frozenset[int]]
"""By recipe, the indexes of the steps at which its parts enter; 0 for one that isn't named."""


def entries_of(bench: Bench) -> Entries:
    """Where the parts of a run enter their recipes; a recipe without parts begins at its start."""
    found: dict[str, set[int]] = {key: set() for key in bench.recipes}
    for part in bench.parts.values():
        found[part.recipe].add(part.entered)
    return {key: frozenset(indices or {0}) for key, indices in found.items()}


_START = frozenset({0})


def _used(recipe: Recipe, entered: frozenset[int]) -> list[str]:
    """The places that parts reach from where they enter, with or without a send-back."""
    first, before = min(entered), -1
    while first != before:
        ahead = (way.to_index for way in recipe.ways if way.index >= first)
        ways = [index for index in ahead if index is not None]
        first, before = min([first, *ways]), first
    if first == 0:
        return [station.id for station in recipe.station]
    return list(dict.fromkeys(step.at for step in recipe.step[first:] if step.at is not None))


def items_of(recipes: Mapping[str, Recipe], entered: Entries | None = None) -> Iterator[SetupItem]:
    """Everything to mix, look up and heat for recipes at their places, each once.

    Args:
        recipes: the recipes by key, station ids replaced by place ids.
        entered: where parts enter; None if all begin at the start.
    """
    seen: set[str] = set()
    known = entered or {}
    for item in (*_mixes(recipes, known), *_heats(recipes, known)):
        if item.key not in seen:
            seen.add(item.key)
            yield item


_MIX = "mix "


def mixed_at(key: str) -> str:
    """The place that a mix is for."""
    return key.removeprefix(_MIX)


def _mixes(recipes: Mapping[str, Recipe], entered: Entries) -> Iterator[SetupItem]:
    for key, recipe in recipes.items():
        used = _used(recipe, entered.get(key, _START))
        for mix, place in mixed_for(recipe):
            if place not in used:
                continue
            yield SetupItem(f"{_MIX}{place}", mix.title, key, mix=mix, text=mix.text or "")
            yield from _asks(key, recipe, mix.id, place)


def _asks(key: str, recipe: Recipe, mix_id: str, place: str) -> Iterator[SetupItem]:
    """The figures you have to look up for a mix, whether it is mixed now or was earlier."""
    for prop in recipe.property:
        if prop.of == mix_id:
            yield SetupItem(f"{prop.id} of {place}", prop.ask, key, asks=prop)


def mixed_for(recipe: Recipe) -> Iterator[tuple[Mix, str]]:
    """The mixes of a recipe, each with the place it is for."""
    mixes = {mix.id: mix for mix in recipe.mix}
    for station in recipe.station:
        if station.bath in mixes:
            yield mixes[station.bath], station.id


def _heats(recipes: Mapping[str, Recipe], entered: Entries) -> Iterator[SetupItem]:
    for key, recipe in recipes.items():
        begins = entered.get(key, _START)
        first = {place for index in begins for place in _reached_at_first(recipe.step[index:])}
        for station in recipe.station:
            if station.heat_up_s is not None and station.id in first:
                yield SetupItem(heat_key(station.id), station.title, key, station.id,
                                text=station.text or "")  # fmt: skip


def heat_words(station: Station) -> str:
    """The events of turning the heat on."""
    return f"Turn the heat on: ready in about {duration(station.heat_up_s or 0)}"


def heat_key(place: str) -> str:
    """The key that heating a place is checked off under."""
    return f"heat {place}"


def _reached_at_first(steps: Sequence[Step]) -> Iterator[str]:
    """The places a part reaches before it rests for longer than a session."""
    for step in steps:
        if step.at is not None:
            yield step.at
        if step.dwell is not None and step.dwell.target_s * 1000 >= SESSION_GAP_MS:
            return


def was_heated(place: Place) -> bool:
    """Whether the heat is on, or you have already read the bath or gone on without a reading."""
    return place.heated_ms is not None or place.reading is not None or place.skipped is not None


def ticks_of(bench: Bench) -> Mapping[str, TickedItem]:
    """The check marks, by item key; a heated place counts as checked off."""
    heated = {
        heat_key(name): TickedItem(place.heated_ms)
        for name, place in bench.places.items()
        if place.heated_ms is not None
    }
    return {**bench.prepared, **heated}


def question(prop: Property) -> ReadingCheck:
    """A figure to look up, as a question that the board can ask."""
    check = ReadingCheck(kind="reading", id=prop.id, ask=prop.ask, unit=prop.unit)
    return check.model_copy(update={"min": prop.min})


def known_of(bench: Bench, part: Part) -> Mapping[str, Quantity]:
    """What is known about a part and the mixes of its recipe, by the name of the property."""
    recipe, known = bench.recipe_of(part), dict(part.properties)
    for mix, place in mixed_for(recipe):
        for item in _asks(part.recipe, recipe, mix.id, place):
            tick = bench.prepared.get(item.key)
            if tick is not None and item.asks is not None:
                with suppress(QuantityError):  # put off, or a note
                    known[item.asks.id] = parse(tick.said, item.asks.kind)
    return known


def want_pages_read(bench: Bench, now_ms: int, what: str) -> None:
    """Refuse setup work and the start while their pages are unread.

    A started run has read them.

    Args:
        bench: the run's bench.
        now_ms: bench time.
        what: what you want to do, for the error.
    """
    if bench.phase is RunPhase.IDLE:
        want_read(unread_page(bench, now_ms), what)


def want_read(page: Hazard | None, what: str) -> None:
    """Refuse work that waits for an unread page."""
    if page is not None:
        raise HazardFirst(what, page.title)


def undo(state: RunState, pen: Pen) -> None:
    """Undo the last press."""
    if not state.past:
        raise r.NothingTo("undo")
    pen.shop.check_room(state.bench, state.past[-1].before, "Can't undo")
    pen.write(e.Undone, undone=state.past[-1].number)


def redo(state: RunState, pen: Pen) -> None:
    """Redo the last press that was undone."""
    if not state.future:
        raise r.NothingTo("redo")
    pen.shop.check_room(state.bench, state.future[-1].after, "Can't redo")
    pen.write(e.Redone, redone=state.future[-1].press.number)


def back_date(state: RunState, command: c.BackDate, pen: Pen) -> None:
    """Write the last press again with its real time; dwells are judged again.

    Args:
        state: the run.
        command: how long ago the press really was.
        pen: writes the events.
    """
    if not state.past:
        raise r.NothingTo("backdate")
    press = state.past[-1]
    real_ms = press.events[0].t_ms - command.ago_ms
    _check_real_time(press, command.ago_ms, real_ms, pen.shop)
    pen.write(e.Retimed, retimed=press.number, ago_ms=command.ago_ms)
    pen.bench, pen.t_ms = press.base, real_ms
    for event in press.events:
        if isinstance(event, e.TakenOut):
            lift(pen, pen.part(event.part))
        elif not (isinstance(event, e.Deviated) and event.what in ("early", "overrun")):
            pen.copy(event)


def _check_real_time(press: Press, ago_ms: int, real_ms: int, shop: Surroundings) -> None:
    """Keep a backdated press after the events before it at the same part or station.

    Anything another run did there after the press stays after it.
    """
    made_ms = press.events[0].t_ms
    if ago_ms <= 0:
        raise r.TimeConflict(
            "Can't backdate", "the time must be in the past", "Give a time before now"
        )
    limits = [("the run", press.base.touched_ms)]
    for event in press.events:
        name, station = getattr(event, "part", None), station_of(press.base, event)
        if isinstance(name, str) and name in press.base.parts:
            limits.append((name, press.base.parts[name].touched_ms))
        if isinstance(station, str) and station in press.base.places:
            limits.append((station, press.base.places[station].touched_ms))
            elsewhere = shop.places.get(station, Elsewhere())
            limits += [(station, p.touched_ms) for p in elsewhere.places if p.touched_ms <= made_ms]
    subject, earliest = max(limits, key=lambda limit: limit[1])
    if real_ms < earliest:
        most = max(0, (press.events[0].t_ms - earliest) // 1000)
        raise r.TimeConflict(
            "Can't backdate that far",
            f"something else happened to {subject} in between",
            f"The limit is {duration(most)}",
        )
