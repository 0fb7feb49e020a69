"""Changes the text of a TOML file and leaves all other lines as they are, byte for byte. The text
is cut at its ``[headers]``. Only the keys below the header of a change go through tomlkit; the rest
is copied as text. That is faster, and it keeps arrays of tables in order: tomlkit moves ``[[a]]``,
``[b]``, ``[[a]]`` together.
"""

from __future__ import annotations

import io
import re
import tomllib
from collections.abc import Mapping
from difflib import SequenceMatcher
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, Comment, InlineTable, Item, Key, Whitespace

from benchtimer.recipe.line_finder import LineFinder, Path
from benchtimer.values import dataclass

_Body = list[tuple[Key | None, Item]]

BOM = "\ufeff"
LONG = 80
"""A list longer than this is written with one entry per line."""


class NotEdited(Exception):
    """The change can't be made in the text.

    Attributes:
        reason: why it can't.
    """

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


def with_values(text: str, changes: Mapping[Path, Any]) -> str:
    """The text with the value at each path set, or removed if it is None.

    Comments, order, blank lines, line endings and a byte order mark are kept. A new key goes below
    a comment that shows it (``# key = ...``), otherwise below the last key of its table; a new
    table goes at the end of the text.

    Args:
        text: a valid TOML text.
        changes: keys and list indices that lead to the value, and the value.

    Raises:
        NotEdited: a change can't be made, such as a key inside a number.
    """
    mark = BOM if text.startswith(BOM) else ""
    plain = text.removeprefix(BOM)
    crlf = "\r\n" in plain and plain.count("\r\n") == plain.count("\n")
    plain = plain.replace("\r\n", "\n") if crlf else plain
    wanted = tomllib.loads(plain)
    for path, value in changes.items():
        _put(wanted, path, value)
        plain = _with_value(plain, path, value)
    if not _says(plain, wanted):
        raise NotEdited("the change would touch something else")
    return mark + (plain.replace("\n", "\r\n") if crlf else plain)


def _put(data: Any, path: Path, value: Any) -> None:
    """Set a value in plain tables, or remove it."""
    for depth, key in enumerate(path[:-1]):
        if isinstance(data, dict) and value is not None:
            data.setdefault(key, {})
        data = _inside(data, key)
        if not isinstance(data, dict | list):
            where = ".".join(map(str, path[: depth + 1]))
            raise NotEdited(f"{where} is not a table")
    last = path[-1]
    if isinstance(data, list) and not (isinstance(last, int) and last < len(data)):
        raise NotEdited(f"{'.'.join(map(str, path[:-1]))} has no entry number {last}")
    if value is not None:
        data[last] = value
    elif isinstance(data, dict):
        data.pop(last, None)
    else:
        del data[last]


def _inside(data: Any, key: str | int) -> Any:
    """What a table or a list has at a key; None if nothing, or if it is neither."""
    if isinstance(data, dict):
        return data.get(key)
    within = isinstance(data, list) and isinstance(key, int) and key < len(data)
    return data[key] if within else None


