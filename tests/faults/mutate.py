"""Damaged files: bytes, lines, values and whole tables of good ones changed at random.

The ``Random`` you pass in decides everything, so a seed repeats the same files.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Sequence
from functools import cache
from random import Random
from typing import Any

import tomli_w

NASTY_TEXTS = (
    "", " ", "\x00", "\x1b[2J\x1b[H", "\x1b]0;title\x07", "\x9b31m", "\x85", "\u2028", "\r", "\t",
    "\u202egnihcte\u202c", "\u2066bolster\u2069", "\u200b", "\ufeff", "\ufffe", "\U000e0041",
    "[bold red]hot[/]", "[/]", "[@click=app.quit]here[/]", "[link=file:///etc/passwd]x[/link]",
    "../../etc/passwd", "/etc/passwd", "C:\\CON", "salts/../..", "%s%n", "{0.__class__}",
    "$(reboot)", "`reboot`", "; reboot", "__import__('os').system('true')", "e\u0301" * 40,
    "\U0001f525" * 300,
    "\ud7ff", "日本語" * 60, "x" * 5000, "done", "null", "none", "1979-05-27",
)  # fmt: skip
"""Texts that may upset a screen, a shell, a path or a careless program."""

NASTY_QUANTITIES = (
    "0 s", "1 s", "-1 s", "1e9 s", "99999999 h", "9" * 30 + " d", "nan s", "inf min", "1 min 1",
    "400 d", "0.0001 s", "1 h 61 min", "0 C", "-300 C", "1e308 C", "290 F", "300 K", "١٢ min",
    "0 L", "1e-300 L", "9e99 gal", "5 %", "101 %", "90 g/L", "1/0 L", "12 parsec", "½ h", "1,5 h",
)  # fmt: skip

NASTY_NUMBERS: tuple[Any, ...] = (
    0, 1, 2, -1, 3, 20, 10**9, 2**63 - 1, 2**63, 10**30, -(2**63), 0.5, 1e308, -0.0, float("inf"),
    float("nan"), True, False,
)  # fmt: skip

NASTY_LITERALS = (
    "0x" + "f" * 40, "9" * 5000, "1e99999", "nan", "-inf", "1979-05-27", "07:32:00",
    "1979-05-27T07:32:00Z", "[]", "{}", "[[]]", "[" * 200 + "]" * 200, '"""', "'''", "''", "true",
    '"\\u202e"', '"\\u0000"', '"\\U0010ffff"', "{ a = { b = { c = {} } } }", "[1, 'x', {}]",
)  # fmt: skip

PLAIN_TEXTS = (
    "[bold red]hot[/]", "[/]", "[@click=app.quit]here[/]", "../../etc/passwd", "{0.__class__}",
    "%s", "日本語" * 20, "\U0001f525" * 40, "x" * 300, "$(reboot)", "e\u0301" * 30, "1",
    "\\", "'\"",
    "\U0001f469\u200d\U0001f527" * 20, "َّ" * 20, "\ufdfa" * 30,
)  # fmt: skip
"""Texts allowed in a recipe that must do nothing more there."""

LARGE_TEXT = "Etch until the pattern stands. " * 34_000
"""A megabyte of words."""


def changed_bytes(draw: Random, raw: bytes) -> bytes:
    """A few bytes changed, cut out, or inserted."""
    data = bytearray(raw)
    for _ in range(draw.randint(1, 8)):
        at = draw.randrange(len(data) or 1)
        what = draw.randrange(4)
        if what == 0 and data:
            data[at] ^= 1 << draw.randrange(8)
        elif what == 1 and data:
            data[at] = draw.randrange(256)
        elif what == 2:
            del data[at : at + draw.choice((1, 2, 10, 300))]
        else:
            data[at:at] = draw.randbytes(draw.choice((1, 2, 8)))
    return bytes(data[: draw.randrange(len(data) + 1)] if draw.random() < 0.05 else data)


def changed_lines(draw: Random, text: str) -> str:
    """A few lines dropped, doubled, moved, swapped, or given another value."""
    lines = text.split("\n")
    for _ in range(draw.randint(1, 6)):
        at, to = draw.randrange(len(lines)), draw.randrange(len(lines))
        what = draw.randrange(5)
        if what == 0 and len(lines) > 1:
            del lines[at]
        elif what == 1:
            lines.insert(to, lines[at])
        elif what == 2:
            lines[at], lines[to] = lines[to], lines[at]
        elif what == 3:
            lines.insert(to, lines.pop(at))
        elif "=" in lines[at]:
            lines[at] = f"{lines[at].partition('=')[0]}= {draw.choice(NASTY_LITERALS)}"
    return "\n".join(lines)


