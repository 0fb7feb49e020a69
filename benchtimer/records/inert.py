"""Texts that can't disturb a screen, whatever a log holds.

What is said at the bench is checked before it is written. A log or a run that comes from
elsewhere may hold anything, so every form checks once more on the way out.
"""

from __future__ import annotations

import re

from benchtimer.recipe.fields import unsafe_character

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"

_SUSPECT = re.compile(r"[^\n\x20-\x7e]")
"""Only these are looked at more closely: most texts are plain."""


def visible(text: str, keep: str = "\n") -> str:
    """A text in which each control code, or mark that turns text around, is a replacement mark.

    Args:
        text: any text.
        keep: control codes that may stay.
    """
    return _SUSPECT.sub(lambda m: m[0] if m[0] in keep else _shown(m[0], REPLACEMENT), text)


def one_line(text: str) -> str:
    """The same for a text of one line: a line break is one of those marks."""
    return visible(text, keep="")


def escaped(text: str, *, long: bool = False) -> str:
    """JSON or TOML in which such characters are written as escapes: it reads back the same.

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
