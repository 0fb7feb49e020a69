"""The man page of the program, from the same parsers and texts as the help pages."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator

from benchtimer import __version__
from benchtimer.cli.manual import SUMMARY, pages, plain_piece, shown_rows
from benchtimer.cli.parser import Parser, whole_line
from benchtimer.cli.table import COMMANDS


def man_page() -> str:
    """The page as roff, with the man macros."""
    line = whole_line()
    page = pages()["benchtimer"]
    rows = [
        f'.TH BENCHTIMER 1 "" "benchtimer {__version__}" "User Commands"',
        ".SH NAME",
        _text(f"benchtimer - {SUMMARY}"),
        ".SH SYNOPSIS",
        ".B benchtimer\n[COMMAND ...]",
        ".SH DESCRIPTION",
        *_paragraphs(page.about),
        *_paragraphs(page.care),
        ".SH OPTIONS",
        *_options(line),
        ".SH COMMANDS",
    ]
    for name, command in line.verbs.items():
        rows += _command(name, COMMANDS[name].summary, command)
        for verb, parser in command.verbs.items():
            rows += _command(f"{name} {verb}", parser.description or "", parser)
    rows += [".SH EXIT STATUS"]
    for code, meaning in page.exits.items():
        rows += [".TP", f".B {code}", _text(meaning)]
    rows += [".SH ENVIRONMENT"]
    for variable, meaning in ENVIRONMENT.items():
        rows += [".TP", f".B {variable}", _text(meaning)]
    rows += [".SH SEE ALSO", _text("benchtimer help lists the manual, page by page.")]
    return "\n".join(rows) + "\n"


ENVIRONMENT = {
    "BENCHTIMER_DATA": "the data folder, if --data does not name one",
    "BENCHTIMER_CONFIG": "the folder of the settings and of your own recipes",
    "NO_COLOR": "no colors on the screen",
    "PAGER": "what shows a long text",
}
"""The environment variables that the program reads."""


def _command(name: str, summary: str, parser: Parser) -> Iterator[str]:
    page = pages()[parser.page]
    yield f'.SS "{name}"'
    yield _text(f"{summary[:1].upper()}{summary[1:]}.")
    yield from _paragraphs(page.about)
    yield from _paragraphs(page.care)
    yield from _options(parser)
    for example in page.examples:
        yield from (".PP", _text(f"{example.about}:"))
        yield from (".RS", ".nf", _text(example.line), ".fi", ".RE")


def _options(parser: Parser) -> Iterator[str]:
    for action in shown_rows(parser):
        yield from (".TP", f".B {_text(_heading(action))}", _text(_help(action)))


def _heading(action: argparse.Action) -> str:
    piece = plain_piece(action)
    value = piece.partition(" ")[2] if action.option_strings else piece
    return ", ".join(f"{name} {value}".rstrip() for name in action.option_strings) or piece


def _help(action: argparse.Action) -> str:
    return (action.help or "").replace("%%", "%")


def _paragraphs(text: str) -> Iterator[str]:
    for paragraph in text.split("\n\n"):
        if paragraph.strip():
            yield from (".PP", _text(" ".join(paragraph.split())))


def _text(text: str) -> str:
    """Text that roff prints unchanged."""
    safe = text.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq")
    return re.sub(r"^\.", r"\\&.", safe)
