"""Text in limited space: columns are counted, so that wide characters take two."""

from __future__ import annotations

import re

from rich.cells import cell_len, set_cell_size

JOINER = "\N{ZERO WIDTH JOINER}"
"""Terminals disagree about the width of joined characters, so none are joined on the screen."""

WORDS = re.compile(r"\s*(?:\d+ (?:min|[dhs])\b(?: \d+ (?:min|[hs])\b)*\S*|\S+)")
"""The words of a text, with the spaces before; a duration such as ``31 min 6 s`` is one."""

GAP = "   "
"""Between the pieces of a line."""


def clip(text: str, room: int) -> str:
    """Text in limited space; if it doesn't fit, it ends in an ellipsis."""
    text = text.replace(JOINER, "")
    return text if cell_len(text) <= room else set_cell_size(text, max(0, room - 1)) + "…"


def fill(text: str, room: int) -> str:
    """Text clipped or padded to exactly this many columns."""
    return set_cell_size(clip(text, room), max(0, room))


def whole_pieces(text: str, room: int) -> str:
    """As many of the pieces between three spaces as fit, and at least the first."""
    pieces = text.split(GAP)
    while len(pieces) > 1 and cell_len(GAP.join(pieces)) > room:
        pieces.pop()
    return GAP.join(pieces)


def centred(text: str, room: int) -> str:
    """Text clipped or centered in exactly this many columns."""
    text = clip(text, room)
    return fill(" " * ((room - cell_len(text)) // 2) + text, room)


def wrapped(text: str, room: int) -> list[str]:
    """Text in lines of this many columns; a wider word is broken, and nothing is lost.

    A duration such as ``31 min 6 s`` stays together.
    """
    lines = [""]
    for token in WORDS.findall(text.replace(JOINER, "")):
        word = token.lstrip()
        apart = " " * (len(token) - len(word)) if lines[-1] else ""
        if cell_len(lines[-1] + apart + word) <= room:
            lines[-1] += apart + word
        else:
            lines[len(lines) if lines[-1] else -1 :] = _pieces(word, room)
    return lines


def folded(line: str, room: int) -> list[str]:
    """A line in lines of this many columns; the continuation is indented further."""
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
