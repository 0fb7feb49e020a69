"""Which line of a TOML text an entry is on.

The standard library's reader keeps no positions, so this walks the text again, token by
token, and notes the line where each table, key and array entry begins. It only finds lines for
messages and is not a second reader: it assumes that the text is TOML, and for anything it does not
understand it returns the line of the entry around it.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

Path = tuple[str | int, ...]

# Each alternative is possessive, and a text whose quotes are never closed runs to the end,
# so that the scan is linear for any file.
_TOKEN = re.compile(
    r"""(?P<skip>[^\S\n]++|\#[^\n]*+)
      | (?P<text>\"{3}(?:[^"\\]|\\.|\"{1,2}(?!\"))*+(?:\"{3,5}|\\?\Z)
              |'{3}(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|\Z)
              |"(?:[^"\\\n]|\\[^\n])*+(?:"|\\?(?=\n|\Z))
              |'[^'\n]*+(?:'|(?=\n|\Z)))
      | (?P<newline>\n)
      | (?P<mark>[\[\]{}=,.])
      | (?P<word>[^\s\[\]{}=,."'\#]++)""",
    re.VERBOSE | re.DOTALL,
)
_END_OF_SCALAR = (",", "]", "}", "\n", "")


class Token(NamedTuple):
    """A mark, a word, a quoted text or a line break, and its line."""

    text: str
    line: int


class LineFinder:
    """Finds the line of an entry by its path, for example ``("step", 2, "dwell", "target")``.

    The text is scanned only when the first line is needed: most recipes have no problem.
    """

    def __init__(self, text: str) -> None:
        self._text = text

    @cached_property
    def _walk(self) -> _Walk:
        return _Walk(self._text)

    def line_of(self, path: Path) -> int | None:
        """The line of the entry, or of the nearest entry around it that has one."""
        for length in range(len(path), 0, -1):
            line = self._walk.lines.get(path[:length])
            if line is not None:
                return line
        return None

    def headers(self) -> list[tuple[int, Path]]:
        """The line of each header, in order, and the table it opens."""
        return self._walk.headers


def tokens(text: str) -> Iterator[Token]:
    """The tokens of a TOML text, without blanks and comments."""
    line = 1
    for match in _TOKEN.finditer(text):
        if match.lastgroup != "skip":
            yield Token(match[0], line)
        line += match[0].count("\n")


class _Walk:
    """One pass over the tokens of a text; ``lines`` and ``headers`` are what it found."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Path, int] = {}
        self.headers: list[tuple[int, Path]] = []
        self._last: dict[Path, int] = {}  # the index of the last entry of each array of tables
        self._tokens = tokens(text)
        self._next = Token("", 0)
        self._take()
        self._file()

    def _take(self) -> Token:
        taken = self._next
        self._next = next(self._tokens, Token("", taken.line))
        return taken

    def _skip_newlines(self) -> None:
        while self._next.text == "\n":
            self._take()

    def _note(self, base: Path, names: Path, line: int) -> Path:
        """Note an entry and, where they have no line yet, the tables its dotted name implies."""
        for length in range(1, len(names) + 1):
            self.lines.setdefault((*base, *names[:length]), line)
        return (*base, *names)

    def _file(self) -> None:
        table: Path = ()
        while self._next.text:
            self._skip_newlines()
            if self._next.text == "[":
                table = self._header()
            elif self._next.text:
                self._entry(table)

    def _header(self) -> Path:
        line = self._take().line
        array = self._next.text == "["
        if array:
            self._take()
        path = self._resolved(self._key(), array=array)
        self._note((), path, line)
        self.headers.append((line, path))
        self._rest_of_line()
        return path

    def _resolved(self, names: Path, *, array: bool) -> Path:
        """The path that a header opens, through the last entry of each array of tables."""
        path: Path = ()
        for name in names[:-1]:
            path = (*path, name)
            if path in self._last:
                path = (*path, self._last[path])
        path = (*path, *names[-1:])
        if array:
            self._last[path] = self._last.get(path, -1) + 1
            path = (*path, self._last[path])
        return path

    def _entry(self, table: Path) -> None:
        """``key = value``, in a table or an inline table."""
        line = self._next.line
        path = self._note(table, self._key(), line)
        if self._next.text == "=":
            self._take()
            self._value(path)
        else:
            self._rest_of_line()

    def _key(self) -> Path:
        names: list[str] = []
        while self._next.text not in ("=", *_END_OF_SCALAR):
            token = self._take()
            if token.text != ".":
                names.append(_name(token.text))
        return tuple(names)

    def _value(self, path: Path) -> None:
        opening = self._next.text
        if opening in ("[", "{"):
            self._take()
            self._array(path) if opening == "[" else self._inline_table(path)
            return
        while self._next.text not in _END_OF_SCALAR:
            self._take()

    def _array(self, path: Path) -> None:
        index = 0
        while self._more("]"):
            self._value(self._note(path, (index,), self._next.line))
            index += 1
            self._comma("]")

    def _inline_table(self, path: Path) -> None:
        while self._more("}"):
            self._entry(path)
            self._comma("}")

    def _more(self, closing: str) -> bool:
        self._skip_newlines()
        if self._next.text in (closing, ""):
            self._take()
            return False
        return True

    def _comma(self, closing: str) -> None:
        """Skip a comma, or anything unexpected, so that the walk always ends."""
        self._skip_newlines()
        if self._next.text != closing:
            self._take()

    def _rest_of_line(self) -> None:
        while self._next.text not in ("\n", ""):
            self._take()


def _name(text: str) -> str:
    if text[:1] == '"' and "\\" in text:
        with contextlib.suppress(tomllib.TOMLDecodeError):
            return next(iter(tomllib.loads(f"{text} = 0")))
    return text[1:-1] if text[:1] in ("'", '"') and len(text) > 1 else text
