"""How the rows of the screen are shared out: the next action first, the rest by need."""

from __future__ import annotations

from dataclasses import dataclass

LARGE_KEYS = 3
"""Rows of a key that a wet finger hits."""

FEW = 6
"""So many answers stand side by side in large letters."""

MESSAGE_ROWS = 3
"""A message may take so many rows from the lanes; longer ones end in an ellipsis."""


@dataclass(frozen=True, slots=True)
class Size:
    """Columns and rows of the terminal."""

    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Rooms:
    """Rows for each field of the board.

    Attributes:
        bars: whether each lane has its second row, the bar.
        stations: rows for the stations.
        coming: rows for what comes later.
        keys: rows of the keys at the bottom, 1 or 3.
        answers: rows of the answers that can be touched; 0 if no question is open.
    """

    bars: bool
    stations: int
    coming: int
    keys: int
    answers: int


def share_out(
    height: int, next_rows: int, parts: int, places: int, message_rows: int, answers: int = 0
) -> Rooms:
    """Share the rows out.

    Args:
        height: rows of the terminal.
        next_rows: rows of the next action, its frame included.
        parts: how many lanes there are.
        places: how many stations there are.
        message_rows: rows of what needs saying.
        answers: how many answers there are to touch. A few are worth more than the bars of
            the lanes while they are asked for; the keys of a figure are not.
    """
    header = then = undo = keys = 1
    free = height - header - next_rows - then - message_rows - undo - keys - parts
    answer_rows = 0
    if answers:
        needed = LARGE_KEYS + (parts if answers > FEW else 0)
        answer_rows = LARGE_KEYS if free >= needed else 1
        free -= answer_rows
    bars = free >= parts
    free -= parts if bars else 0
    stations = places if free >= places else min(2, max(0, free))
    free -= stations
    if free >= LARGE_KEYS - 1:
        keys = LARGE_KEYS
        free -= LARGE_KEYS - 1
    return Rooms(bars, stations, max(0, free - 1), keys, answer_rows)
