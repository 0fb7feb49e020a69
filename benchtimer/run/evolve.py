"""``evolve(state, event) -> state``: what each event changes. It never refuses an event.

Rules:
1. Folding is total: anything ``decide`` ever wrote can always be folded.
2. Ordinary events change the bench. Corrections choose another bench: the one before the
   press that was undone, or the one after the press that counts again.
3. Bystanders (clock entries) don't change the bench.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import reduce, singledispatch
from typing import Any

from benchtimer.quantity import parse
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import Placed, ShopPlace, place_recipes
from benchtimer.run import events as e
from benchtimer.run.hazards import carry_over_pages, clash_pages
from benchtimer.run.run_state import (
    KEPT_READINGS,
    UNDO_DEPTH,
    AnswerGiven,
    Bench,
    Part,
    Place,
    Press,
    RunPhase,
    RunState,
    SkippedReading,
    StationReading,
    TakenBack,
    TickedItem,
)
from benchtimer.run.transitions import PART_AFTER, RUN_AFTER
from benchtimer.values import replace


def evolve(state: RunState, event: e.Event) -> RunState:
    """The state after one event."""
    seen = replace(
        state,
        last_ms=max(state.last_ms, event.t_ms),
        presses=max(state.presses, event.press),
    )
    if isinstance(event, e.BYSTANDERS):
        return seen
    if isinstance(event, e.Undone):
        return _take_back(seen, event)
    if isinstance(event, e.Redone):
        return _make_count(seen)
    if isinstance(event, e.Retimed):
        return _retime(seen, event)
    bench, past = apply(state.bench, event), _remember(seen, event)
    future = state.future if event.press == 0 else ()  # only a press makes redo impossible
    if event.press == 0 and isinstance(event, e.StationClosed):  # undo here can't reopen it
        past = tuple(replace(p, before=_closed(p.before, event)) for p in past)
        future = tuple(replace(back, after=_closed(back.after, event)) for back in future)
    return replace(seen, bench=bench, past=past, future=future)


def _closed(bench: Bench, event: e.StationClosed) -> Bench:
    """A bench restored by undo or redo, with any place that another run has closed since."""
    return apply(bench, event) if event.station in bench.places else bench


def fold(events: Iterable[e.Event], state: RunState | None = None) -> RunState:
    """The state after many events."""
    return reduce(evolve, events, state if state is not None else RunState())


def _take_back(state: RunState, event: e.Undone) -> RunState:
    press = state.past[-1]
    back = TakenBack(press, state.bench, event.t_ms)
    return replace(state, bench=press.before, past=state.past[:-1], future=(*state.future, back))


def _make_count(state: RunState) -> RunState:
    back = state.future[-1]
    return replace(
        state, bench=back.after, past=(*state.past, back.press), future=state.future[:-1]
    )


def _retime(state: RunState, event: e.Retimed) -> RunState:
    """The following events replace the last press; undoing them brings that press back."""
    last = state.past[-1]
    press = Press(event.press, state.bench, (), last.base, event.t_ms)
    return replace(state, bench=last.base, past=(*state.past, press)[-UNDO_DEPTH:], future=())


def _remember(state: RunState, event: e.Event) -> tuple[Press, ...]:
    if event.press == 0:
        return state.past
    if state.past and state.past[-1].number == event.press:
        last = state.past[-1]
        return (*state.past[:-1], replace(last, events=(*last.events, event)))
    press = Press(event.press, state.bench, (event,), state.bench, event.t_ms)
    return (*state.past, press)[-UNDO_DEPTH:]


def apply(bench: Bench, event: e.Event) -> Bench:
    """The bench after one ordinary event."""
    return _touch(_apply(event, bench), event)


@singledispatch
def _apply(event: e.Event, bench: Bench) -> Bench:
    """The bench after an event; events that only go into the record leave it unchanged."""
    phase = RUN_AFTER.get(type(event))
    return replace(bench, phase=phase) if phase is not None else bench


@_apply.register
def _(event: e.Created, bench: Bench) -> Bench:
    recipes = {key: recipe_from_table(table) for key, table in event.recipes.items()}
    shop = tuple(ShopPlace.from_table(name, table) for name, table in event.shop.items())
    placed = place_recipes(recipes, event.places, shop)
    bench = replace(
        _with_pages(bench, placed),
        title=event.title,
        uid=event.uid,
        hands=event.hands,
        speed=event.speed,
        away=event.away,
        baths=event.baths,
        jobs=event.jobs,
        places={name: Place(station) for name, station in placed.places.items()},
        sources=recipes,
        shop=shop,
    )
    numbers = event.numbers or range(1, len(event.parts) + 1)
    for (name, key), number in zip(event.parts, numbers, strict=True):
        known, enters = event.properties.get(name, {}), event.enters.get(name, {})
        part = _new_part(name, number, key, event.t_ms, known, event.counts.get(name, 1))
        bench = _with_part(bench, _entering(bench, part, enters))
    return bench


@_apply.register
def _(event: e.PartAdded, bench: Bench) -> Bench:
    if event.recipe is not None:
        bench = _with_recipe(bench, event.key, recipe_from_table(event.recipe), event.places)
    enters = {"step": event.step, "before": event.before} if event.step is not None else {}
    number = event.number or max((p.number for p in bench.parts.values()), default=0) + 1
    part = _new_part(event.part, number, event.key, event.t_ms, event.properties, event.count)
    return _with_part(bench, _entering(bench, part, enters))


@_apply.register
def _(event: e.Acknowledged, bench: Bench) -> Bench:
    return replace(bench, acknowledged={**bench.acknowledged, event.hazard: event.t_ms})


@_apply.register
def _(event: e.WorkBegan, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    index = bench.recipe_of(part).step_index(event.step)
    step = bench.recipe_of(part).step[index]
    return _move(
        bench,
        event,
        part,
        step=index,
        station=step.at if step.dwell is None else None,
        passes={**part.passes, step.id: part.passes.get(step.id, 0) + 1},
        answers={},
        began_ms=part.began_ms if part.began_ms is not None else event.t_ms,
        lifted_from=None,
        dwelt_ms=0,
        target_s=None,
        since_ms=part.since_ms if event.with_last else event.t_ms,
    )


@_apply.register
def _(event: e.WorkFinished, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    steps = bench.recipe_of(part).step
    goes_on = steps[part.step].dwell is None and part.step + 1 < len(steps)
    since_ms = event.t_ms
    if event.with_next:  # the countdown of the next work begins when this one usually ends
        since_ms = min(since_ms, part.since_ms + steps[part.step].hands_s * 1000)
    return _move(
        bench,
        event,
        part,
        step=part.step + goes_on,
        station=None,
        since_ms=since_ms,
    )


@_apply.register
def _(event: e.PutIn, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    index = bench.recipe_of(part).step_index(event.step)
    dwell = bench.recipe_of(part).step[index].dwell
    target_s = part.target_s if part.target_s is not None else dwell and dwell.target_s
    return _move(
        bench,
        event,
        part,
        step=index,
        station=event.station,
        since_ms=event.t_ms - part.dwelt_ms,
        target_s=target_s,
    )


@_apply.register
def _(event: e.TakenOut, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    last = part.step + 1 >= len(bench.recipe_of(part).step)
    return _move(
        bench,
        event,
        part,
        step=part.step if last else part.step + 1,
        station=None,
        lifted_from=part.step,
        dwelt_ms=event.dwelt_ms,
    )


@_apply.register
def _(event: e.Answered, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    given = AnswerGiven(event.answer, event.no, event.above_ceiling)
    return _with_part(bench, replace(part, answers={**part.answers, event.check: given}))


@_apply.register
def _(event: e.Sent, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    return _move(
        bench,
        event,
        part,
        step=bench.recipe_of(part).step_index(event.to_step),
        station=None,
        sent=_counts(bench, part, event),
        lifted_from=None,
        dwelt_ms=0,
        target_s=None,
    )


@_apply.register
def _(event: e.Skipped, bench: Bench) -> Bench:
    part = bench.parts[event.part]
    recipe = bench.recipe_of(part)
    index = recipe.step_index(event.to_step) if event.to_step else len(recipe.step) - 1
    return _move(
        bench, event, part, step=index, station=None, lifted_from=None, dwelt_ms=0, answers={}
    )


@_apply.register
def _(event: e.PartDone | e.Scrapped, bench: Bench) -> Bench:
    return _move(bench, event, bench.parts[event.part], station=None, held=None)


@_apply.register
def _(event: e.BathTied, bench: Bench) -> Bench:
    was = bench.baths.get(event.station)
    bench = replace(bench, baths={**bench.baths, event.station: event.bath})
    if was is None:
        return bench  # the same bath, now with a name
    return _with_place(bench, event.station, **_FRESH, heated_ms=None)


@_apply.register
def _(event: e.Leaving, bench: Bench) -> Bench:
    if event.from_ms is None or event.to_ms is None:
        return replace(bench, gone=None)
    return replace(bench, gone=(event.from_ms, event.to_ms))


@_apply.register
def _(event: e.SomeScrapped, bench: Bench) -> Bench:
    return _with_part(bench, replace(bench.parts[event.part], count=event.left))


@_apply.register
def _(event: e.Held, bench: Bench) -> Bench:
    if event.part is None:
        return replace(bench, phase=RunPhase.HELD, held=event.reason)
    part = replace(bench.parts[event.part], held=event.reason, stopped=event.by_recipe)
    return _with_part(bench, part)


@_apply.register
def _(event: e.Resumed, bench: Bench) -> Bench:
    if event.part is None:
        return replace(bench, phase=RunPhase.RUNNING, held=None)
    return _with_part(bench, replace(bench.parts[event.part], held=None))


@_apply.register
def _(event: e.ReadingTaken, bench: Bench) -> Bench:
    place = bench.places[event.station]
    probe = event.probe if isinstance(event, e.ProbeRead) else ""
    reading = StationReading(parse(event.reading), event.taken_ms, event.verdict, probe)
    ready = event.taken_ms if event.verdict == "in" else None
    return _with_place(
        bench,
        event.station,
        readings=(*place.readings, reading)[-KEPT_READINGS:],
        skipped=None,
        ready_ms=place.ready_ms if place.ready_ms is not None else ready,
    )


@_apply.register
def _(event: e.ReadingSkipped, bench: Bench) -> Bench:
    return _with_place(bench, event.station, skipped=SkippedReading(event.t_ms, event.reason))


@_apply.register
def _(event: e.MakeUpBegan, bench: Bench) -> Bench:
    return _with_place(bench, event.station, **_FRESH, heated_ms=None, cooling_ms=event.t_ms)


@_apply.register
def _(event: e.Heated | e.MadeUp, bench: Bench) -> Bench:
    return _with_place(bench, event.station, **_FRESH, heated_ms=event.t_ms, cooling_ms=None)


@_apply.register
def _(event: e.Prepared, bench: Bench) -> Bench:
    others = {item: tick for item, tick in bench.prepared.items() if item != event.item}
    ticked = {event.item: TickedItem(event.t_ms, event.said)} if event.ready else {}
    return replace(bench, prepared={**others, **ticked})


@_apply.register
def _(event: e.Postponed, bench: Bench) -> Bench:
    return _with_part(bench, replace(bench.parts[event.part], not_before_ms=event.until_ms))


@_apply.register
def _(event: e.TargetMoved, bench: Bench) -> Bench:
    return _with_part(bench, replace(bench.parts[event.part], target_s=event.target_s))


@_apply.register
def _(event: e.HandsChanged, bench: Bench) -> Bench:
    return replace(bench, hands=event.hands)


@_apply.register
def _(event: e.HoursChanged, bench: Bench) -> Bench:
    return replace(bench, away=event.away)


@_apply.register
def _(event: e.StationClosed, bench: Bench) -> Bench:
    return _with_place(bench, event.station, closed=event.reason, closed_ms=event.t_ms)


@_apply.register
def _(event: e.StationOpened, bench: Bench) -> Bench:
    return _with_place(bench, event.station, closed=None, closed_ms=event.t_ms)


def recipe_from_table(table: Mapping[str, Any]) -> Recipe:
    """The recipe from a table in an event.

    Its rules were checked when the run was set up (``layout.checked_recipe``) and are not
    checked again: rules may become stricter, and a log must stay readable.
    """
    return Recipe.model_validate(dict(table))


_FRESH: Mapping[str, Any] = {"readings": (), "skipped": None, "ready_ms": None}
"""A bath that was heated or made up: earlier readings no longer count."""


def _with_recipe(bench: Bench, key: str, recipe: Recipe, at: Mapping[str, str]) -> Bench:
    """Add a recipe; existing places keep what is known about them."""
    sources = {**bench.sources, key: recipe}
    placed = place_recipes(sources, {**bench.at, **at}, bench.shop)
    places = {
        name: replace(bench.places[name], station=station) if name in bench.places
        else Place(station)
        for name, station in placed.places.items()
    }  # fmt: skip
    return replace(_with_pages(bench, placed), places=places, sources=sources)


def _with_pages(bench: Bench, placed: Placed) -> Bench:
    """The recipes at their places, with the pages about what must not meet."""
    carried = {key: carry_over_pages(recipe) for key, recipe in placed.recipes.items()}
    clashes = clash_pages(placed.recipes)
    return replace(bench, recipes=placed.recipes, at=placed.at, clashes=clashes, carried=carried)


def _new_part(
    name: str, number: int, key: str, t_ms: int, known: Mapping[str, str], count: int
) -> Part:
    properties = {prop: parse(text) for prop, text in known.items()}
    part = Part(name, number, key, since_ms=t_ms, properties=properties)
    return replace(part, count=count, count_begun=count)


def _entering(bench: Bench, part: Part, enters: Mapping[str, str]) -> Part:
    """A part at the step where it enters its recipe, if it is half done."""
    if not enters:
        return part
    step = bench.recipes[part.recipe].step_index(enters["step"])
    return replace(part, step=step, entered=step, before=enters["before"])


def _with_part(bench: Bench, part: Part) -> Bench:
    return replace(bench, parts={**bench.parts, part.name: part})


def _with_place(bench: Bench, station: str, **changes: Any) -> Bench:
    place = replace(bench.places[station], **changes)
    return replace(bench, places={**bench.places, station: place})


def _move(bench: Bench, event: e.Event, part: Part, **changes: Any) -> Bench:
    """A part's next phase, by the table, with the time it began."""
    changes = {"phase": PART_AFTER[type(event)], "since_ms": event.t_ms, **changes}
    return _with_part(bench, replace(part, **changes))


