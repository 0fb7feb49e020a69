"""The shop's settings file: made, printed, and one key of it changed."""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import tomli_w

from benchtimer.cli.common import NO, USAGE, YES, Wrong, settings_path
from benchtimer.quantity import nearest
from benchtimer.recipe.lines import LineFinder
from benchtimer.settings import (
    SettingsError,
    known_keys,
    model_of,
    parse_settings,
    parse_table,
    settings_text,
)

DEFAULT = """\
# The shop, for benchtimer. Every key may be left out; take the # away to set one.

# Height above the sea: decides where water and salts boil.
# altitude = "1200 m"

# What you read and weigh in: "si" or "us".
units = "si"

# People who usually work.
hands = 1

# Hours when usually nobody is in the shop.
# away = ["22:00-07:00"]

# Diameters of the buffing and polishing wheels at hand.
# wheels = ["8 in", "6 in"]

# Who usually presses the keys; the log keeps it.
# by = "the maker"

# Volume of the vessel each mix of a recipe goes into, by the mix's id.
[vessels]
# black-salts = "6 L"

# Your own limits for the baths of a mix, by its id. Nobody publishes any that hold for
# every shop: they come from your own records. Each of the four may be left out.
# [bath.etchant]
# max_age = "60 d"          # since it was mixed
# max_parts = 40            # parts through it
# max_dwell = "10 h"        # time of parts in it, added up
# max_exhaustion = "30 %"   # of ferric chloride, estimated from the metal weighed off

# What else happens when something is due: a program of your own, started without a shell,
# with the message as its last argument.
[alarm]
# command = ["/usr/local/bin/tell-me", "--loud"]

# How the screen looks: theme "dark-shop", "bright-daylight" or "high-contrast"; text
# "ascii" for a terminal without box characters ("auto" goes by its locale).
[screen]
# theme = "dark-shop"
# text = "auto"
"""

TABLES = (("vessels",), ("bath",), ("alarm",), ("screen",))
"""Keys whose value is a table: only what is in it can be set."""

QUESTIONS = (
    ("altitude", "Height of the shop above the sea, like 1200 m or 4000 ft"),
    ("units", "Units you read and weigh in, si or us"),
    ("by", "Your name, for the log"),
    ("wheels", "Diameters of your buffing wheels, with commas, like 8 in, 6 in"),
)
"""What is asked at a terminal; an empty answer leaves the key as it is."""


def options(parser: argparse.ArgumentParser) -> None:
    """--set KEY=VALUE."""
    parser.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help='set one key and keep the rest, for example --set altitude="1200 m", '
        '--set vessels.black-salts="6 L", --set bath.etchant.max_parts=40, '
        "--set screen.theme=high-contrast",
    )


def setup(arguments: argparse.Namespace) -> int:
    """Make the settings file, print it, or change keys of it."""
    path = settings_path()
    old = settings_text(path)
    if arguments.changes:
        return _change(path, old if old is not None else DEFAULT, arguments.changes)
    if old is not None:
        print(f"# {path}\n{old}", end="" if old.endswith("\n") else "\n")
        parse_settings(old, str(path))
        return YES
    text = _asked(DEFAULT) if sys.stdin.isatty() and sys.stdout.isatty() else DEFAULT
    _write(path, text)
    print(path)
    print("benchtimer: made it; edit it by hand, or with benchtimer setup --set", file=sys.stderr)
    return YES


def _change(path: Path, text: str, changes: list[str]) -> int:
    for change in changes:
        key, equals, value = change.partition("=")
        if not (equals and key.strip() and value.strip()):
            raise Wrong(f'"{change}" is not KEY=VALUE, like altitude="1200 m"', USAGE)
        text = with_key(text, key.strip(), value.strip(), str(path))
    _write(path, text)
    print(path)
    return YES


def _asked(text: str, ask: Callable[[str], str] = input) -> str:
    """The text with the answers to a few questions in it."""
    for key, question in QUESTIONS:
        while True:
            answer = ask(f"{question}: ").strip()
            try:
                text = with_key(text, key, answer, "settings") if answer else text
                break
            except (SettingsError, Wrong) as error:
                print(error, file=sys.stderr)
    return text


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


def _kind_of(path: tuple[str, ...], key: str) -> str:
    """How the value of a key is written: ``whole``, ``list`` or ``text``."""
    if len(path) == 2 and path[0] == "vessels" and path[1]:
        return "text"
    model = model_of(path[:-1])
    if model is None or path[-1] not in known_keys(path[:-1]) or path in TABLES:
        listed = [k for k in known_keys(()) if (k,) not in TABLES]
        listed += [f"{table}.{k}" for table in ("alarm", "screen") for k in known_keys((table,))]
        listed += ["vessels.MIX", *(f"bath.MIX.{k}" for k in known_keys(("bath", "MIX")))]
        near = nearest(key, listed)
        hint = f'; did you mean "{near}"?' if near else ""
        raise Wrong(f'there is no key "{key}"{hint} The keys are {", ".join(listed)}', USAGE)
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


def _write(path: Path, text: str) -> None:
    """Put the file in its place in one go, so that a cut of the power leaves the old or the new."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".writing-")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise Wrong(f"{path} can't be written: {reason}", NO) from None
