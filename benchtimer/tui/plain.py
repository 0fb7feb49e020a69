"""The screen on an ASCII terminal: every other character is replaced by a similar one."""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Mapping

from rich.cells import cell_len
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

_LIKE = {
    **dict.fromkeys("─╌╍┅┈┉╴╶╸╺", "-"),
    "━": "=",  # in a window: you can pull; a thin line is too early
    "┄": ".",
    "┫": "]",
    "◆": "*",
    "▒": "!",
    "○": ".",
    **dict.fromkeys("▁▂", "_"),
    **dict.fromkeys("▃▄", "-"),
    **dict.fromkeys("▅▆", "="),
    **dict.fromkeys("═", "="),
    **dict.fromkeys("│┃╎╏┆┇┊┋║╵╷╹╻▏▎▍▌▐▕", "|"),
    **dict.fromkeys("╭╮╰╯┌┐└┘├┤┬┴┼┿╔╗╚╝╠╣╦╩╬┏┓┗┛┣┳┻╋", "+"),
    **dict.fromkeys("█▇▀▉▊▋▓░■▪▔", "#"),
    **dict.fromkeys("◇●•", "o"),
    **dict.fromkeys("·∙", "."),
    **dict.fromkeys("▶▸►→⟶", ">"),
    **dict.fromkeys("◀◂◄←", "<"),
    **dict.fromkeys("▲▴↑", "^"),
    **dict.fromkeys("▼▾↓", "V"),
    **dict.fromkeys("‘’", "'"),
    **dict.fromkeys("“”", '"'),
    **dict.fromkeys("–—−", "-"),
    "…": "~",
    "×": "x",
    "°": "'",
    "\N{NO-BREAK SPACE}": " ",
}
"""Each has the same width, so that nothing on the screen moves."""

PLAIN_KEYS = {"→": "RIGHT", "←": "LEFT", "↑": "UP", "↓": "DOWN"}
"""Keys by name, for terminals without arrows."""

UNKNOWN = "?"


def ascii_text(text: str) -> str:
    """Text in ASCII with the same number of columns."""
    return text if text.isascii() else "".join(map(_like, text))


def _like(char: str) -> str:
    if char.isascii():
        return char
    width = cell_len(char)
    if width == 0:
        return ""
    like = _LIKE.get(char) or unicodedata.normalize("NFKD", char)[0]
    return like if len(like) == width and like.isascii() else UNKNOWN * width


class AsciiOnly(LineFilter):
    """Replaces every character on its way to the terminal."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The segments of one line in ASCII."""
        del background
        return [Segment(ascii_text(s.text), s.style, s.control) for s in segments]


def knows_only_ascii(environ: Mapping[str, str], platform: str = sys.platform) -> bool:
    """Whether the locale says that the terminal can't show UTF-8. Without a locale, the consoles of
    Windows and the terminals of macOS can. The usual order of POSIX: LC_ALL, then LC_CTYPE, then
    LANG. A Python that finds no locale sets LC_CTYPE to C.UTF-8 for itself; this says nothing about
    the terminal.
    """
    own = environ.get("LC_CTYPE", "")
    coercions = ("C.UTF-8", "C.utf8", *(("UTF-8",) if platform != "darwin" else ()))
    coerced = own in coercions and environ.get("LANG", "C") in (
        "",
        "C",
        "POSIX",
    )
    for locale in (environ.get("LC_ALL", ""), "" if coerced else own, environ.get("LANG", "")):
        if locale:
            return "utf" not in locale.lower()
    return platform not in ("win32", "darwin")