def _counts(bench: Bench, part: Part, event: e.Sent) -> dict[str, int]:
    """Counts of sends: one more for this answer, and new counts for the loops inside it.

    A loop over exactly the same steps is not inside it, or two checks that take turns would never
    end.
    """
    recipe = bench.recipe_of(part)
    first, last = recipe.step_index(event.to_step), recipe.step_index(event.from_step)
    inner = {
        way.key
        for way in recipe.ways
        if first <= way.index <= last and (way.to_index, way.index) != (first, last)
        and way.to_index is not None and way.to_index >= first
    }  # fmt: skip
    counts = {key: n for key, n in part.sent.items() if key not in inner}
    if event.check is not None:
        counts[f"{event.from_step}/{event.check}/{event.answer}"] = event.count
    return counts


def _touch(bench: Bench, event: e.Event) -> Bench:
    """Note when parts, places and the run last changed, since backdating stops there."""
    if event.press == 0 and not isinstance(event, e.Created):
        return bench  # not a press
    began_ms = bench.session_began_ms(event.t_ms)
    bench = replace(bench, session_ms=began_ms, active_ms=max(bench.active_ms, event.t_ms))
    name = getattr(event, "part", None)
    if name is not None and name in bench.parts:
        bench = _with_part(bench, replace(bench.parts[name], touched_ms=event.t_ms))
    station = station_of(bench, event)
    if station is not None and station in bench.places:
        bench = _with_place(bench, station, touched_ms=event.t_ms)
    if name is None and station is None:
        bench = replace(bench, touched_ms=max(bench.touched_ms, event.t_ms))
    return bench


def station_of(bench: Bench, event: e.Event) -> str | None:
    """The station of an event: its own, or that of work inside a station."""
    if isinstance(event, e.WorkBegan | e.WorkFinished) and event.part in bench.parts:
        recipe = bench.recipe_of(bench.parts[event.part])
        step = recipe.step[recipe.step_index(event.step)]
        return step.at if step.dwell is None else None
    return getattr(event, "station", None)
