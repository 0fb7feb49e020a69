"""A fact about a try: one recorded thing that may explain how it came out."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.values import dataclass

SAME = 0.1
"""Figures that differ by less than this share of their scale count as the same."""

TIME_SCALE_S = 60.0
"""A time without limits is compared with itself, or with a minute if it is shorter."""

REST_SCALE_S = 3600.0
"""The same for time spent only waiting: an extra minute explains nothing."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact.

    Attributes:
        kind: one of ``fact_kinds.KINDS``.
        label: what it is.
        shown: its value.
        place: index of its step; -1 if it applies to all of them.
        number: its value, if it is a figure.
        low: the smallest it should be, and ``high`` the largest, if the recipe says.
        is_time: whether the number is seconds.
        scale_s: a time without limits is compared with this, if it is shorter.
        is_name: it only names something, such as a bath; other facts describe it.
    """

    kind: str
    label: str
    shown: str
    place: int = -1
    number: float | None = None
    low: float | None = None
    high: float | None = None
    is_time: bool = False
    scale_s: float = TIME_SCALE_S
    is_name: bool = False

    @property
    def is_outside(self) -> bool:
        """A figure outside its limits."""
        if self.number is None:
            return False
        below = self.low is not None and self.number < self.low - 1e-9
        return below or (self.high is not None and self.number > self.high + 1e-9)


Facts = dict[tuple[str, str], Fact]
"""Facts by kind and a key within it."""


def numbers_of(facts: Sequence[Fact]) -> list[float] | None:
    """The figures of some facts; None unless all of them are figures."""
    numbers = [fact.number for fact in facts if fact.number is not None]
    return numbers if len(numbers) == len(facts) else None


def scale_of(facts: Sequence[Fact]) -> float:
    """The scale that measures a difference of these figures."""
    widths = [f.high - f.low for f in facts if f.high is not None and f.low is not None]
    if widths and max(widths) > 0:
        return max(widths)
    largest = max((abs(f.number) for f in facts if f.number is not None), default=0.0)
    return max(largest, facts[0].scale_s if facts[0].is_time else 1e-9)


def differ(facts: Sequence[Fact]) -> bool:
    """Whether some facts differ by enough to count."""
    numbers = numbers_of(facts)
    if numbers is None:
        return len({fact.shown for fact in facts}) > 1
    apart = max(numbers, default=0.0) - min(numbers, default=0.0)
    mixed = len({fact.is_outside for fact in facts}) > 1
    return mixed or (bool(facts) and apart > SAME * scale_of(facts) + 1e-9)
