"""The command line: arguments in, text or JSON out.

Results go to stdout, messages to stderr. Exit 0: yes. 1: no (invalid, not found, can't
be). 2: wrong usage. 3: the store can't be used.
"""

from __future__ import annotations

import argparse
import codecs
import io
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from benchtimer import __version__
from benchtimer.cli import (
    bath,
    bench,
    carry,
    compare,
    figure,
    find,
    judge,
    keep,
    log,
    plan,
    prepare,
    recipes,
    rehearse,
    setup,
)
from benchtimer.cli.common import NO, STORE, USAGE, YES, Wrong, common_options, fill_in
from benchtimer.quantity import nearest
from benchtimer.recipe.problems import RecipeError, quoted

if TYPE_CHECKING:
    from _typeshed import SupportsWrite


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code."""
    # Lazy: --help, check and show need neither the store nor the engine.
    from benchtimer.run.refusals import Refused
    from benchtimer.store.backups import way_back
    from benchtimer.store.errors import Damaged, StoreError

    _let_any_text_out()
    try:
        arguments = _parser().parse_args(argv)
        if hasattr(arguments, "hands"):
            fill_in(arguments)
        code = int(arguments.do(arguments))
        _flush()
        return code
    except Wrong as wrong:
        return _say(str(wrong), wrong.code)
    except (RecipeError, Refused) as error:
        return _say(str(error), NO)
    except Damaged as error:
        return _say(f"{error}\n{way_back(error.path.parent)}", STORE)
    except StoreError as error:
        return _say(str(error), STORE)
    except BrokenPipeError:
        _forget_output()
        return YES
    except OSError as error:
        _forget_output()
        where = quoted(str(error.filename)) if error.filename else "the output"
        return _say(f"{where} can't be written or read: {error.strerror or error}", NO)
    except KeyboardInterrupt:
        return _say("stopped", USAGE)


def _flush() -> None:
    """Write out now, while a failure can still be told."""
    if sys.stdout is not None:  # it is None in a process that was started without
        sys.stdout.flush()


def _forget_output() -> None:
    """What could not be written is not tried again when the program ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _let_any_text_out() -> None:
    """Letters that the output has no code for are written as JSON and TOML escape them."""
    codecs.register_error("benchtimer", _escaped)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="benchtimer")


def _escaped(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    units = error.object[error.start : error.end].encode("utf-16-be", "surrogatepass")
    pairs = zip(units[::2], units[1::2], strict=True)
    return "".join(f"\\u{high:02x}{low:02x}" for high, low in pairs), error.end


def _say(message: str, code: int) -> int:
    with suppress(OSError):  # nowhere is left to say it; the exit code remains
        print(f"benchtimer: {message}", file=sys.stderr)
    return code


QUOTES = "'\""


class _Parser(argparse.ArgumentParser):
    """Wrong usage in one message, with the nearest right word."""

    def exit(self, status: int = 0, message: str | None = None) -> NoReturn:
        """Leave, with the help written out."""
        _flush()
        super().exit(status, message)

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        # The library's own keeps quiet about a help that nobody gets to see.
        print(message, end="", file=file or sys.stderr)

    def error(self, message: str) -> None:  # type: ignore[override]
        what, _, rest = message.partition(": invalid choice: ")
        words, _, choices = rest.partition(" (choose from ")
        told = message
        if words and what in ("argument COMMAND", "argument VERB"):
            what = what.removeprefix("argument ").lower()
            known = [choice.strip("'\") ") for choice in choices.split(",")]
            near = nearest(words.strip(QUOTES), known)
            hint = f'; did you mean "{near}"?' if near else ""
            told = f"there is no {what} {quoted(words.strip(QUOTES))}{hint} "
            told += f"the {what}s are {', '.join(known)}"
        self.exit(USAGE, f"benchtimer: {told}\nTry: {self.prog} --help\n")


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
        sub = commands.add_parser(
            name, help=command.summary, description=command.summary, add_help=not command.own_help
        )
        common_options(sub, again=True)
        command.options(sub)
        sub.set_defaults(do=command.do)
    return parser


class Command(NamedTuple):
    """One command: a line about it, its arguments, and what it does (giving the exit code).

    ``own_help`` says that its options include their own ``--help``.
    """

    summary: str
    options: Callable[[argparse.ArgumentParser], object]
    do: Callable[[argparse.Namespace], int]
    own_help: bool = False


def _none(_parser: argparse.ArgumentParser) -> None:
    return


COMMANDS = {
    "run": Command("open the bench with this run ready to start", bench.options, bench.run),
    "prepare": Command(
        "what to lay out, mix and read before a run", prepare.options, prepare.prepare
    ),
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
    "judge": Command("say how a part of a run came out", judge.options, judge.judge),
    "compare": Command(
        "what differed between attempts, and how it came out", compare.options, compare.compare
    ),
    "keep": Command("a run's settings as the recipe's next revision", keep.options, keep.keep),
    "find": Command("runs by part, recipe, bath, verdict, date, words", find.options, find.find),
    "part": Command("the whole life of a part", find.part_options, find.part),
    "backup": Command("copy the log, also while it runs", carry.backup_options, carry.backup),
    "restore": Command("put a copy back", carry.restore_options, carry.restore),
    "export": Command("every run as files", carry.export_options, carry.export),
    "import": Command("read exported runs in", carry.import_options, carry.import_runs),
    "bath": Command(
        "the bath book: baths, what went through them, their end", bath.options, bath.bath
    ),
    "figure": Command(
        "one of the trade's figures, with its working", figure.options, figure.figure, own_help=True
    ),
    "setup": Command("make, print or change the shop's settings", setup.options, setup.setup),
    "watch": Command("look on at the bench that is running", bench.watch_options, bench.watch),
    "schema": Command("the recipe format as JSON Schema", _none, recipes.schema),
}

__all__ = ["COMMANDS", "main"]
