"""The places of the drawn board: fill, readings and their trend, use, and the limit ahead."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from math import ceil

from benchtimer.bench.plans import MoveAhead
from benchtimer.quantity import Quantity
from benchtimer.recipe.model import Station
from benchtimer.run.actions import Action
from benchtimer.run.readiness import FAR_MS, drift, not_ready, out_of_window
from benchtimer.run.run_state import Bench, Place, StationReading
from benchtimer.run.upkeep import reading_due_ms
from benchtimer.store.log import Stamp
from benchtimer.times import duration
from benchtimer.values import dataclass, field, replace
from benchtimer.view.bathtrouble import time_to_limit
from benchtimer.view.picture.lane_rows import PLACE
from benchtimer.view.picture.scene import Level, PlaceUse, PlaceView
from benchtimer.view.text import clip
from benchtimer.view.words import short_temperature

TREND = 8
"""How many readings a place's trend shows."""


@dataclass(frozen=True)
class RunView:
    """What is known about one run when the board is drawn.

    Attributes:
        name: the run.
        bench: its parts and places.
        actions: its agenda.
        moves: the plan's moves, in order of time.
        latest_ms: until when each part's next move keeps every window, by the plan.
        picked: the part picked by hand.
        turns: when the hands get to the next move of each part that is due.
        readings: when they get to the readings on the agenda, by place.
        late: the place of each late part in the order of the pulls, if several are late.
    """

    name: str
    bench: Bench
    actions: Sequence[Action]
    moves: Sequence[MoveAhead] = ()
    latest_ms: Mapping[str, int] = field(default_factory=dict)
    picked: str | None = None
    turns: Mapping[str, int] = field(default_factory=dict)
    readings: Mapping[str, int] = field(default_factory=dict)
    late: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def _by_part(self) -> Mapping[str, Sequence[MoveAhead]]:
        moves: dict[str, list[MoveAhead]] = {}
        for move in self.moves:
            moves.setdefault(move.part, []).append(move)
        return moves

    def ahead(self, part: str, now_ms: int) -> list[MoveAhead]:
        """The plan's moves of a part that have not ended."""
        moves = self._by_part.get(part, ())
        free_ms = self.turns.get(part)
        if free_ms is None:
            return [move for move in moves if move.end_ms >= now_ms]
        ahead: list[MoveAhead] = []
        for move in moves:  # the first one comes in turn and delays any it would overlap
            start_ms = max(move.start_ms, free_ms) if ahead else free_ms
            free_ms = start_ms + move.end_ms - move.start_ms
            ahead.append(replace(move, start_ms=start_ms, end_ms=free_ms))
        return ahead


def short_name(station: Station) -> str:
    """A station in up to eight letters."""
    return station.short_name or clip(station.id.upper(), PLACE)


def next_reading_ms(users: Sequence[tuple[RunView, str]], now_ms: int) -> int | None:
    """When to read a place next: when the agenda asks for it, or at its own interval."""
    asked = [run.readings[own] for run, own in users if own in run.readings]
    if asked:
        return max(now_ms, min(asked))
    run, own = users[0]
    return _own_reading_ms(run.bench, run.bench.places[own], now_ms)


def _own_reading_ms(bench: Bench, place: Place, now_ms: int) -> int | None:
    """When to read a place with a part in it next."""
    if place.station.temperature is None or place.cooling_ms is not None:
        return None
    inside = place.guests or bench.inside(place.station.id)
    if not inside and out_of_window(place) is None:
        return None
    due_ms = reading_due_ms(bench, place, now_ms)
    return max(due_ms, now_ms) if due_ms < FAR_MS else None


