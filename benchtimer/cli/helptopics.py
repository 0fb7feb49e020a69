"""``help``: the pages of the manual, one of them, or the help of a command."""

from __future__ import annotations

import argparse
import os
import shlex
import shutil
import sys

from benchtimer import guide
from benchtimer.cli.common import USAGE, YES, Wrong

PAGERS = ("less", "more")
"""What shows a long page where PAGER names nothing."""


def options(parser: argparse.ArgumentParser) -> None:
    """TOPIC, or a command with its verb."""
    parser.add_argument(
        "words", metavar="TOPIC", nargs="*", help="a page of the manual, or a command"
    )


def show_help(arguments: argparse.Namespace) -> int:
    """List the manual, print one of its pages, or print a command's help."""
    words: list[str] = arguments.words
    if not words:
        print(_contents(), end="")
    elif words[0] in guide.TOPICS and len(words) == 1:
        _show(guide.plain(words[0]))
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
    """Print what ``COMMAND --help`` prints; the parser leaves afterwards."""
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


def _show(text: str) -> None:
    """Print a page, through a pager if it is longer than the terminal is high."""
    if _on_terminal() and _rows(text) >= shutil.get_terminal_size().lines and _paged(text):
        return
    print(text, end="")


def _on_terminal() -> bool:
    return sys.stdout.isatty()


def _rows(text: str) -> int:
    columns = max(1, shutil.get_terminal_size().columns)
    return sum(max(1, -(-len(line) // columns)) for line in text.splitlines())


def _paged(text: str) -> bool:
    """Show a text in the pager; whether there was one that could be started."""
    import subprocess

    try:
        words = shlex.split(os.environ.get("PAGER", ""))
    except ValueError:
        words = []
    words = words or [found for name in PAGERS if (found := shutil.which(name))][:1]
    try:
        return bool(words) and bool(
            # The user's own pager, and no shell.
            subprocess.run(words, input=text.encode(), check=False)  # noqa: S603
        )
    except (OSError, ValueError):
        return False
