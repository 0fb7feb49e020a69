"""The state of a bath, and the fold over its events that makes it.

Unlike a run's, a bath's events are few and are not undone as a stack of benches: the fold
keeps the entries that count, and the bath follows from them. The program writes entries for runs
between the ones made by hand, so taking back an entry must leave those in place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import reduce
from typing import get_args

from benchtimer.bath import bath_events as e
from benchtimer.quantity import Quantity, parse
from benchtimer.run.events import Event
from benchtimer.trade.compatibility import Chemistry
from benchtimer.values import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class TimedReading:
    """One reading of a bath; ``run`` names the run it was taken in, if any."""

    t_ms: int
    quantity: Quantity
    run: str | None = None


@dataclass(frozen=True, slots=True)
class CouponLoss:
    """How much a bath took off one strip of steel."""

    t_ms: int
    loss: Quantity
    dwell_s: int

    @property
    def per_min(self) -> float:
        """The loss per minute, in the base unit of its kind."""
        return self.loss.base * 60 / self.dwell_s


@dataclass(frozen=True, slots=True)
class Usage:
    """What one run did with a bath; see ``events.BathUsed``."""

    parts: tuple[str, ...] = ()
    immersions: int = 0
    dwell_ms: int = 0
    readings: tuple[TimedReading, ...] = ()


@dataclass(frozen=True, slots=True)
class Bath:
    """One bath.

    Attributes:
        name: its identity, which never changes.
        mixed_ms: bench time at which it was made up.
        mix: id of its mix; None for a bath given in words only.
        recipe: the recipe of that mix, if one was named.
        of: what it is, in words.
        volume: how much is in the vessel, as last entered.
        fecl3: strength when fresh, if it is ferric chloride.
        made: how much was made at first.
        window: least and greatest working temperature, if known.
        top_ups: time, words of each.
        by_hand: readings taken outside runs.
        used: what each run did with it, by the run's name.
        removed_g: metal it has dissolved, by weighing, g; None if never weighed.
        coupons: what it took off strips of steel, the oldest first.
        chemistry: what it holds, for what must not meet, as far as that is known.
        retired_ms: when it was retired, and ``how``; None while it is open.
    """

    name: str
    mixed_ms: int
    of: str
    mix: str | None = None
    recipe: str | None = None
    volume: Quantity | None = None
    made: Quantity | None = None
    fecl3: Quantity | None = None
    window: tuple[Quantity, Quantity] | None = None
    top_ups: tuple[tuple[int, str], ...] = ()
    by_hand: tuple[TimedReading, ...] = ()
    used: Mapping[str, Usage] = field(default_factory=dict)
    removed_g: float | None = None
    coupons: tuple[CouponLoss, ...] = ()
    chemistry: tuple[Chemistry, ...] = ()
    retired_ms: int | None = None
    how: str = ""

    @property
    def is_open(self) -> bool:
        """Still in use."""
        return self.retired_ms is None

    @property
    def parts(self) -> int:
        """Parts that have been through it; a part counts once a run."""
        return sum(len(use.parts) for use in self.used.values())

    @property
    def immersions(self) -> int:
        """How many times a part went in."""
        return sum(use.immersions for use in self.used.values())

    @property
    def dwell_s(self) -> float:
        """Total time of parts in it."""
        return sum(use.dwell_ms for use in self.used.values()) / 1000

    @property
    def readings(self) -> list[TimedReading]:
        """All readings, oldest first; a reading shared by two runs appears once."""
        taken = [*self.by_hand, *(r for use in self.used.values() for r in use.readings)]
        once = {(reading.t_ms, str(reading.quantity)): reading for reading in reversed(taken)}
        return sorted(once.values(), key=lambda reading: reading.t_ms)

    @property
    def bite(self) -> float | None:
        """How fast it etches compared with its first coupon of the same kind; None without two of
        them.

        A hydrometer reads used etchant wrong, because dissolved iron weighs as much as the salt; a
        coupon measures the etching itself.
        """
        if not self.coupons:
            return None
        last = self.coupons[-1]
        same = [c for c in self.coupons if c.loss.kind.name == last.loss.kind.name]
        return last.per_min / same[0].per_min if len(same) > 1 else None

    def last_reading(self, kind: str) -> TimedReading | None:
        """The newest reading of one kind of quantity."""
        found = [r for r in self.readings if r.quantity.kind.name == kind]
        return found[-1] if found else None

    def age_s(self, now_ms: int) -> float:
        """Time since it was mixed, until now or until it was retired."""
        end_ms = now_ms if self.retired_ms is None else self.retired_ms
        return max(0, end_ms - self.mixed_ms) / 1000


@dataclass(frozen=True, slots=True)
class History:
    """A bath's stream, folded.

    Attributes:
        name: the bath's name.
        presses: how many entries were made by hand, those taken back included.
        last_ms: latest bench time in the stream.
        counts: the events that count, oldest first.
    """

    name: str
    presses: int = 0
    last_ms: int = 0
    counts: tuple[e.BathEvent, ...] = ()

    @property
    def bath(self) -> Bath | None:
        """The bath as it is; None if none has been mixed, or the mixing was taken back."""
        first = next((x for x in self.counts if isinstance(x, e.BathMixed)), None)
        if first is None:
            return None
        return reduce(_apply, self.counts, _made(self.name, first))


def evolve(history: History, event: Event) -> History:
    """The history after one event; events that are not about baths change nothing."""
    if not isinstance(event, e.BathEvent):
        return history
    seen = replace(
        history,
        presses=max(history.presses, event.press),
        last_ms=max(history.last_ms, event.t_ms),
    )
    if isinstance(event, e.BathEntryTakenBack):
        left = tuple(x for x in history.counts if x.press == 0 or x.press != event.undone)
        return replace(seen, counts=left)
    if isinstance(event, e.BathUsed):
        left = tuple(x for x in history.counts if not _same_use(x, event))
        return replace(seen, counts=(*left, event))
    return replace(seen, counts=(*history.counts, event))


def fold(name: str, events: Iterable[Event]) -> History:
    """The history from a bath's whole stream."""
    return reduce(evolve, events, History(name))


