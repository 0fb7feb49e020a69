"""Texts in a limited room: columns are counted, so that wide characters take two."""

from __future__ import annotations

import textwrap

from rich.cells import cell_len, chop_cells, set_cell_size

JOINER = "\N{ZERO WIDTH JOINER}"
"""Terminals don't agree on how wide joined signs are, so on the screen none are joined."""


def clip(text: str, room: int) -> str:
    """A text in a limited room; what doesn't fit ends in an ellipsis."""
    text = text.replace(JOINER, "")
    return text if cell_len(text) <= room else set_cell_size(text, max(0, room - 1)) + "…"


def fill(text: str, room: int) -> str:
    """A text clipped or padded to just this many columns."""
    return set_cell_size(clip(text, room), max(0, room))


def spread(left: str, right: str, room: int) -> str:
    """One text at the left end of the room, one at the right; the left one gives way."""
    if not right:
        return clip(left, room)
    return f"{fill(left, room - cell_len(right) - 2)}  {clip(right, room)}"


def wrapped(text: str, width: int) -> list[str]:
    """A text in lines of so many columns at most."""
    text = text.replace(JOINER, "")
    if cell_len(text) == len(text):
        return textwrap.wrap(text, width)
    lines = [""]
    for piece in (piece for word in text.split() for piece in chop_cells(word, width)):
        joined = f"{lines[-1]} {piece}".strip()
        if cell_len(joined) <= width:
            lines[-1] = joined
        else:
            lines.append(piece)
    return lines
