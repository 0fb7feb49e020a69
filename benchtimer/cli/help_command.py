"""``help``: the list of manual pages, one page, or the help of a command."""

from __future__ import annotations

import argparse

from benchtimer import guide
from benchtimer.cli.common import USAGE, YES, Wrong
from benchtimer.cli.pager import show


def options(parser: argparse.ArgumentParser) -> None:
    """TOPIC, or a command with its verb."""
    parser.add_argument(
        "words", metavar="TOPIC", nargs="*", help="a page of the manual, or a command"
    )
    parser.add_argument(
        "--man", action="store_true", help="the whole command line as a man page, in roff"
    )


def show_help(arguments: argparse.Namespace) -> int:
    """List the manual, print one of its pages, or print a command's help."""
    words: list[str] = arguments.words
    if arguments.man:
        from benchtimer.cli.roff import man_page

        print(man_page(), end="")
        return YES
    if not words:
        print(_contents(), end="")
    elif words[0] in guide.TOPICS and len(words) == 1:
        show(guide.plain(words[0]))
    else:
        _show_command(words)
    return YES


def _contents() -> str:
    from benchtimer.cli.manual import joined, section, table, wrapped

    return joined(
        section("The manual", table(guide.TOPICS)),
        *wrapped("benchtimer help TOPIC shows a page, benchtimer help COMMAND a command's help."),
    )


def _show_command(words: list[str]) -> None:
    """Print the same as ``COMMAND --help``; the parser exits afterward."""
    from benchtimer.cli.parser import whole_line
    from benchtimer.cli.table import COMMANDS

    if words[0] not in COMMANDS:
        raise Wrong(_unknown(words, [*guide.TOPICS, *COMMANDS]), USAGE)
    whole_line().parse_args([*words, "--help"])


def _unknown(words: list[str], known: list[str]) -> str:
    from benchtimer.quantity import did_you_mean
    from benchtimer.recipe.problems import quoted

    asked = " ".join(words)
    hint = did_you_mean(words[0], known) or "benchtimer help lists them"
    return f"the manual has no page {quoted(asked)}; {hint}"
