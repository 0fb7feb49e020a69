"""What one run shows: hands-on times, answers to checks, dwells, drift of baths.

It reads only the entries that count, so undone presses teach nothing. Time on hold is not
hands-on time, and work cut off by sending a part back by hand is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import log
from typing import Any

from benchtimer.quantity import QuantityError, parse, parse_duration
from benchtimer.run import events as e
from benchtimer.values import dataclass, field

SHORTEST_S = 1.0
"""Shorter work was not timed: both keys were pressed together afterward."""
FARTHEST = 8.0
"""A time of this many times the recipe's or more counts as this: someone forgot to press a key."""
DRIFT_S = (60, 2 * 3600)
"""Two readings this far apart show how fast a bath drifts: not too close, not over a night."""

HANDS, DWELL, LOOK, ANSWER, DRIFT, RUN = "hands", "dwell", "look", "answer", "drift", "run"
OVERRUN, SHORT = "overrun", "short"
"""The kinds of facts learned; each key begins with one."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing that a run showed.

    Attributes:
        recipe: the recipe's id.
        by: who did it; empty if no maker decides it.
        key: what it is about, such as ``hands/scrub`` or ``answer/look/color/no``.
        value: the logarithm of seconds for times, degrees C of drift for a bath, else 0.
        weight: 1, or the minutes that a drift took.
    """

    recipe: str
    by: str
    key: str
    value: float = 0.0
    weight: float = 1.0


@dataclass(slots=True)
class _Part:
    """A part on its way through the entries. Nothing begins or ends while it is on hold.

    Attributes:
        before: steps that led into the work in hand without a press in between.
    """

    recipe: str
    began_ms: int | None = None
    held_ms: int = 0
    holds: int = 0
    held_from_ms: int = 0
    before: tuple[str, ...] = ()

    def hold(self, t_ms: int) -> None:
        self.holds += 1
        if self.holds == 1:
            self.held_from_ms = t_ms

    def resume(self, t_ms: int) -> None:
        self.holds = max(0, self.holds - 1)
        if not self.holds and self.began_ms is not None:
            self.held_ms += t_ms - self.held_from_ms

    def end(self, t_ms: int) -> float | None:
        """Seconds of the work that is ending; None if there was none."""
        if self.began_ms is None:
            return None
        worked_s = (t_ms - self.began_ms - self.held_ms) / 1000
        self.began_ms, self.held_ms = None, 0
        return worked_s


@dataclass(slots=True)
class _Run:
    """What is known about a run while its entries are read."""

    recipes: dict[str, str] = field(default_factory=dict)
    planned_s: dict[tuple[str, str], float] = field(default_factory=dict)
    stations: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    parts: dict[str, _Part] = field(default_factory=dict)
    last: dict[str, tuple[int, float]] = field(default_factory=dict)

    def know(self, key: str, table: Mapping[str, Any], places: Mapping[str, str]) -> None:
        recipe = self.recipes[key] = str(table.get("id", key))
        for step in table.get("step", ()):
            here = (recipe, step["id"])
            self.planned_s[here] = _seconds(step.get("hands"))
        for address, place in places.items():
            owner, _, station = address.partition(".")
            if owner == key:
                self.stations.setdefault(place, []).append((recipe, station))


def _seconds(text: object) -> float:
    try:
        return parse_duration(str(text))
    except QuantityError:
        return 0.0


def observed(events: Iterable[e.Event]) -> Iterator[Seen]:
    """What a run showed.

    Args:
        events: those of the run that count, in order.
    """
    run = _Run()
    makers: dict[tuple[str, str], None] = {}
    for event in events:
        if isinstance(event, e.Created):
            for key, table in event.recipes.items():
                run.know(key, table, event.places)
            run.parts = {name: _Part(run.recipes.get(key, key)) for name, key in event.parts}
            continue
        for seen in _of(run, event):
            if seen.by:
                makers[seen.recipe, seen.by] = None
            yield seen
    yield from (Seen(recipe, by, RUN) for recipe, by in makers)


