"""How the rows of the screen are divided: the next action first, the rest by need."""

from __future__ import annotations

from benchtimer.values import dataclass

LARGE_KEYS = 3
"""Rows of a key that a wet finger can hit."""

FEW = 6
"""How many answers go side by side in large letters."""

MESSAGE_ROWS = 3
"""A message can take this many rows from the lanes; a longer one ends in an ellipsis."""


LOW_ROWS = 2
"""... and this many on a low screen."""


@dataclass(frozen=True, slots=True)
class Size:
    """Columns and rows of the terminal."""

    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Rooms:
    """Rows for each field of the board; the picture gets the rest.

    Attributes:
        keys: rows of the keys at the bottom, 1 or 3.
        answers: rows of the answers you can touch; 0 if no question is open.
    """

    keys: int
    answers: int


def share_out(
    height: int, next_rows: int, picture: int, message_rows: int, answers: int = 0
) -> Rooms:
    """Divide the rows.

    Args:
        height: rows of the terminal.
        next_rows: rows of the next action, including its frame.
        picture: rows that the picture, or a page in its place, needs.
        message_rows: rows of the message.
        answers: how many answers there are to touch. A few answers come before rows of the
            picture; the keys of a figure don't.
    """
    header = then = undo = keys = 1
    free = height - header - next_rows - then - message_rows - undo - keys
    answer_rows = 0
    if answers:
        needed = LARGE_KEYS + (picture if answers > FEW else picture // 2)
        answer_rows = LARGE_KEYS if free >= needed else 1
        free -= answer_rows
    if free >= 2 * picture + LARGE_KEYS - 1:
        keys = LARGE_KEYS
    return Rooms(keys, answer_rows)
