"""The parser: its commands filled in when they are asked for, wrong usage in one message."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, NoReturn

from benchtimer import __version__
from benchtimer.cli.common import USAGE, common_options
from benchtimer.cli.table import COMMANDS, Command

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

PROGRAM = "benchtimer"
Fill = Callable[["Parser"], object]


def flush() -> None:
    """Write out now, while a failure can still be reported."""
    if sys.stdout is not None:  # it is None in a process that was started without
        sys.stdout.flush()


class Parser(argparse.ArgumentParser):
    """A parser of the whole line, of one command, or of one verb.

    Args:
        fill: adds the arguments. It is called when they are needed, so that a command that
            not asked for costs nothing.
        page: the name of its help page.
        own_help: ``fill`` adds a ``--help`` of its own.
        rest: as the library has it.
    """

    def __init__(
        self, *, fill: Fill | None = None, page: str = "", own_help: bool = False, **rest: Any
    ) -> None:
        super().__init__(allow_abbrev=False, add_help=False, **rest)
        if not own_help:
            self.add_argument("-h", "--help", action="help", help="this page")
        self.color = False  # from Python 3.14 on the library would color its own pages
        self._fill = fill
        self.page = page

    def filled(self) -> Parser:
        """This parser, with its arguments."""
        fill, self._fill = self._fill, None
        if fill is not None:
            fill(self)
        return self

    @property
    def actions(self) -> list[argparse.Action]:
        """Its arguments and options, in order."""
        return self.filled()._actions

    @property
    def verbs(self) -> dict[str, Parser]:
        """What may be in the place of COMMAND or VERB, with the parser for the rest."""
        found = (a for a in self.actions if isinstance(a, argparse._SubParsersAction))
        return dict(next((a.choices for a in found), {}))

    @property
    def options(self) -> dict[str, argparse.Action]:
        """Its options, by each way they are written."""
        return {name: action for action in self.actions for name in action.option_strings}

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse a line, or the part of it behind the command."""
        words = list(sys.argv[1:] if args is None else args)
        wrong = self._unknown_option(words)
        if wrong is not None:
            self.error(f'there is no option "{_shown(wrong)}"{_hint(wrong, self._spellings())}')
        found, left = super().parse_known_args(words, namespace)
        if left and not self.verbs:
            self.error(_too_many(left[0]))
        return found, left

    def _spellings(self) -> list[str]:
        return [name for name in self.options if name.startswith("--")]

    def _unknown_option(self, words: Iterable[str]) -> str | None:
        """The first long option that this parser doesn't have, as far as it has to read."""
        options, verbs = self.options, self.verbs
        for word in words:
            if word == "--" or word in verbs:
                return None
            name = word.partition("=")[0]
            if name.startswith("--") and " " not in name and name not in options:
                return name
        return None

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        """A word that is none of the choices gets the nearest one, not the whole list."""
        if action.choices is None or value in action.choices:
            return
        known = [str(choice) for choice in action.choices]
        if isinstance(action, argparse._SubParsersAction):
            kind = str(action.metavar).lower()
            listed = f"; {self.prog} --help lists the {kind}s"
            told = f'there is no {kind} "{_shown(value)}"'
            self.error(told + (_hint(value, known) or listed))
        listed = "" if len(known) > MANY else f", none of {', '.join(known)}"
        told = f'it can\'t be "{_shown(str(value))}"{listed}{_hint(str(value), known)}'
        raise argparse.ArgumentError(action, told)

    def format_help(self) -> str:
        """The help page."""
        from benchtimer.cli.manual import page_of

        return page_of(self.filled())

    def exit(self, status: int = 0, message: str | None = None) -> NoReturn:
        """Leave, with the help written out."""
        flush()
        super().exit(status, message)

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        # The library's own keeps quiet about a help page that is not shown.
        print(message, end="", file=file or sys.stderr)

    def error(self, message: str) -> NoReturn:
        """Leave with what is wrong and where to read on."""
        self.exit(USAGE, f"{PROGRAM}: {message}\nTry: {self.prog} --help\n")


MANY = 12
"""More choices than these are not listed in a message."""


def _shown(word: str) -> str:
    from benchtimer.recipe.problems import quoted

    return quoted(word)[1:-1]


def _hint(word: str, known: Sequence[str]) -> str:
    from benchtimer.quantity import did_you_mean

    told = did_you_mean(word, known)
    return f"; {told}" if told else ""


def _too_many(word: str) -> str:
    if word.startswith("-"):
        return f'there is no option "{_shown(word)}"'
    return (
        f'"{_shown(word)}" is one word too many; '
        'a name with a space in it goes into quotes, like "butt cap"'
    )


def whole_line() -> Parser:
    """The parser of everything behind ``benchtimer``."""
    parser = Parser(prog=PROGRAM, page=PROGRAM)
    parser.add_argument(
        "-V", "--version", action="version", version=f"{PROGRAM} {__version__}", help="its version"
    )
    common_options(parser)
    parser.set_defaults(command=OPEN)
    commands = parser.add_subparsers(metavar="COMMAND")
    for name, command in COMMANDS.items():
        commands.add_parser(
            name,
            prog=f"{PROGRAM} {name}",
            page=name,
            fill=partial(_fill_in, command),
            own_help=command.own_help,
        )
    return parser


OPEN = Command("", "open the bench", "bench", "open_bench")
"""What is done without a command."""


def _fill_in(command: Command, parser: Parser) -> None:
    if command.options:
        command.load(command.options)(parser)
    common_options(parser, again=True, heeds=command.heeds)
    parser.set_defaults(command=command)
