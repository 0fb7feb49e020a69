"""A plan as spans of work: when you are busy at the bench, and when you are free."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from benchtimer.plan.outcome import PlannedMove
from benchtimer.values import dataclass

FREE_S = 1800
"""With this much time between two moves you are free; with less you wait at the bench.

The program's own judgment: long enough to leave the shop.
"""


@dataclass(frozen=True, slots=True)
class Busy:
    """One span of work, in seconds of the plan.

    Attributes:
        moves: how many moves it has.
        free_until_s: when the next one begins; None for the last.
    """

    start_s: int
    end_s: int
    moves: int
    free_until_s: int | None = None


def busy_spans(moves: Sequence[PlannedMove]) -> list[Busy]:
    """The spans of work of a plan, in order of time. A last pull that takes no time counts, too."""
    spans: list[list[int]] = []
    for move in sorted(moves, key=lambda m: (m.start_s, m.end_s)):
        if spans and move.start_s - spans[-1][1] < FREE_S:
            spans[-1][1] = max(spans[-1][1], move.end_s)
            spans[-1][2] += 1
        else:
            spans.append([move.start_s, move.end_s, 1])
    ends = [*(span[0] for span in spans[1:]), None]
    return [Busy(a, b, n, end) for (a, b, n), end in zip(spans, ends, strict=True)]


def busy_lines(moves: Sequence[PlannedMove], to: Callable[[int, int], str]) -> list[str]:
    """Each span in one sentence: ``Sat 09:00 to 10:15 busy, free until 16:45``.

    Args:
        moves: the moves of a plan.
        to: writes two times of the plan as ``A to B``, with the day of B only if it differs.
    """
    lines = []
    for span in busy_spans(moves):
        free = "then done"
        if span.free_until_s is not None:
            free = f"free until {to(span.end_s, span.free_until_s).rpartition(' to ')[2]}"
        lines.append(f"{to(span.start_s, span.end_s)} busy, {free}")
    return lines
