"""A plan as spans of work: when you are busy at the bench, and when you are free."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import zip_longest

from benchtimer.plan.outcome import PlannedMove
from benchtimer.times import joined_spans

FREE_S = 1800
"""With this much time between two moves you are free; with less you wait at the bench.

The program's own judgment: long enough to leave the shop.
"""


def busy_spans(moves: Sequence[PlannedMove]) -> list[tuple[int, int]]:
    """The spans of work of a plan, in order of time, in seconds of the plan."""
    return joined_spans(((move.start_s, move.end_s) for move in moves), FREE_S - 1)


def busy_lines(moves: Sequence[PlannedMove], to: Callable[[int, int], str]) -> list[str]:
    """Each span in one sentence: ``Sat 09:00 to 10:15 busy, free until 16:45``.

    Args:
        moves: the moves of a plan.
        to: writes two times of the plan as ``A to B``, with the day of B only if it differs.
    """
    spans, lines = busy_spans(moves), []
    for (start_s, end_s), later in zip_longest(spans, spans[1:]):
        free = "then done"
        if later is not None:
            free = f"free until {to(end_s, later[0]).rpartition(' to ')[2]}"
        lines.append(f"{to(start_s, end_s)} busy, {free}")
    return lines
