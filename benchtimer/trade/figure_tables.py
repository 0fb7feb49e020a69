"""Straight-line reading between the rows of a printed table, in both directions."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence


def between(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    """The y that belongs to x, on straight lines between the rows.

    Args:
        xs: the table's arguments, strictly increasing, at least two.
        ys: the table's values, one per argument.
        x: from the first argument to the last; the caller has checked the range.
    """
    row = min(max(bisect_right(xs, x) - 1, 0), len(xs) - 2)
    share = (x - xs[row]) / (xs[row + 1] - xs[row])
    return ys[row] + share * (ys[row + 1] - ys[row])
