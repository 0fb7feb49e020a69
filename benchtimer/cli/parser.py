"""The parser: its commands filled in when they are asked for, wrong usage in one message."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, NoReturn

from benchtimer import __version__
from benchtimer.cli.common import USAGE, common_options
from benchtimer.cli.table import COMMANDS, CommandRow

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

PROGRAM = "benchtimer"
Fill = Callable[["Parser"], object]


def flush() -> None:
    """Write out now, while a failure can still be reported."""
    if sys.stdout is not None:  # it is None in a process that was started without
        sys.stdout.flush()


class HelpGroup:
    """A heading of the help page, and what is under it.

    Args:
        title: the heading.
        add: adds an argument to the library's own parser.
    """

    def __init__(self, title: str, add: Callable[..., argparse.Action]) -> None:
        self.title = title
        self.rows: list[argparse.Action] = []
        self._add = add

    def add_argument(self, *names: str, **rest: Any) -> argparse.Action:
        """Add an argument or option; a word that is none of its choices gets the nearest one."""
        action = self._add(*names, **rest)
        if action.choices is not None:
            action.choices = KnownWords("", action.choices, partial(argparse.ArgumentError, action))
        self.rows.append(action)
        return action


class KnownWords(Collection[Any]):
    """The words that may be used somewhere. Asked for another one, they refuse it with a hint.

    The library asks only to refuse, and would list them all.

    Args:
        kind: what they are, such as ``command``; empty for values of an option.
        words: the words.
        refuse: makes the error.
        where: how to find them all.
    """

    def __init__(
        self,
        kind: str,
        words: Iterable[Any],
        refuse: Callable[[str], argparse.ArgumentError],
        where: str = "",
    ) -> None:
        self._kind = kind
        self._words = words
        self._refuse = refuse
        self._where = where

    def __iter__(self) -> Iterator[Any]:
        return iter(self._words)

    def __len__(self) -> int:
        return sum(1 for _ in self._words)

    def __getitem__(self, word: Any) -> Any:
        """What a word means, where it has a meaning."""
        return self._words[word] if isinstance(self._words, Mapping) else word

    def __contains__(self, word: object) -> bool:
        if any(word == known for known in self._words):
            return True
        known = [str(each) for each in self._words]
        hint = _hint(str(word), known)
        if self._kind:
            message = f'there is no {self._kind} "{_shown(str(word))}"'
            raise self._refuse(message + (hint or f"; {self._where} lists the {self._kind}s"))
        listed = "" if len(known) > MANY else f", none of {', '.join(known)}"
        raise self._refuse(f'it can\'t be "{_shown(str(word))}"{listed}{hint}')


class Version(argparse.Action):
    """Prints the version and leaves."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        """Print it and leave."""
        print(f"{PROGRAM} {__version__}")
        parser.exit()


class Parser(argparse.ArgumentParser):
    """A parser of the whole line, of one command, or of one verb.

    It uses only what the library promises: its own lists of arguments are kept here.

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
        self._plain = HelpGroup("", super().add_argument)
        self._headed: dict[str, HelpGroup] = {}
        self._order: list[argparse.Action] = []
        self.chooser: argparse.Action | None = None
        if not own_help:
            self.add_argument("-h", "--help", action="help", help="show this help")
        self.color = False  # from Python 3.14 on the library would color its own pages
        self._fill = fill
        self.page = page

    def add_argument(self, *names: Any, **rest: Any) -> argparse.Action:
        """Add an argument or option."""
        action = self._plain.add_argument(*names, **rest)
        self._order.append(action)
        return action

    def headed(self, title: str) -> HelpGroup:
        """A heading of its own on the help page, to add arguments under."""
        if title not in self._headed:
            group = super().add_argument_group(title)

            def add(*names: Any, **rest: Any) -> argparse.Action:
                action = group.add_argument(*names, **rest)
                self._order.append(action)
                return action

            self._headed[title] = HelpGroup(title, add)
        return self._headed[title]

    def choose(self, metavar: str, **rest: Any) -> Any:
        """Let one of several parsers come next: commands, or the verbs of one."""
        found: Any = self.add_subparsers(metavar=metavar, **rest)
        kind, where = metavar.lower(), f"{self.prog} --help"
        verbs = found.choices
        found.choices = KnownWords(kind, verbs, partial(argparse.ArgumentError, None), where)
        self.chooser = found
        self._verbs = verbs
        self._order.append(found)
        return found

    def add_verbs(self, verbs: Mapping[str, tuple[str, Callable[[Parser], object]]]) -> None:
        """Let a verb come next; each has a summary and what adds its arguments."""
        made, command = self.choose("VERB"), self.prog.removeprefix(f"{PROGRAM} ")
        for name, (summary, fill) in verbs.items():
            made.add_parser(
                name,
                prog=f"{self.prog} {name}",
                description=summary,
                page=f"{command} {name}",
                fill=fill,
            )

    @property
    def groups(self) -> list[HelpGroup]:
        """Its arguments by heading, those without one first."""
        self.filled()
        return [self._plain, *self._headed.values()]

    def filled(self) -> Parser:
        """This parser, with its arguments."""
        fill, self._fill = self._fill, None
        if fill is not None:
            fill(self)
        return self

    @property
    def actions(self) -> list[argparse.Action]:
        """Its arguments and options, in order."""
        return self.filled()._order

    @property
    def verbs(self) -> dict[str, Parser]:
        """What may be in the place of COMMAND or VERB, with the parser for the rest."""
        self.filled()
        return dict(self._verbs) if self.chooser is not None else {}

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

    def format_help(self) -> str:
        """The help page."""
        from benchtimer.cli.manual import page_of

        return page_of(self.filled())

    def print_help(self, file: SupportsWrite[str] | None = None) -> None:
        """Write the help page; unlike the library's own, a failure is not kept quiet."""
        print(self.format_help(), end="", file=file)

    def exit(self, status: int = 0, message: str | None = None) -> NoReturn:
        """Leave, with the help written out."""
        flush()
        if message:
            print(message, end="", file=sys.stderr)
        sys.exit(status)

    def error(self, message: str) -> NoReturn:
        """Leave with what is wrong and where to read on."""
        message = message.replace("the following arguments are required:", "missing:")
        self.exit(USAGE, f"{PROGRAM}: {message}\nTry: {self.prog} --help\n")


