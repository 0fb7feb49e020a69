"""The effect of the other open runs on one run: shared places, hands, chemistry that must not meet.

A run's own state knows nothing about other runs. ``Surroundings.over`` adds what the shop
(``shop.shop_state``) knows to a bench, so that the bench reflects the shop: a tank is full no
matter whose parts are in it, a reading counts in every run that uses the bath, and a place out of
service is out of service for all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtimer.recipe.model import Hazard, Station, Window
from benchtimer.recipe.places import PlaceError, narrowed
from benchtimer.run.readiness import kept_by_another
from benchtimer.run.refusals import Crowded, verdict_of
from benchtimer.run.run_state import (
    KEPT_READINGS,
    Bench,
    Guest,
    OtherHeat,
    Part,
    PartPhase,
    Place,
    TickedItem,
)
from benchtimer.values import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """One of a run's places, as other runs know it.

    Attributes:
        places: the same place in each other run that uses it.
        guests: their parts in it.
        ticks: its setup lines that are checked off there, by this run's keys.
        heats: the temperatures at which they need it.
    """

    places: tuple[Place, ...] = ()
    guests: tuple[Guest, ...] = ()
    ticks: Mapping[str, TickedItem] = field(default_factory=dict)
    heats: tuple[OtherHeat, ...] = ()


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The effect of the other open runs on one run.

    Attributes:
        places: the places that others also use, by this run's place id.
        in_hand: parts of other runs in the hands.
        hands: people who work in the shop; None if unknown.
        pages: pages about what other runs and the bath book have open that must not meet this
            run's baths.
        numbers: part numbers that other runs have.
    """

    places: Mapping[str, Elsewhere] = field(default_factory=dict)
    in_hand: tuple[Guest, ...] = ()
    hands: int | None = None
    pages: tuple[Hazard, ...] = ()
    numbers: frozenset[int] = frozenset()

    def over(self, bench: Bench) -> Bench:
        """The bench with all of that added."""
        if not (self.places or self.pages):
            return bench
        known = {name: elsewhere for name, elsewhere in self.places.items() if name in bench.places}
        places = {name: _seen(bench, name, elsewhere) for name, elsewhere in known.items()}
        stations = {name: place.station for name, place in places.items()}
        ticks = {key: tick for elsewhere in known.values() for key, tick in elsewhere.ticks.items()}
        titles = {page.title for page in bench.clashes}
        pages = [page for page in self.pages if page.title not in titles]
        return replace(
            bench,
            places={**bench.places, **places},
            recipes={
                key: recipe.model_copy(
                    update={"station": tuple(stations.get(s.id, s) for s in recipe.station)}
                )
                for key, recipe in bench.recipes.items()
            },
            prepared={**ticks, **bench.prepared},
            clashes=(*bench.clashes, *pages),
        )

    def holding(self, bench: Bench, but: Part) -> list[str]:
        """What the hands hold in the whole shop, except one part, in words."""
        own = [
            part.name for part in bench.parts.values()
            if part.phase is PartPhase.IN_HAND and part.held is None and part.name != but.name
        ]  # fmt: skip
        return own + [str(guest) for guest in self.in_hand]

    def check_room(self, before: Bench, after: Bench, what: str) -> None:
        """Refuse a correction that would put more into a shared place than it holds.

        Args:
            before: the bench as it is.
            after: the bench after the correction.
            what: the correction, in words.

        Raises:
            Crowded: a place would hold too much.
        """
        for name, elsewhere in self.places.items():
            inside = after.inside(name) if name in after.places else []
            more = len(inside) > (len(before.inside(name)) if name in before.places else 0)
            if not (more and elsewhere.guests):
                continue
            station = _seen(after, name, elsewhere).station
            if len(inside) + len(elsewhere.guests) > station.holds:
                raise Crowded(what, station.title, station.holds, elsewhere.guests[0])


ALONE = Surroundings()
"""A run alone in the shop."""


def _seen(bench: Bench, name: str, elsewhere: Elsewhere) -> Place:
    """A place with what other runs know about it: the newest entry of any run counts."""
    place = bench.places[name]
    everywhere = (place, *elsewhere.places)
    needs = place.station.temperature
    heats = tuple(replace(h, own=needs) for h in elsewhere.heats if _excludes(needs, h.window))
    kept = kept_by_another(bench, replace(place, other_heats=heats))
    own = place.station if kept is None else _at(place.station, kept.window)
    station = _limited(own, [other.station for other in elsewhere.places])
    heat = max(everywhere, key=lambda p: p.turned_ms)
    since_ms = heat.turned_ms
    # Of readings at the same moment, the hotter one counts as the later one.
    known = {r for p in everywhere for r in p.readings if r.t_ms >= since_ms}
    readings = sorted(known, key=lambda r: (r.t_ms, r.quantity.base))[-KEPT_READINGS:]
    last_ms = readings[-1].t_ms if readings else since_ms
    skips = [p.skipped for p in everywhere if p.skipped is not None and p.skipped.t_ms >= last_ms]
    ready = [p.ready_ms for p in everywhere if p.ready_ms is not None and p.ready_ms >= since_ms]
    return replace(
        place,
        station=station,
        closed=max(everywhere, key=lambda p: p.closed_ms).closed,
        closed_ms=max(p.closed_ms for p in everywhere),
        guests=elsewhere.guests,
        other_heats=heats,
        readings=tuple(replace(r, verdict=verdict_of(station, r.quantity)) for r in readings),
        skipped=max(skips, key=lambda skip: skip.t_ms, default=None),
        heated_ms=heat.heated_ms,
        cooling_ms=heat.cooling_ms,
        ready_ms=min(ready, default=None),
        touched_ms=max(p.touched_ms for p in everywhere),
    )


def _limited(station: Station, others: Sequence[Station]) -> Station:
    """A station with the smallest ``holds`` and the narrowest window.

    If the windows of two runs don't overlap, each run follows its own: no part goes in next to a
    part of the other (``Place.other_heats``), or before a reading inside its own window.
    """
    holds = min(station.holds, *(other.holds for other in others))
    windows = [s.temperature for s in (station, *others) if s.temperature is not None]
    window = station.temperature
    if window is not None:
        try:
            window = narrowed(station.title, windows)
        except PlaceError:
            window = _under_ceilings(window, windows)
    if (holds, window) == (station.holds, station.temperature):
        return station
    return station.model_copy(update={"holds": holds, "temperature": window})


def _under_ceilings(window: Window, others: Sequence[Window]) -> Window:
    """A window limited by the lowest ceiling that leaves it any room."""
    ceilings = [w.ceiling for w in others if w.ceiling is not None]
    fit = [c for c in ceilings if c.base >= window.max.base]
    return window.model_copy(update={"ceiling": min(fit, key=lambda c: c.base, default=None)})


def _at(station: Station, window: Window) -> Station:
    return station.model_copy(update={"temperature": window})


def _excludes(own: Window | None, other: Window) -> bool:
    """Whether two windows have no temperature in common."""
    return own is not None and (own.min.base > other.max.base or other.min.base > own.max.base)