def _says(text: str, wanted: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


@dataclass
class _Block:
    """The keys below one header.

    Attributes:
        path: the table the header opens.
        header: its line; nothing for the keys at the top.
        body: the lines below it.
        above: whether it is the top block, with headers below it.
    """

    path: Path
    header: str
    body: str
    above: bool = False


def _blocks(text: str) -> list[_Block]:
    lines = list(io.StringIO(text, newline="\n"))  # split only at line feeds
    headers = LineFinder(text).headers()
    ends = [line - 1 for line, _ in headers] + [len(lines)]
    return [_Block((), "", "".join(lines[: ends[0]]), above=bool(headers))] + [
        _Block(path, lines[line - 1], "".join(lines[line:end]))
        for (line, path), end in zip(headers, ends[1:], strict=True)
    ]


def _with_value(text: str, path: Path, value: Any) -> str:
    blocks = _blocks(text)
    block, depth = max(((b, _depth(b, path)) for b in blocks), key=lambda found: found[1])
    inner = path[len(block.path) :]
    known, missing = inner[: depth - len(block.path)], inner[depth - len(block.path) :]
    if value is None and missing:
        return text
    if value is None and not known:
        raise NotEdited(f"{'.'.join(map(str, path))} is a table: only keys can be taken out")
    is_table = len(missing) > 1 or isinstance(value, dict)
    if missing and not known and is_table and not any(isinstance(key, int) for key in path):
        if isinstance(value, dict):
            return _with_table(text, path, value)
        return _with_table(text, path[:-1], {str(path[-1]): value})
    try:
        block.body = _with_key(block, known, missing, value)
    except (TOMLKitError, KeyError, ValueError) as error:
        raise NotEdited(f"tomlkit can't read or change it: {error}") from None
    if block.header and block.body and not block.header.endswith("\n"):
        block.header += "\n"
    return "".join(b.header + b.body for b in blocks)


def _depth(block: _Block, path: Path) -> int:
    """How many keys of a path a block has; -1 if it belongs to another table."""
    if path[: len(block.path)] != block.path:
        return -1
    depth, data = len(block.path), tomllib.loads(block.body)
    for key in path[depth:]:
        data = _inside(data, key)
        if data is None:
            break
        depth += 1
    return depth


def _with_table(text: str, path: Path, table: Mapping[str, Any]) -> str:
    """The text with a new table at its end."""
    new = tomlkit.table()
    for key, value in table.items():
        new.add(key, _item(value))
    for name in reversed(path[1:]):
        outer = tomlkit.table(is_super_table=True)
        outer.append(str(name), new)
        new = outer
    end = "" if text.endswith("\n") or not text else "\n"
    gap = "\n" if text.strip() else ""
    return f"{text}{end}{gap}{tomlkit.dumps({str(path[0]): new})}"


def _with_key(block: _Block, known: Path, missing: Path, value: Any) -> str:
    """The lines of a block with one value set, added or removed.

    Args:
        block: the block.
        known: the keys on the path to the value that exist.
        missing: the ones that don't.
        value: the value; None to remove it.
    """
    document = tomlkit.parse(block.body)
    if tomlkit.dumps(document) != block.body:
        raise NotEdited("tomlkit can't write this text back unchanged")
    here: Any = document
    holder: Any = document
    names: list[str] = []  # the dotted path from the holder to here
    for key in known if missing else known[:-1]:
        here = here[key]
        names.append(str(key))
        if isinstance(here, InlineTable):
            holder, names = here, []
    if missing:
        for key in reversed(missing[1:]):
            value = {key: value}
        names.append(str(missing[0]))
        if isinstance(holder, InlineTable):
            _put_in_line(holder.value.body, names, _item(value))
        else:
            _put_in_block(document.body, names, _item(value), block)
    elif value is None:
        del here[known[-1]]
    else:
        here[known[-1]] = _in_place_of(here[known[-1]], value)
    return tomlkit.dumps(document)


def _put_in_line(body: _Body, names: list[str], item: Item) -> None:
    """Put a new key after the last one of an inline table."""
    last = _last_key(body)
    spot = last + 1 if last >= 0 else len(body)
    comma = [(None, tomlkit.ws(", "))] if last >= 0 else []
    body[spot:spot] = [*comma, (_key(names), item)]


def _put_in_block(body: _Body, names: list[str], item: Item, block: _Block) -> None:
    """Put a new key into a block, on its own line."""
    spot = _spot(body, names, block)
    if spot == len(body) and block.body[-1:] not in ("", "\n"):
        body.append((None, tomlkit.nl()))
        spot += 1
    item.trivia.trail = "\n"
    body.insert(spot, (_key(names), item))
    if block.above and _last_key(body) == spot == 0:
        body.insert(1, (None, tomlkit.nl()))


def _key(names: list[str]) -> Key:
    return tomlkit.key(names[0] if len(names) == 1 else names)


def _last_key(body: _Body, first: str | None = None) -> int:
    """Index of the last key, or of the last one with a given prefix; -1 if there is none."""
    return max(
        (i for i, (key, _) in enumerate(body) if key is not None and first in (None, key.key)),
        default=-1,
    )


def _spot(body: _Body, names: list[str], block: _Block) -> int:
    """Index at which a new key goes into a block."""
    if len(names) > 1:
        return _last_key(body, names[0]) + 1
    example = re.compile(rf"#\s*{re.escape(names[0])}\s*=")
    for index, (_, item) in enumerate(body):
        if isinstance(item, Comment) and example.match(item.trivia.comment):
            return index + 1
    last = _last_key(body)
    if last >= 0 or block.header:
        return last + 1
    spot = len(body)
    if block.above:  # not between a header and its comment
        while spot and isinstance(body[spot - 1][1], Comment):
            spot -= 1
        while spot and isinstance(body[spot - 1][1], Whitespace):
            spot -= 1
    return spot


def _item(value: Any) -> Item:
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, inner in value.items():
            table.append(key, _item(inner))
        return table
    if isinstance(value, list | tuple):
        array = tomlkit.array()
        for inner in value:
            array.append(_item(inner))
        return array.multiline(len(array.as_string()) > LONG)
    item: Item = tomlkit.item(value)
    return item


def _in_place_of(old: Item, value: Any) -> Item:
    """The item for a new value; a list keeps the comments and layout of the old one."""
    if not (isinstance(old, Array) and isinstance(value, list)):
        return _item(value)
    steps = SequenceMatcher(None, list(map(repr, old.unwrap())), list(map(repr, value)))
    for kind, a, a_end, b, b_end in reversed(steps.get_opcodes()):
        if kind == "equal":
            continue
        both = min(a_end - a, b_end - b)
        for at in range(both):
            old[a + at] = _item(value[b + at])
        for _ in range(a + both, a_end):
            del old[a + both]
        for at in range(b + both, b_end):
            old.insert(a + at - b, _item(value[at]))
    return old if _says(f"x = {old.as_string()}", {"x": value}) else _item(value)