MANY = 12
"""More choices than these are not listed in a message."""


def _shown(word: str) -> str:
    from benchtimer.recipe.problems import quoted

    return quoted(word)[1:-1]


def _hint(word: str, known: Sequence[str]) -> str:
    from benchtimer.quantity import did_you_mean

    hint = did_you_mean(word, known)
    return f"; {hint}" if hint else ""


def _too_many(word: str) -> str:
    if word.startswith("-"):
        return f'there is no option "{_shown(word)}"'
    return (
        f'"{_shown(word)}" is one word too many; put a name with a space in quotes, like "butt cap"'
    )


def whole_line() -> Parser:
    """The parser of everything behind ``benchtimer``."""
    parser = Parser(prog=PROGRAM, page=PROGRAM)
    parser.add_argument("-V", "--version", action=Version, nargs=0, help="show the version")
    common_options(parser)
    parser.set_defaults(command=OPEN)
    commands = parser.choose("COMMAND")
    for name, command in COMMANDS.items():
        commands.add_parser(
            name,
            prog=f"{PROGRAM} {name}",
            page=name,
            fill=partial(_fill_in, command),
            own_help=command.own_help,
        )
    return parser


OPEN = CommandRow("", "open the bench", "bench", "open_bench")
"""What is done without a command."""


def _fill_in(command: CommandRow, parser: Parser) -> None:
    if command.options:
        command.load(command.options)(parser)
    common_options(parser, again=True, uses=command.uses)
    parser.set_defaults(command=command)
