"""Makes text safe for any screen, whatever is in the log. Entries at the bench are checked before
they are written. A log or run from somewhere else can contain anything, so every form checks again
on output.
"""

from __future__ import annotations

import re

from benchtimer.recipe.fields import unsafe_character

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"

_SUSPECT = re.compile(r"[^\n\x20-\x7e]")
"""Only text with one of these is checked further: most text is plain."""


def visible(text: str, keep: str = "\n") -> str:
    """Text with a replacement mark for each control code or bidirectional mark.

    Args:
        text: any text.
        keep: control codes to keep.
    """
    return _SUSPECT.sub(lambda m: m[0] if m[0] in keep else _shown(m[0], REPLACEMENT), text)


def one_line(text: str) -> str:
    """The same for one line: a line break becomes a replacement mark, too."""
    return visible(text, keep="")


def escaped(text: str, *, long: bool = False) -> str:
    """JSON or TOML with such characters written as escapes, so that it reads back the same.

    Args:
        text: JSON, or TOML without literal strings.
        long: TOML's escapes of eight digits, where JSON has pairs of four.
    """
    return _SUSPECT.sub(lambda m: _shown(m[0], _escape(m[0], long)), text)


def _shown(char: str, instead: str) -> str:
    return char if unsafe_character(char) is None else instead


def _escape(char: str, long: bool) -> str:
    number = ord(char)
    if char == "\t":
        return char  # between tokens; inside strings both already write it as an escape
    if long and number > 0xFFFF:
        return f"\\U{number:08x}"
    if number <= 0xFFFF:
        return f"\\u{number:04x}"
    high, low = divmod(number - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"