def _of(run: _Run, event: e.Event) -> Iterator[Seen]:
    if isinstance(event, e.PartAdded):
        if event.recipe is not None:
            run.know(event.key, event.recipe, event.places)
        run.parts[event.part] = _Part(run.recipes.get(event.key, event.key))
    elif isinstance(event, e.Held | e.Resumed):
        for part in _meant(run, event.part):
            (part.hold if isinstance(event, e.Held) else part.resume)(event.t_ms)
    elif isinstance(event, e.ReadingTaken):
        yield from _drift(run, event)
    elif isinstance(event, e.Heated | e.MakeUpBegan | e.MadeUp):
        run.last.pop(event.station, None)
    else:
        yield from _of_work(run, event)


def _meant(run: _Run, name: str | None) -> Iterable[_Part]:
    if name is None:
        return run.parts.values()
    return [run.parts[name]] if name in run.parts else []


def _of_work(run: _Run, event: e.Event) -> Iterator[Seen]:
    part = run.parts.get(getattr(event, "part", None) or "")
    if part is None:
        return
    recipe, by = part.recipe, event.by
    if isinstance(event, e.WorkBegan):
        if not event.with_last:
            part.began_ms, part.held_ms = event.t_ms, 0
    elif isinstance(event, e.WorkFinished) and event.with_next:
        part.before = (*part.before, event.step)
    elif isinstance(event, e.WorkFinished | e.Sent):
        is_send = isinstance(event, e.Sent)
        step = event.from_step if isinstance(event, e.Sent) else event.step
        worked_s = part.end(event.t_ms)
        steps, part.before = (*part.before, step), ()
        if worked_s is not None and not (is_send and getattr(event, "answer", None) is None):
            for one, share in _shares(run, recipe, steps):
                yield from _time(run, recipe, by, one, worked_s * share)
    elif isinstance(event, e.TakenOut):
        if event.dwelt_ms >= 1000 * SHORTEST_S:
            yield Seen(recipe, by, f"{DWELL}/{event.step}", log(event.dwelt_ms / 1000))
    elif isinstance(event, e.Deviated):
        if event.what in _DWELT:
            yield Seen(recipe, by, f"{_DWELT[event.what]}/{event.step}")
    elif isinstance(event, e.Answered):
        check = f"{event.step}/{event.check}"
        yield Seen(recipe, by, f"{LOOK}/{check}")
        if event.no:
            key = event.key or (event.answer if isinstance(event.answer, str) else "no")
            yield Seen(recipe, by, f"{ANSWER}/{check}/{key}")


_DWELT = {"overrun": OVERRUN, "early": SHORT}
"""The log's name for a dwell that was too long or too short."""


def _shares(run: _Run, recipe: str, steps: tuple[str, ...]) -> list[tuple[str, float]]:
    """The share of each step in the total time of steps that ended together, as in the recipe."""
    planned = [run.planned_s.get((recipe, step), 0.0) for step in steps]
    whole = sum(planned)
    shares = [p / whole if whole else 1 / len(steps) for p in planned]
    return list(zip(steps, shares, strict=True))


def _time(run: _Run, recipe: str, by: str, step: str, worked_s: float) -> Iterator[Seen]:
    if worked_s < SHORTEST_S:
        return
    planned_s = run.planned_s.get((recipe, step), 0.0)
    if planned_s > 0:
        worked_s = min(max(worked_s, planned_s / FARTHEST), max(planned_s, 1.0) * FARTHEST)
    yield Seen(recipe, by, f"{HANDS}/{step}", log(max(worked_s, SHORTEST_S)))


def _drift(run: _Run, event: e.ReadingTaken) -> Iterator[Seen]:
    try:
        reading_c = parse(event.reading, "temperature").base
    except QuantityError:
        return
    before = run.last.get(event.station)
    run.last[event.station] = (event.taken_ms, reading_c)
    if before is None:
        return
    apart_s = (event.taken_ms - before[0]) / 1000
    if DRIFT_S[0] <= apart_s <= DRIFT_S[1]:
        for recipe, station in run.stations.get(event.station, ()):
            off_c = abs(reading_c - before[1])
            yield Seen(recipe, "", f"{DRIFT}/{station}", off_c, apart_s / 60)
