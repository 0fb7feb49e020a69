"""The command line: arguments in, text or JSON out.

Results go to stdout, messages to stderr. Exit 0: yes. 1: no (invalid, not found, can't
be). 2: wrong usage. 3: the store can't be used.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from typing import NamedTuple

from benchtimer import __version__
from benchtimer.cli import bench, log, plan, recipes, rehearse
from benchtimer.cli.common import NO, STORE, USAGE, YES, Wrong, common_options, job_options
from benchtimer.quantity import nearest
from benchtimer.recipe.problems import RecipeError


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code."""
    # Lazy: --help, check and show need neither the store nor the engine.
    from benchtimer.run.refusals import Refused
    from benchtimer.store.log import StoreError

    arguments = _parser().parse_args(argv)
    try:
        return int(arguments.do(arguments))
    except Wrong as wrong:
        return _say(str(wrong), wrong.code)
    except (RecipeError, Refused) as error:
        return _say(str(error), NO)
    except StoreError as error:
        return _say(str(error), STORE)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return YES
    except KeyboardInterrupt:
        return _say("stopped", USAGE)


def _say(message: str, code: int) -> int:
    print(f"benchtimer: {message}", file=sys.stderr)
    return code


class _Parser(argparse.ArgumentParser):
    """Wrong usage in one message, with the nearest right word."""

    def error(self, message: str) -> None:  # type: ignore[override]
        of_command = message.startswith("argument COMMAND")
        choice = message.partition("invalid choice: ")[2] if of_command else ""
        words = choice.partition(" (")[0].strip("'\"")
        near = nearest(words, list(COMMANDS)) if words else None
        hint = f'; did you mean "{near}"?' if near else ""
        known = f"the commands are {', '.join(COMMANDS)}" if words else message
        head = f'there is no command "{words}"{hint} ' if words else ""
        self.exit(USAGE, f"benchtimer: {head}{known}\nTry: {self.prog} --help\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="benchtimer",
        description="Plan, time and record chemical finishing of several steel parts at once.",
        epilog="Without a command it opens the bench. The supplier's data sheet goes before "
        "anything this program says.",
    )
    parser.add_argument("--version", action="version", version=f"benchtimer {__version__}")
    common_options(parser)
    parser.set_defaults(do=bench.open_bench)
    commands = parser.add_subparsers(metavar="COMMAND")
    for name, command in COMMANDS.items():
        sub = commands.add_parser(name, help=command.summary, description=command.summary)
        common_options(sub, again=True)
        command.options(sub)
        sub.set_defaults(do=command.do)
    return parser


class Command(NamedTuple):
    """One command: a line about it, its arguments, and what it does (giving the exit code)."""

    summary: str
    options: Callable[[argparse.ArgumentParser], object]
    do: Callable[[argparse.Namespace], int]


def _none(_parser: argparse.ArgumentParser) -> None:
    return


COMMANDS = {
    "run": Command("open the bench with this run ready to start", job_options, bench.run),
    "plan": Command("print the plan of a run, with its proof", plan.options, plan.plan_run),
    "rehearse": Command(
        "run it in fast time with simulated hands", rehearse.options, rehearse.rehearse_run
    ),
    "check": Command(
        "validate recipe files",
        lambda p: p.add_argument("files", metavar="FILE", nargs="+"),
        recipes.check,
    ),
    "recipes": Command(
        "what is on the shelf",
        lambda p: p.add_argument("--json", action="store_true", help="for programs"),
        recipes.recipes,
    ),
    "show": Command(
        "one recipe in readable form",
        lambda p: p.add_argument("recipe", metavar="RECIPE"),
        recipes.show,
    ),
    "log": Command("the runs, or the record of one", log.options, log.log_command),
    "watch": Command("look on at the bench that is running", _none, bench.watch),
    "schema": Command("the recipe format as JSON Schema", _none, recipes.schema),
}

__all__ = ["COMMANDS", "main"]
