"""TOML texts in every layout the format allows, with the position of each value."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from hypothesis import strategies as st

from benchtimer.recipe.line_finder import Path

_BARE = re.compile(r"[A-Za-z0-9_-]+")
KEYS = st.sampled_from(
    [
        "a",
        "b",
        "c-d",
        "E_5",
        "7",
        "max",
        "x.y",
        "two words",
        "",
        "é",
        "it's",
        'say "so"',
        "#",
        "[k]",
    ]
)
COMMENTS = st.sampled_from(["", "# c", "#", '# a = "1"  # b', "# [b]", '# \'x\u2028 "y"""'])
_TEXTS = st.text("aé #=[]{},.'\"\\\n\t刃", max_size=8)
SCALARS = st.one_of(
    _TEXTS, st.integers(-999, 10**9), st.booleans(), st.sampled_from([0.5, -2.5e10])
)
VALUES = st.one_of(SCALARS, st.lists(SCALARS, max_size=4))
"""No dates: tomlkit drops a blank after one in a list, so such a text is refused."""


def tables(depth: int = 3) -> st.SearchStrategy[dict[str, Any]]:
    """Nested tables, with lists of tables among them."""
    inner: st.SearchStrategy[Any] = VALUES
    if depth:
        table = tables(depth - 1)
        inner = st.one_of(VALUES, table, st.lists(table, min_size=1, max_size=3))
    return st.dictionaries(KEYS, inner, max_size=5)


@dataclass
class Layout:
    """A text, its table, and where each value is written.

    Attributes:
        spans: first and last position of each value except tables with a header, by path.
    """

    text: str
    table: dict[str, Any]
    spans: dict[Path, tuple[int, int]]


@dataclass
class _Writer:
    """Writes a table and draws the style at each step."""

    draw: Any
    ends: tuple[str, ...]
    text: str = ""
    spans: dict[Path, tuple[int, int]] = field(default_factory=dict)

    def one(self, *choices: str) -> str:
        return str(self.draw(st.sampled_from(choices)))

    def maybe(self) -> bool:
        return bool(self.draw(st.booleans()))

    def space(self) -> str:
        return self.one("", " ", " ", "  ", "\t")

    def end(self) -> str:
        return self.one(*self.ends)

    def key(self, name: str) -> str:
        ways = [json.dumps(name, ensure_ascii=self.maybe())]
        ways += [name] * 3 if _BARE.fullmatch(name) else []
        ways += [f"'{name}'"] if "'" not in name else []
        return self.one(*ways)

    def line(self, text: str) -> None:
        """A whole line, perhaps with a comment, with others around it."""
        self.text += self.one("", "", " ", "\t") + text
        self.close_line()

    def close_line(self) -> None:
        self.text += self.space() + self.draw(COMMENTS) + self.end()
        for _ in range(self.draw(st.integers(0, 2))):
            self.text += self.space() + self.draw(COMMENTS) + self.end()

    def dots(self, names: tuple[str, ...]) -> str:
        return f"{self.one('', '', ' ')}.{self.one('', '', ' ')}".join(map(self.key, names))

    def scalar(self, value: Any) -> str:
        if isinstance(value, bool):
            return str(value).lower()
        if not isinstance(value, str):
            return str(value)
        ways = [json.dumps(value, ensure_ascii=False)] * 3
        if "'" not in value and "\n" not in value:
            ways += [f"'{value}'"]
        if "'''" not in value and not value.endswith("'"):
            ways += [f"'''\n{value}'''"]
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        ways += [f'"""{self.one("", chr(10), chr(92) + chr(10) + "  ")}{escaped}"""']
        way = self.one(*ways)
        if way[:3] == '"""' and value[:1] in ("\n", " ", "\t"):
            way = ways[0]  # a leading blank would count as layout
        return way.replace("\n", self.ends[0])

    def value(self, path: Path, value: Any) -> None:
        start = len(self.text)
        if isinstance(value, dict):
            self.in_line(path, value)
        elif isinstance(value, list):
            self.listed(path, value)
        else:
            self.text += self.scalar(value)
        self.spans[path] = (start, len(self.text))

    def listed(self, path: Path, values: list[Any]) -> None:
        self.text += "["
        wide = self.maybe()
        for index, value in enumerate(values):
            self.text += self.gap(wide)
            self.value((*path, index), value)
            self.text += self.gap(wide)
            self.text += "," if index < len(values) - 1 or self.maybe() else ""
        self.text += self.gap(wide) + "]"

    def gap(self, wide: bool) -> str:
        """The space between the entries of a list."""
        if not wide or self.maybe():
            return self.space()
        return f"{self.space()}{self.draw(COMMENTS)}{self.end()}{self.space()}"

    def in_line(self, path: Path, table: Mapping[str, Any]) -> None:
        self.text += "{" + self.space()
        for index, (names, value) in enumerate(self.flat(table)):
            self.text += f",{self.space()}" if index else ""
            self.text += f"{self.dots(names)}{self.space()}={self.space()}"
            self.value((*path, *names), value)
            self.text += self.space()
        self.text += "}"

    def flat(self, table: Mapping[str, Any]) -> list[tuple[tuple[str, ...], Any]]:
        """The entries of a table, with some subtables as dotted names."""
        found: list[tuple[tuple[str, ...], Any]] = []
        for name, value in table.items():
            if isinstance(value, dict) and value and self.maybe():
                found += [((name, *names), inner) for names, inner in self.flat(value)]
            else:
                found.append(((name,), value))
        return self.draw(st.permutations(found)) if self.maybe() else found

    def entries(self, path: Path, table: Mapping[str, Any]) -> None:
        """The lines below a header."""
        for names, value in self.flat(table):
            self.text += self.space() + self.dots(names) + f"{self.space()}={self.space()}"
            self.value((*path, *names), value)
            self.close_line()

    def header(self, names: tuple[str, ...], *, array: bool = False) -> None:
        marks = ("[[", "]]") if array else ("[", "]")
        self.line(f"{marks[0]}{self.space()}{self.dots(names)}{self.space()}{marks[1]}")