def _same_use(event: e.BathEvent, use: e.BathUsed) -> bool:
    return isinstance(event, e.BathUsed) and event.run == use.run


def _made(name: str, event: e.BathMixed) -> Bath:
    volume = _maybe(event.volume)
    window = None
    if event.window is not None:
        window = (parse(event.window[0]), parse(event.window[1]))
    return Bath(
        name, event.t_ms, event.of, event.mix, event.recipe, volume, volume,
        _maybe(event.fecl3), window, chemistry=_chemistry(event),
    )  # fmt: skip


def _chemistry(event: e.BathMixed) -> tuple[Chemistry, ...]:
    """What a bath contains; ferric chloride is an acid even if a recipe doesn't say so."""
    known = tuple(name for name in get_args(Chemistry) if name in event.chemistry)
    return known or (("acid",) if event.fecl3 is not None else ())


def _maybe(text: str | None) -> Quantity | None:
    return parse(text) if text is not None else None


def _apply(bath: Bath, event: e.BathEvent) -> Bath:
    if isinstance(event, e.BathToppedUp):
        volume = parse(event.volume) if event.volume is not None else bath.volume
        return replace(bath, volume=volume, top_ups=(*bath.top_ups, (event.t_ms, event.what)))
    if isinstance(event, e.BathReading):
        reading = TimedReading(event.t_ms, parse(event.reading))
        return replace(bath, by_hand=(*bath.by_hand, reading))
    if isinstance(event, e.BathWorn):
        grams = (bath.removed_g or 0.0) + parse(event.removed, "mass").base
        return replace(bath, removed_g=grams)
    if isinstance(event, e.BathCoupon):
        coupon = CouponLoss(event.t_ms, parse(event.loss), event.dwell_s)
        return replace(bath, coupons=(*bath.coupons, coupon))
    if isinstance(event, e.BathUsed):
        readings = tuple(TimedReading(t, parse(text), event.run) for t, text in event.readings)
        usage = Usage(event.parts, event.immersions, event.dwell_ms, readings)
        return replace(bath, used={**bath.used, event.run: usage})
    if isinstance(event, e.BathRetired):
        return replace(bath, retired_ms=event.t_ms, how=event.how)
    return bath
