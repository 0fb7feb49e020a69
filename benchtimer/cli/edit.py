"""One key of a settings text set, and all the rest kept letter by letter."""

from __future__ import annotations

import re
import tomllib
from typing import Any, Literal, get_args, get_origin

import tomli_w

from benchtimer.cli.common import NO, USAGE, Wrong
from benchtimer.quantity import did_you_mean
from benchtimer.recipe.lines import LineFinder
from benchtimer.settings import known_keys, model_of, parse_settings, parse_table

TABLES = (("vessels",), ("bath",), ("alarm",), ("screen",))
"""Keys whose value is a table: only what is in it can be set."""


def with_key(text: str, key: str, value: str, name: str) -> str:
    """A settings text with one key set, all else kept letter by letter.

    Args:
        text: the text of the file.
        key: its name with dots, such as ``bath.etchant.max_parts``.
        value: as typed: bare words; lists with commas between.
        name: what messages call the file.

    Raises:
        SettingsError: the text is broken, or would be with this value.
        Wrong: no such key, or the text is laid out too freely to be changed by a program.
    """
    path = tuple(part.strip() for part in key.split("."))
    kind = _kind_of(path, key)
    found = _read_value(kind, value)
    data = parse_table(text, name)
    new = _placed(text, path, found, data)
    _set(data, path, found)
    try:
        same = tomllib.loads(new) == data
    except tomllib.TOMLDecodeError:
        same = False
    if not same:
        raise Wrong(f"{name} is laid out so freely that {key} is better set by hand", NO)
    parse_settings(new, name)
    return new


def all_keys() -> list[str]:
    """Every key that can be set; MIX stands for the id of any mix."""
    listed = [k for k in known_keys(()) if (k,) not in TABLES]
    listed += [f"{table}.{k}" for table in ("alarm", "screen") for k in known_keys((table,))]
    return [*listed, "vessels.MIX", *(f"bath.MIX.{k}" for k in known_keys(("bath", "MIX")))]


def choices_of(key: str) -> tuple[str, ...]:
    """The words that the value of a key may be, if it is one of some words."""
    *table, name = key.split(".")
    model = model_of(tuple(table))
    field = model.model_fields.get(name) if model is not None else None
    if field is None or get_origin(field.annotation) is not Literal:
        return ()
    return tuple(str(choice) for choice in get_args(field.annotation))


def _kind_of(path: tuple[str, ...], key: str) -> str:
    """How the value of a key is written: ``whole``, ``list`` or ``text``."""
    if len(path) == 2 and path[0] == "vessels" and path[1]:
        return "text"
    model = model_of(path[:-1])
    if model is None or path[-1] not in known_keys(path[:-1]) or path in TABLES:
        listed = all_keys()
        hint = did_you_mean(key, listed) or f"the keys are {', '.join(listed)}"
        raise Wrong(f'there is no key "{key}"; {hint}', USAGE)
    field = next(f for n, f in model.model_fields.items() if (f.alias or n) == path[-1])
    if path[-1] in ("hands", "max_parts"):
        return "whole"
    return "list" if isinstance(field.default, tuple) else "text"


def _read_value(kind: str, value: str) -> Any:
    if kind == "list":
        pieces = value.removeprefix("[").removesuffix("]").split(",")
        return [piece.strip().strip("\"'") for piece in pieces if piece.strip()]
    if kind == "whole" and value.isdecimal() and len(value) < 9:
        return int(value)
    return value


def _placed(text: str, path: tuple[str, ...], value: Any, data: dict[str, Any]) -> str:
    """The text with the key's line put in, or in place of the lines it had."""
    lines = text.splitlines()
    line = tomli_w.dumps({path[-1]: value}, multiline_strings=False).strip()
    line = " ".join(piece.strip() for piece in line.splitlines()).replace("[ ", "[")
    line = line.replace(", ]", "]").replace(",]", "]")
    finder = LineFinder(text)
    if _get(data, path) is not None:
        at = (finder.line_of(path) or 1) - 1
        lines[at : at + _length(lines, at)] = [line]
    elif len(path) == 1:
        example = re.compile(rf"#\s*{re.escape(path[0])}\s*=")
        headers = (i for i, told in enumerate(lines) if told.lstrip().startswith("["))
        at = next(headers, len(lines))
        shown = next((i for i, told in enumerate(lines[:at]) if example.match(told)), None)
        if shown is not None:  # the line that shows how it is written
            lines[shown] = line
            return "\n".join(lines) + "\n"
        while at and (not lines[at - 1].strip() or lines[at - 1].lstrip().startswith("#")):
            at -= 1  # above the words that belong to the table
        lines[at:at] = [line]
    elif _get(data, path[:-1]) is not None:
        lines[finder.line_of(path[:-1]) or 1 : finder.line_of(path[:-1]) or 1] = [line]
    else:
        lines += ["", f"[{'.'.join(path[:-1])}]", line]
    return "\n".join(lines) + "\n"


def _length(lines: list[str], at: int) -> int:
    """How many lines the value that begins on a line takes."""
    for end in range(at + 1, len(lines) + 1):
        try:
            tomllib.loads("\n".join(lines[at:end]))
        except tomllib.TOMLDecodeError:
            continue
        return end - at
    return 1


def _get(data: Any, path: tuple[str, ...]) -> Any:
    for part in path:
        data = data.get(part) if isinstance(data, dict) else None
    return data


def _set(data: dict[str, Any], path: tuple[str, ...], value: Any) -> None:
    for part in path[:-1]:
        data = data.setdefault(part, {})
    data[path[-1]] = value
