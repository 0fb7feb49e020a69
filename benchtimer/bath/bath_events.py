"""What can happen to a bath. They are in the log like the events of runs, one stream for each bath.

The stream of the bath ``etch 2`` is called ``bath/etch 2``. Bodies hold only text, numbers
and plain tables; quantities are text with units, as entered.
"""

from __future__ import annotations

from benchtimer.run.events import Event
from benchtimer.values import dataclass

STREAM = "bath/"
"""Start of the name of every bath's stream; no run has a name like it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BathEvent(Event):
    """What all bath events have in common."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BathMixed(BathEvent):
    """A bath was made up.

    Attributes:
        mix: the id of the mix it is, if it is one of a recipe.
        recipe: the recipe that mix is of, if one was named.
        of: what it is, in words.
        volume: how much was made.
        fecl3: strength when fresh, if it is ferric chloride.
        window: least and greatest temperature it is worked at, if the recipe says.
        chemistry: what it holds, if the recipe says, for what must not meet.
    """

    mix: str | None
    recipe: str | None
    of: str
    volume: str | None = None
    fecl3: str | None = None
    window: tuple[str, str] | None = None
    chemistry: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BathToppedUp(BathEvent):
    """Something was added; ``volume`` is how much is in the vessel now."""

    what: str
    volume: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BathReading(BathEvent):
    """A reading was taken by hand: temperature, pH, strength, share or concentration."""

    reading: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BathWorn(BathEvent):
    """Metal the bath has dissolved, from weighing the parts before and after."""

    removed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BathCoupon(BathEvent):
    """A strip of steel hung in the bath for a while, and lost this much.

    Attributes:
        loss: weight lost or depth etched.
        dwell_s: how long it hung.
    """

    loss: str
    dwell_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BathUsed(BathEvent):
    """A run that used the bath is over; the last such event of a run counts.

    Attributes:
        run: the run's name.
        parts: names of the parts that were in it.
        immersions: how often a part went in.
        dwell_ms: total time of parts in it.
        readings: time and text of each reading taken of its station in the run.
    """

    run: str
    parts: tuple[str, ...]
    immersions: int
    dwell_ms: int
    readings: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BathRetired(BathEvent):
    """The bath is retired; ``how`` says how it was disposed of, by which local code."""

    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BathEntryTakenBack(BathEvent):
    """An entry made by hand no longer counts; it stays in the log."""

    undone: int


BATH_KINDS: dict[str, type[BathEvent]] = {
    "bath-mixed": BathMixed,
    "bath-topped-up": BathToppedUp,
    "bath-reading": BathReading,
    "bath-worn": BathWorn,
    "bath-coupon": BathCoupon,
    "bath-used": BathUsed,
    "bath-retired": BathRetired,
    "bath-entry-taken-back": BathEntryTakenBack,
}
"""The name of each kind of event in the log. Names never change."""
