"""From the bytes of a file to plain tables, or to one problem in plain words.

Anything that could keep the reader busy for long is refused first: size, keys with hundreds of
parts, endless nesting.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from benchtimer.recipe.line_finder import tokens
from benchtimer.recipe.problems import RecipeError, RecipeProblem

MAX_BYTES = 256 * 1024
"""Largest recipe file accepted. A long recipe is a tenth of it."""

MAX_DEPTH = 16
"""Deepest nesting of tables and lists, and most parts of a dotted key; a recipe needs 7."""

_LONG_NUMBER = re.compile(r"(?<![A-Za-z0-9_])[+-]?[0-9_]{4000,}")

# The messages of the standard library's reader, and what the maker can do about each.
_REMEDIES = {
    "Cannot overwrite": "it is given twice: leave one out",
    "Cannot declare": "it is given twice: leave one out, or write [[...]] for one of several",
    "Cannot mutate": "it is given twice: leave one out",
    "Duplicate": "it is given twice: leave one out",
    "Invalid value": "put words and quantities in quotes",
    "Expected newline": "one entry per line; put words and quantities in quotes",
    "Unterminated string": "close the quotes",
    "Illegal character": "close the quotes on the same line, or use three on both ends",
    "Expected '='": "write it like key = value",
    "Unclosed array": "close the list with ]",
    "Unclosed inline table": "close the table with }",
    "Unescaped '\\'": "write \\\\ for a \\, or use single quotes",
}


def load(raw: bytes, name: str) -> tuple[dict[str, Any], str]:
    """The tables in the bytes of a TOML file, and its text.

    Args:
        raw: the file's bytes.
        name: what messages call it.

    Raises:
        RecipeError: with the one problem that makes it unreadable.
    """
    if len(raw) > MAX_BYTES:
        found = f"it is larger than {MAX_BYTES // 1024} KiB"
        raise trouble(name, found, "a recipe is a short text")
    text = _decode(raw, name)
    _refuse_long_keys(text, name)
    data = _parse(text, name)
    if _deeper_than(data, MAX_DEPTH):
        raise _too_deep(name)
    return data, text


def trouble(name: str, found: str, allowed: str, line: int | None = None) -> RecipeError:
    """An error with one problem in the file as a whole.

    Args:
        name: the file's name.
        found: what is wrong.
        allowed: what is right.
        line: the line, if known.
    """
    return RecipeError(name, [RecipeProblem("the file", found, allowed, line=line)])


def _decode(raw: bytes, name: str) -> str:
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise trouble(name, "it is not UTF-8 text", "save it as UTF-8", line) from None


def _refuse_long_keys(text: str, name: str) -> None:
    """Refuse ``a.b.c. ... = 1``: the library's time grows with the square of the number of parts. A
    key with 20,000 parts would take it a minute.
    """
    dots = 0
    for token in tokens(text):
        if token.text in ("\n", "=", ",", "[", "]", "{", "}"):
            dots = 0
        elif token.text == ".":
            dots += 1
        if dots >= MAX_DEPTH:
            found = f"a name of more than {MAX_DEPTH} pieces with dots between"
            raise trouble(name, found, "a recipe is a few levels deep", token.line)


def _parse(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _too_deep(name) from None
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(error, text, name) from None
    except ValueError:  # Python refuses to read integers with thousands of digits
        match = _LONG_NUMBER.search(text)
        line = text.count("\n", 0, match.start()) + 1 if match is not None else None
        raise trouble(name, "a number of thousands of digits", "a shorter one", line) from None


def _not_toml(error: tomllib.TOMLDecodeError, text: str, name: str) -> RecipeError:
    words = "".join(c if c.isprintable() else "?" for c in str(error))[:200]
    at = re.search(r"line (\d+)", words)
    line = int(at[1]) if at is not None else text.rstrip("\n").count("\n") + 1
    remedy = next((r for start, r in _REMEDIES.items() if words.startswith(start)), "see toml.io")
    return trouble(name, f"it is not TOML: {words}", remedy, line)


def _too_deep(name: str) -> RecipeError:
    return trouble(name, "it is nested too deeply", "a recipe is a few levels deep")


def _deeper_than(data: Any, limit: int) -> bool:
    """Whether tables and lists are nested more than ``limit`` deep."""
    level = [data]
    for _ in range(limit):
        level = [
            inner
            for outer in level
            for inner in (outer.values() if isinstance(outer, dict) else outer)
            if isinstance(inner, dict | list)
        ]
    return bool(level)