def place_view(
    name: str, users: Sequence[tuple[RunView, str]], stamp: Stamp
) -> tuple[PlaceView, bool]:
    """A real place, and whether it is in use, read or planned for.

    Args:
        name: its name in the shop; its last part distinguishes two with the same id.
        users: the runs that use it, and its id in each. What the first one knows counts for all.
        stamp: the moment.
    """
    run, own = users[0]
    place, now_ms = run.bench.places[own], stamp.noted_ms
    uses = _uses(users, now_ms)
    inside = len(run.bench.inside(own)) + len(place.guests)
    closed = _closed(place)
    reading = place.reading
    wrong = reading is not None and reading.verdict != "in"
    needed = inside or any(use.end_ms is None or use.end_ms > now_ms for use in uses)
    soon = time_to_limit(place, now_ms) if needed else ""  # it drifts with its heat off, too
    level = Level.LATE if wrong and inside else Level.NOW if wrong or place.closed else Level.CALM
    found = drift(place) if soon else None
    view = PlaceView(
        short=short_name(place.station) if name.endswith(own) else clip(name.upper(), PLACE),
        inside=inside,
        holds=place.station.holds,
        reading=short_temperature(str(reading.quantity)) if reading is not None else "",
        limits=_limits(place),
        age=_age(now_ms - reading.t_ms) if reading is not None else (),
        trend=_trend(place, place.readings[-TREND:]),
        limit_ms=found.at_ms if found is not None else None,
        limit=_limit(place, found.limit if found is not None else ""),
        limit_left=_limit_left(found.at_ms - now_ms) if found is not None else "",
        read_ms=next_reading_ms(users, now_ms),
        uses=tuple(uses),
        level=level,
        closed=closed,
    )
    return view, bool(inside or uses or wrong or (reading is not None and reading.t_ms > 0))


def _closed(place: Place) -> str:
    if place.closed is not None:
        return "OUT"
    if place.cooling_ms is not None:
        return "COOLING"
    return "HEATING" if not_ready(place) is not None else ""


def _age(ms: int) -> tuple[str, ...]:
    """How long ago a reading was, rounded up to the minute; then the same in fewer columns."""
    words, hours = duration(max(1, ceil(ms / 60_000)) * 60), ceil(ms / 3_600_000)
    short = f"{hours} h" if hours > 1 else words
    return f"{words} ago", f"{short} ago", words, short


def _limits(place: Place) -> str:
    window = place.station.temperature
    if window is None:
        return ""
    return f"{_figure(window.min)}-{short_temperature(str(window.max))}"


def _figure(limit: Quantity) -> str:
    """A limit without its unit, which the reading next to it has."""
    return short_temperature(str(limit)).partition(" ")[0]


def _limit(place: Place, which: str) -> str:
    """The limit a place is drifting to, or has passed."""
    window, reading = place.station.temperature, place.reading
    if window is None or reading is None:
        return ""
    if reading.verdict == "low":
        return f"min {_figure(window.min)}"
    if reading.verdict != "in":
        return f"max {_figure(window.max)}"
    return f"{which} {_figure(window.max if which == 'max' else window.min)}" if which else ""


def _limit_left(left_ms: int) -> str:
    minutes = left_ms // 60_000
    return f"in {minutes} min" if minutes > 0 else "any minute"


def _trend(place: Place, readings: Sequence[StationReading]) -> tuple[float, ...]:
    window = place.station.temperature
    if window is None:
        return ()
    low, high = window.min.base, window.max.base
    room = (high - low) or 1.0
    return tuple((reading.quantity.base - low) / room for reading in readings)


def _uses(users: Sequence[tuple[RunView, str]], now_ms: int) -> list[PlaceUse]:
    """When parts are in a place, and when it is full."""
    run, own = users[0]
    spans = [span for each, place in users for span in _spans(each, place, now_ms)]
    return _counted(spans, run.bench.places[own].station.holds)


def _spans(run: RunView, place: str, now_ms: int) -> Iterator[tuple[int, int | None]]:
    """When each part of a run is in a place."""
    for part in run.bench.parts.values():
        moves = run.ahead(part.name, now_ms)
        start_ms, where = part.since_ms, part.station
        for move in moves:
            if where == place:
                yield start_ms, move.start_ms
            start_ms, where = move.end_ms, move.place
        if where == place and not part.is_out:
            yield start_ms, None


def _counted(spans: Sequence[tuple[int, int | None]], holds: int) -> list[PlaceUse]:
    """Overlapping spans, as pieces in which the place is full or not."""
    far = 2**62
    changes: Counter[int] = Counter()
    for start, end in spans:
        changes[start] += 1
        changes[far if end is None else end] -= 1
    uses: list[PlaceUse] = []
    count = 0
    for start, end in pairwise(sorted(changes)):
        count += changes[start]
        if not count:
            continue
        last = uses[-1] if uses else None
        if last is not None and (last.end_ms, last.full) == (start, count >= holds):
            start = uses.pop().start_ms
        uses.append(PlaceUse(start, None if end == far else end, count >= holds))
    return uses
