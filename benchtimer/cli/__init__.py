"""The command line: arguments in, text or JSON out.

Results go to stdout, messages to stderr. Exit 0: yes. 1: no (invalid, not found, impossible). 2:
usage error. 3: the log can't be used.
"""

from __future__ import annotations

import codecs
import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress

from benchtimer.cli.common import NO, STORE, USAGE, YES, Wrong
from benchtimer.cli.meter import Meter, at_terminal
from benchtimer.cli.parser import flush, whole_line
from benchtimer.cli.table import COMMANDS
from benchtimer.progress import listening
from benchtimer.times import show_clock


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit code."""
    _open_missing_streams()
    if sys.stdout is None:
        return _say("the output is closed, so nothing could be printed; nothing was done", NO)
    _escape_unprintable()
    try:
        code = _command(sys.argv[1:] if argv is None else list(argv))
        flush()
        return code
    except BrokenPipeError:
        _forget_output()
        return YES
    except OSError as error:
        _forget_output()
        return _say(_not_written(error), NO)
    except KeyboardInterrupt:
        return _say("stopped", USAGE)
    except Exception as error:
        message = _explained(error)
        if message is None:
            raise
        return _say(*message)


def _command(words: list[str]) -> int:
    if words[:1] == [ASKED_BY_A_SHELL]:
        from benchtimer.cli.complete_words import answer

        return answer(words[1:])
    arguments = whole_line().parse_args(words)
    if arguments.no_color:
        os.environ["NO_COLOR"] = "1"
    from benchtimer.cli.shop_context import clock_hours, fill_in

    show_clock(clock_hours())
    if hasattr(arguments, "hands"):
        fill_in(arguments)
    do = arguments.command.load(arguments.command.do)
    if not at_terminal():
        return int(do(arguments))
    meter = Meter()
    try:
        with listening(meter):
            return int(do(arguments))
    finally:
        meter.clear()


ASKED_BY_A_SHELL = "--complete"
"""The first word when a completion script asks for completions."""


def _explained(error: Exception) -> tuple[str, int] | None:
    """The message for an error and the exit code; None if it is a bug in the program."""
    if isinstance(error, Wrong):
        return str(error), error.code
    # Imported here because a command that succeeds needs none of them.
    from benchtimer.recipe.problems import RecipeError
    from benchtimer.run.refusals import Refused
    from benchtimer.store.errors import Damaged, Foreign, StoreError

    if isinstance(error, RecipeError | Refused):
        return str(error), NO
    if isinstance(error, Damaged | Foreign):
        from benchtimer.store.backups import way_back

        return f"{error}\n{way_back(error.path.parent)}", STORE
    return (str(error), STORE) if isinstance(error, StoreError) else None


def _not_written(error: OSError) -> str:
    if not error.filename:
        return f"the output can't be written or read: {error.strerror or error}"
    from benchtimer.recipe.problems import quoted

    return f"{quoted(str(error.filename))} can't be written or read: {error.strerror or error}"


def _forget_output() -> None:
    """Don't try to write the lost output again when the program ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _open_missing_streams() -> None:
    """Drop messages if there is nowhere to print them, and read nothing if there is no input.

    Otherwise a message could end up in the output, among the results.
    """
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  open to the end
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115


def _escape_unprintable() -> None:
    """Write characters that the output can't encode as JSON and TOML escapes."""
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
    with suppress(OSError):  # there is nowhere left to report it; the exit code remains
        print(f"benchtimer: {message}", file=sys.stderr)
    return code


__all__ = ["COMMANDS", "main"]
