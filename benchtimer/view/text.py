"""Texts in a limited room: columns are counted, so that wide characters take two."""

from __future__ import annotations

import re

from rich.cells import cell_len, set_cell_size

JOINER = "\N{ZERO WIDTH JOINER}"
"""Terminals don't agree on how wide joined signs are, so on the screen none are joined."""


def clip(text: str, room: int) -> str:
    """A text in a limited room; what doesn't fit ends in an ellipsis."""
    text = text.replace(JOINER, "")
    return text if cell_len(text) <= room else set_cell_size(text, max(0, room - 1)) + "…"


def fill(text: str, room: int) -> str:
    """A text clipped or padded to just this many columns."""
    return set_cell_size(clip(text, room), max(0, room))


def centred(text: str, room: int) -> str:
    """A text clipped, or put in the middle of just this many columns."""
    text = clip(text, room)
    return fill(" " * ((room - cell_len(text)) // 2) + text, room)


def spread(left: str, right: str, room: int) -> str:
    """One text at the left end of the room, one at the right; the left one gives way."""
    if not right:
        return clip(left, room)
    return f"{fill(left, room - cell_len(right) - 2)}  {clip(right, room)}"


def wrapped(text: str, room: int) -> list[str]:
    """A text in lines of this many columns; a word that is wider is broken, nothing is lost."""
    lines = [""]
    for token in re.findall(r"\s*\S+", text.replace(JOINER, "")):
        word = token.lstrip()
        apart = " " * (len(token) - len(word)) if lines[-1] else ""
        if cell_len(lines[-1] + apart + word) <= room:
            lines[-1] += apart + word
        else:
            lines[len(lines) if lines[-1] else -1 :] = _pieces(word, room)
    return lines


def folded(line: str, room: int) -> list[str]:
    """A line in lines of this many columns; what does not fit goes on further to the right."""
    if cell_len(line) <= room:
        return [line]
    text = line.lstrip()
    margin = " " * (len(line) - len(text))
    first, *others = wrapped(text, room - len(margin) - 2)
    return [margin + first, *(f"{margin}  {other}" for other in others)]


def _pieces(word: str, room: int) -> list[str]:
    """A word in pieces of this many columns."""
    pieces = [""]
    for char in word:
        if cell_len(pieces[-1] + char) > max(2, room):
            pieces.append("")
        pieces[-1] += char
    return pieces