_Section = tuple[tuple[str, ...], Path, dict[str, Any], bool, bool]


def _sections(
    writer: _Writer, names: tuple[str, ...], path: Path, table: dict[str, Any], array: bool
) -> list[list[_Section]]:
    """The sections of a table: its own first, then those below it, each family in its order."""
    own: dict[str, Any] = {}
    families: list[list[_Section]] = []
    for key, value in table.items():
        if isinstance(value, dict) and writer.maybe():
            inner = _sections(writer, (*names, key), (*path, key), value, False)
            families.append(_woven(writer, inner))
        elif isinstance(value, list) and value and isinstance(value[0], dict) and writer.maybe():
            families.append(
                [
                    section
                    for index, entry in enumerate(value)
                    for section in _woven(
                        writer, _sections(writer, (*names, key), (*path, key, index), entry, True)
                    )
                ]
            )
        else:
            own[key] = value
    needed = array or own or not families or writer.maybe()
    return [[(names, path, own, array, bool(needed))], *families]


def _woven(writer: _Writer, families: list[list[_Section]]) -> list[_Section]:
    """The own section first, then the families' sections, mixed but each family in order."""
    (own,), *rest = families
    found = [own]
    rest = [list(family) for family in rest if family]
    while rest:
        at = writer.draw(st.integers(0, len(rest) - 1))
        found.append(rest[at].pop(0))
        rest = [family for family in rest if family]
    return found


@st.composite
def layouts(draw: Any, drawn: st.SearchStrategy[dict[str, Any]] | None = None) -> Layout:
    """A table, given or drawn, written in some layout."""
    table = draw(drawn if drawn is not None else tables())
    ends = draw(st.sampled_from([("\n",), ("\n",), ("\r\n",), ("\n", "\r\n")]))
    writer = _Writer(draw, ends)
    for _ in range(draw(st.integers(0, 3))):
        writer.text += writer.space() + draw(COMMENTS) + writer.end()
    for names, path, own, array, needed in _woven(
        writer, _sections(writer, (), (), table, array=False)
    ):
        if names and needed:
            writer.header(names, array=array)
        writer.entries(path, own)
    text = writer.text
    if text.endswith("\n") and writer.maybe():
        text = text.removesuffix("\n").removesuffix("\r")
    return Layout(text, table, writer.spans)
