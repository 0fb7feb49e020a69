"""Lists and chances in words, for sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence

Say = Callable[[int], str]
"""Writes a time of a plan, given in seconds."""


def listed(names: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def percent(share: float) -> str:
    """``0.12`` -> ``12%``.

    Only a chance of exactly zero is ``0%``, and only certainty is ``100%``.
    """
    if 0 < share < 0.01:
        return "under 1%"
    if 0.99 < share < 1:
        return "over 99%"
    return f"{share:.0%}"


def chance_words(count: int, trials: int) -> str:
    """``12% (48 of 400 trials)``: a chance always comes with its trials."""
    return f"{percent(count / trials)} ({count or 'none'} of {trials:,} trials)"
