"""Reads a partly typed line the way a shell does."""

from __future__ import annotations

from typing import NamedTuple

SAFE = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./:=@%+,^")
"""ASCII characters that need no backslash; characters beyond ASCII need none either."""

BLANKS = " \t\n"
"""What separates words; to a shell, other white space is part of a word."""

IN_DOUBLE = frozenset('"\\$`')
"""What a backslash escapes inside double quotes."""


class Typed(NamedTuple):
    """One word.

    Attributes:
        text: the word, as the program would get it.
        kept: how many of its letters come before the piece that the shell replaces.
        quote: the quotation mark that is still open; empty if none is.
    """

    text: str
    kept: int = 0
    quote: str = ""


def words_of(line: str, breaks: str = "") -> list[Typed]:
    """The words of a line up to the cursor; the last one is unfinished and may be empty.

    Args:
        line: as it was typed, with quotation marks and backslashes.
        breaks: characters that start a new piece within a word.
    """
    done: list[Typed] = []
    text, kept, quote, escaped, begun = "", 0, "", False, False
    for letter in line:
        if escaped:
            drop = not quote or letter in IN_DOUBLE
            text, escaped = text + (letter if drop else f"\\{letter}"), False
        elif letter == "\\" and quote != "'":
            escaped = begun = True
        elif letter == quote:
            quote = ""
        elif quote:
            text += letter
        elif letter in "'\"":
            quote, kept, begun = letter, len(text), True
        elif letter in BLANKS:
            if begun:
                done.append(Typed(text))
            text, kept, begun = "", 0, False
        else:
            text, begun = text + letter, True
            kept = len(text) if letter in breaks else kept
    return [*done, Typed(text, kept, quote)]


def as_typed(text: str, word: Typed) -> str:
    """The piece of a whole word that bash inserts."""
    piece = text[word.kept :]
    if word.quote == "'":
        return piece.replace("'", "'\\''")
    if word.quote:
        return "".join(f"\\{letter}" if letter in IN_DOUBLE else letter for letter in piece)
    return "".join(c if c in SAFE or not c.isascii() else f"\\{c}" for c in piece)
