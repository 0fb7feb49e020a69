"""What the calculations refuse, and how they say it.

Every public function of this package checks its arguments here, so that a figure outside
the range its source covers is an error with the range in it, never a plausible number.
"""

from __future__ import annotations

import math


class TradeError(ValueError):
    """A figure that can't be given. The message names the thing, the cause and the way out."""


class OutOfRangeError(TradeError):
    """A value outside the range a figure is valid for.

    Attributes:
        what: the value's name in plain words, for example ``"altitude"``.
        found: the value given.
        low: lowest value accepted.
        high: highest value accepted.
        unit: the unit of all three.
        why: what sets the range.
    """

    def __init__(
        self, what: str, found: float, low: float, high: float, unit: str, why: str
    ) -> None:
        self.what = what
        self.found = found
        self.low = low
        self.high = high
        self.unit = unit
        self.why = why
        space = " " if unit else ""
        super().__init__(
            f"{what} {found:.6g}{space}{unit} is out of range: "
            f"{low:.6g} to {high:.6g}{space}{unit} is valid ({why})"
        )


class CannotTellError(TradeError):
    """Values that are possible alone, but together give no answer.

    Attributes:
        what: the figure.
        found: what is in the way.
        cure: what to change.
    """

    def __init__(self, what: str, found: str, cure: str) -> None:
        self.what = what
        self.found = found
        self.cure = cure
        super().__init__(f"{what} can't be worked out: {found}; {cure}")


def within(what: str, value: float, low: float, high: float, unit: str, why: str) -> float:
    """The value, if it is a number from low to high (both included).

    Args:
        what: the value's name.
        value: the value.
        low: the smallest allowed.
        high: the largest allowed.
        unit: the unit of all three.
        why: the reason for the range.

    Raises:
        OutOfRangeError: below, above, infinite or not a number.
    """
    if math.isnan(value) or not low <= value <= high:
        raise OutOfRangeError(what, value, low, high, unit, why)
    return value
