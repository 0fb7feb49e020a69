"""Help pages: what the parsers know and what ``manual.toml`` says, as one page of text."""

from __future__ import annotations

import argparse
import shutil
import textwrap
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import NamedTuple, Protocol

from benchtimer.cli.common import COMMON_TITLE, shipped_text
from benchtimer.cli.table import COMMANDS

WIDEST = 88
NARROWEST = 40
USAGE_CODE = "usage error"
LOG_CODE = "the log can't be used"


class HelpSection(Protocol):
    """A heading of a page, and its arguments."""

    title: str
    rows: list[argparse.Action]


class Documented(Protocol):
    """A parser that can be made into a page."""

    prog: str
    description: str | None
    page: str

    def filled(self) -> argparse.ArgumentParser:
        """The parser with its arguments."""

    @property
    def groups(self) -> Sequence[HelpSection]:
        """Its arguments by heading."""

    @property
    def verbs(self) -> Mapping[str, argparse.ArgumentParser]:
        """The choices for COMMAND or VERB."""


class Example(NamedTuple):
    """An example: what it is for, and the line to type."""

    about: str
    line: str


class CommandHelp(NamedTuple):
    """What a help page says besides its arguments.

    Attributes:
        about: what the command does for you, in paragraphs.
        care: the safety text where the work can hurt; empty elsewhere.
        examples: lines to try.
        prints: what goes to standard output.
        exits: exit codes with their meaning.
    """

    about: str
    care: str
    examples: tuple[Example, ...]
    prints: str
    exits: Mapping[int, str]


@cache
def pages() -> Mapping[str, CommandHelp]:
    """The help pages by command, or by command and verb such as ``bath mix``."""
    table = tomllib.loads(shipped_text("manual.toml"))
    found: dict[str, CommandHelp] = {}
    for name, row in table.items():
        exits = {0: row["yes"], 1: row["no"], 2: USAGE_CODE}
        if row.get("log"):
            exits[3] = LOG_CODE if row["log"] is True else row["log"]
        examples = tuple(Example(*pair) for pair in row["examples"])
        found[name] = CommandHelp(row["about"], row.get("care", ""), examples, row["prints"], exits)
    return found


def page_of(parser: Documented) -> str:
    """The help page of a parser, as wide as the terminal allows."""
    page = pages()[parser.page]
    formatter = argparse.HelpFormatter(parser.prog, max_help_position=28, width=width())
    return joined(
        headed(parser.prog, _summary(parser)),
        _usage(parser),
        *wrapped(page.about),
        *wrapped(page.care),
        *_lists(parser),
        _options(formatter, parser),
        *closing(page),
    )


def closing(page: CommandHelp) -> list[str]:
    """The end of every page: examples, output, exit codes."""
    exits = {str(code): words for code, words in page.exits.items()}
    return [
        shown(page.examples),
        section("Standard output", wrapped(page.prints, "  ")),
        section("Exit codes", table(exits)),
    ]


def joined(*blocks: str) -> str:
    """A page of blocks with an empty line between them."""
    return "\n\n".join(block for block in blocks if block) + "\n"