def nasty_value(draw: Random, old: Any) -> Any:
    """Another value, usually of the same type, so it gets far."""
    if draw.random() < 0.15:
        return draw.choice((*NASTY_NUMBERS, *NASTY_TEXTS, [], {}, [[]], [{}], {"a": 1}))
    if isinstance(old, bool):
        return not old
    if isinstance(old, int | float):
        return draw.choice((*NASTY_NUMBERS, old + 1, old - 1, old * 1000))
    if isinstance(old, str):
        return _nasty_text(draw, old)
    if isinstance(old, list):
        return draw.choice((old[::-1], old * 2, old * 40, [], old[:1], [old]))
    if isinstance(old, dict):
        return draw.choice(
            ({}, {**old, draw.choice(NASTY_TEXTS) or "k": 1}, dict([*old.items()][1:]))
        )
    return draw.choice(NASTY_TEXTS)


def _nasty_text(draw: Random, old: str) -> str:
    if draw.random() < 0.0005:
        return LARGE_TEXT
    nasty = draw.choice(NASTY_TEXTS)
    kinds: Sequence[Callable[[], str]] = (
        lambda: nasty,
        lambda: old + nasty,
        lambda: nasty + old,
        lambda: draw.choice(NASTY_QUANTITIES),
        lambda: _other_figure(draw, old),
        lambda: old[: len(old) // 2],
        lambda: old * draw.choice((2, 30)),
    )
    return draw.choice(kinds)()


def _other_figure(draw: Random, old: str) -> str:
    """The same words with another figure."""
    figures = ("0", "1", "2", "7", "30", "90", "365", "1000000", "0.5", "1e6")
    return " ".join(draw.choice(figures) if word.isdecimal() else word for word in old.split())


def changed_table(draw: Random, table: dict[str, Any], times: int = 0) -> dict[str, Any]:
    """A copy with a few entries changed, dropped, doubled, renamed, or moved."""
    table = copy.deepcopy(table)
    for _ in range(times or draw.choice((1, 1, 1, 2, 3, 6))):
        _change_one(draw, table)
    return table


def _change_one(draw: Random, table: dict[str, Any]) -> None:
    places = _places(table)
    if not places:
        return
    holder, key = draw.choice(places)
    what = draw.random()
    if what < 0.6:
        holder[key] = nasty_value(draw, holder[key])
    elif what < 0.7:
        del holder[key]
    elif what < 0.8:
        other, where = draw.choice(places)
        holder[key] = copy.deepcopy(other[where])
    elif isinstance(holder, list):
        holder.insert(draw.randrange(len(holder) + 1), copy.deepcopy(holder[key]))
    elif what < 0.9:
        holder[draw.choice((*NASTY_TEXTS, f"{key}s"))] = holder.pop(key)
    else:
        deep: Any = holder[key]
        for _ in range(draw.choice((2, 20, 120))):
            deep = {"a": deep}
        holder[key] = deep


def bent_table(draw: Random, table: dict[str, Any]) -> dict[str, Any]:
    """A copy with a few other figures and words that might be accepted."""
    table = copy.deepcopy(table)
    leaves = [(holder, key) for holder, key in _places(table) if _is_leaf(holder[key])]
    for holder, key in draw.sample(leaves, min(len(leaves), draw.choice((1, 2, 4)))):
        old = holder[key]
        if isinstance(old, str):
            words = (_other_figure(draw, old), f"{old} {draw.choice(PLAIN_TEXTS)}")
            holder[key] = words[0] if words[0] != old else words[1]
        else:
            holder[key] = draw.choice((0, 1, 2, 3, 20, 200, 0.5, 99.9))
    return table


def _is_leaf(value: Any) -> bool:
    return isinstance(value, str | int | float) and not isinstance(value, bool)


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Every entry of nested tables and lists, as the holder and the key."""
    found: list[tuple[Any, Any]] = []
    keys: Any = value if isinstance(value, dict) else range(len(value))
    for key in keys:
        found.append((value, key))
        if isinstance(value[key], dict | list):
            found += _places(value[key])
    return found


def shorter(draw: Random, table: dict[str, Any]) -> dict[str, Any]:
    """A recipe with a few of its steps and entries left out."""
    table = dict(table)
    for name in ("step", "hazard", "mix", "source"):
        if isinstance(table.get(name), list) and draw.random() < 0.5:
            table[name] = [entry for entry in table[name] if draw.random() < 0.7]
    return table


@cache
def _table(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def changed_toml(draw: Random, text: str) -> bytes:
    """The bytes of a good TOML file, changed in one of the ways above."""
    what = draw.random()
    if what < 0.2:
        return changed_bytes(draw, text.encode())
    if what < 0.45:
        return changed_lines(draw, text).encode("utf-8", "surrogatepass")
    table = _table(text)
    if what < 0.6:
        table = shorter(draw, table)
    changed = bent_table(draw, table) if what > 0.75 else changed_table(draw, table)
    try:
        return tomli_w.dumps(changed).encode("utf-8", "surrogatepass")
    except (TypeError, ValueError):  # a table that TOML can't express
        return changed_lines(draw, text).encode("utf-8", "surrogatepass")
