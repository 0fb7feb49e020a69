"""What you can write into the bath book. Each becomes an event, or is refused."""

from __future__ import annotations

from dataclasses import dataclass

from benchtimer.trade.compatibility import Chemistry

COUPON_S = 300
"""How long a coupon hangs unless said otherwise: one etch. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class BathCommand:
    """A wish about one bath."""


@dataclass(frozen=True, slots=True)
class MixBath(BathCommand):
    """A bath has been made up; see ``events.BathMixed`` for the fields."""

    of: str
    mix: str | None = None
    recipe: str | None = None
    volume: str | None = None
    fecl3: str | None = None
    window: tuple[str, str] | None = None
    chemistry: tuple[Chemistry, ...] = ()


@dataclass(frozen=True, slots=True)
class TopUp(BathCommand):
    """Something was added; ``volume`` is what is in the vessel now."""

    what: str
    volume: str | None = None


@dataclass(frozen=True, slots=True)
class ReadBath(BathCommand):
    """A reading, for example ``"290 F"``, ``"8.2 pH"``, ``"38 Be"``."""

    reading: str


@dataclass(frozen=True, slots=True)
class Wear(BathCommand):
    """Metal the bath has dissolved, by weighing the parts, for example ``"4.2 g"``."""

    removed: str


@dataclass(frozen=True, slots=True)
class Coupon(BathCommand):
    """What the bath took off a strip of steel in a time, for example ``"0.12 g"`` in 5 minutes."""

    loss: str
    dwell_s: int = COUPON_S


@dataclass(frozen=True, slots=True)
class Retire(BathCommand):
    """The bath is done with; how it was disposed of."""

    how: str


@dataclass(frozen=True, slots=True)
class TakeBack(BathCommand):
    """The last entry made by hand was a slip."""
