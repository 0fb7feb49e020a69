"""Which line of a TOML text an entry stands on.

The standard library's reader keeps no positions, so this walks the text once and notes
the line of each table header and each key. It is a finder for messages, not a second
reader: entries inside a value that spans lines are told by the line the value begins on.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_\-.\"' ]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"'][A-Za-z0-9_\-.\"' ]*?)\s*=(.*)$")
_LONG = ('"""', "'''")


class LineFinder:
    """Finds the line of an entry by its path, for example ``("step", 2, "dwell", "aim")``."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = {}
        self._last: dict[Path, int] = {}
        self._walk(text)

    def line_of(self, path: Path) -> int | None:
        """The line of the entry, or of the nearest entry around it that has one."""
        for length in range(len(path), 0, -1):
            line = self._lines.get(path[:length])
            if line is not None:
                return line
        return None

    def _walk(self, text: str) -> None:
        table: Path = ()
        open_quote: str | None = None
        for number, line in enumerate(text.splitlines(), start=1):
            if open_quote is not None:
                open_quote = None if open_quote in line else open_quote
                continue
            header = _HEADER.match(line)
            if header is not None:
                table = self._enter(_split(header[2]), array=header[1] == "[[")
                self._lines.setdefault(table, number)
                continue
            key = _KEY.match(line)
            if key is not None:
                self._lines.setdefault(table + tuple(_split(key[1])), number)
                open_quote = _left_open(key[2])

    def _enter(self, names: list[str], *, array: bool) -> Path:
        path: Path = ()
        for name in names[:-1]:
            path = (*path, name)
            if path in self._last:
                path = (*path, self._last[path])
        path = (*path, names[-1])
        if array:
            self._last[path] = self._last.get(path, -1) + 1
            path = (*path, self._last[path])
        return path


def _split(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in dotted.split(".")]


def _left_open(rest: str) -> str | None:
    for quote in _LONG:
        if rest.count(quote) % 2:
            return quote
    return None