def width() -> int:
    """How wide a page is: as wide as the terminal, within readable limits."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size().columns))


def _summary(parser: Documented) -> str:
    command = COMMANDS.get(parser.page)
    return command.summary if command is not None else parser.description or SUMMARY


SUMMARY = "plan, time and record chemical finishing of several steel parts at once"


def headed(name: str, summary: str) -> str:
    """The first line of a page."""
    return textwrap.fill(f"{name} - {summary}", width(), subsequent_indent="    ")


def shown_rows(parser: Documented) -> list[argparse.Action]:
    """Every argument and option on a page, without ``--help`` and the verbs."""
    rows = [action for group in _groups(parser) for action in _rows(group)]
    return [action for action in rows if action.dest != "help"]


def plain_piece(action: argparse.Action) -> str:
    """One argument as the usage has it, without brackets around it."""
    piece = _piece(action)
    return piece[1:-1] if piece.startswith("[") and piece.endswith("]") else piece


def _usage(parser: Documented) -> str:
    """The usage line, without the options that every command has."""
    groups = (group for group in _groups(parser) if group.title != COMMON_TITLE)
    shown = [a for group in groups for a in _rows(group) if a.dest != "help"]
    shown.sort(key=lambda action: bool(action.option_strings) and not action.required)
    pieces = [_piece(action) for action in shown]
    if parser.verbs:
        words = [a for a in shown if a.required or not a.option_strings]
        pieces.insert(len(words), f"[{'COMMAND' if parser.page == 'benchtimer' else 'VERB'} ...]")
    usage = " ".join(piece.replace(" ", HELD) for piece in pieces)
    return hanging(f"Usage: {parser.prog} ", usage).replace(HELD, " ")


def hanging(start: str, text: str) -> str:
    """Text with a hanging indent under its first line."""
    return textwrap.fill(
        text, width(), initial_indent=start, subsequent_indent=" " * len(start),
        break_long_words=False, break_on_hyphens=False,
    ) or start.rstrip()  # fmt: skip


HELD = "\0"
"""Marks a space where the line must not break."""


def _piece(action: argparse.Action) -> str:
    """One argument in the usage line: brackets if it is optional, dots if it repeats."""
    value = str(action.metavar or "|".join(map(str, action.choices or ())))
    forms = {"+": f"{value}...", "*": f"[{value}...]", "?": f"[{value}]", 0: ""}
    form = forms.get(action.nargs if action.nargs is not None else 1, value)
    if not action.option_strings:
        return form
    whole = f"{action.option_strings[-1]} {form}".rstrip()
    return whole if action.required else f"[{whole}]"


def _groups(parser: Documented) -> list[HelpSection]:
    """The groups of arguments, with the ones every command has last."""
    return sorted(parser.groups, key=lambda group: group.title == COMMON_TITLE)


def _rows(group: HelpSection) -> list[argparse.Action]:
    """What a group shows, with the option for this page last."""
    rows = [a for a in group.rows if a.help is not argparse.SUPPRESS]
    return sorted(rows, key=lambda action: action.dest == "help")


def _options(formatter: argparse.HelpFormatter, parser: Documented) -> str:
    for group in _groups(parser):
        rows = _rows(group)
        sections = {
            "Arguments": [] if group.title else [a for a in rows if not a.option_strings],
            group.title or "Options": [a for a in rows if a.option_strings or group.title],
        }
        for title, options in sections.items():
            formatter.start_section(title)
            formatter.add_arguments(options)
            formatter.end_section()
    return formatter.format_help().rstrip()


def _lists(parser: Documented) -> Iterator[str]:
    """The commands by group, or the verbs of a command."""
    if parser.page == "benchtimer":
        for title in dict.fromkeys(command.group for command in COMMANDS.values()):
            rows = {n: c.summary for n, c in COMMANDS.items() if c.group == title}
            yield section(title, table(rows))
    elif parser.verbs:
        rows = {name: verb.description or "" for name, verb in parser.verbs.items()}
        yield section("Verbs", table(rows))


def table(rows: Mapping[str, str]) -> list[str]:
    """Names with a short description next to each."""
    room = max(map(len, rows)) + 4
    return [
        textwrap.fill(
            about, width(), initial_indent=f"  {name}".ljust(room), subsequent_indent=" " * room
        )
        for name, about in rows.items()
    ]


def shown(examples: Iterable[Example]) -> str:
    """Each example under its purpose; a line to type is never broken."""
    lines: list[str] = []
    for example in examples:
        lines += [*wrapped(f"{example.about}:", "  "), f"      {example.line}"]
    return section("Examples", lines)


def section(title: str, lines: Iterable[str]) -> str:
    """Lines under a heading."""
    return "\n".join([f"{title}:", *lines])


def wrapped(text: str, indent: str = "") -> list[str]:
    """The paragraphs of a text."""
    return [
        textwrap.fill(
            " ".join(paragraph.split()), width(), initial_indent=indent, subsequent_indent=indent
        )
        for paragraph in text.split("\n\n")
        if paragraph.strip()
    ]
