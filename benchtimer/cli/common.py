"""What the commands share: exit codes, and common options.

Loaded for every help page, so nothing heavy is imported here.
"""

from __future__ import annotations

import argparse
import os.path
import shutil
import sys
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from pathlib import Path

YES, NO, USAGE, STORE = 0, 1, 2, 3
"""Exit codes: success; no; usage error; the log can't be used."""


class Wrong(Exception):
    """A message for the user, with its exit code."""

    def __init__(self, message: str, code: int) -> None:
        self.code = code
        super().__init__(message)


COMMON = ("data", "by", "speed")
"""The options that can come before or after any command."""


class HeadedParser(Protocol):
    """A parser that can group options under a heading."""

    def headed(self, title: str) -> Any:
        """The heading, to add options under."""


def common_options(
    parser: HeadedParser, *, again: bool = False, uses: tuple[str, ...] = COMMON
) -> None:
    """Options that can come before or after the command.

    Args:
        parser: where to add them.
        again: they may already have come before it.
        uses: the ones that have an effect; the others are accepted but left out of its help.
    """
    group = parser.headed(COMMON_TITLE)
    default = argparse.SUPPRESS if again else None
    rows: tuple[tuple[str, str, Callable[[str], object], str], ...] = (
        ("data", "DIR", str, "use this data folder"),
        ("by", "NAME", _name, "your name, for the log"),
        ("speed", "X", _speed, "practice at X times real speed, in a separate log"),
    )
    for name, metavar, kind, about in rows:
        about = about if name in uses else argparse.SUPPRESS
        group.add_argument(f"--{name}", type=kind, metavar=metavar, default=default, help=about)
    group.add_argument(
        "--no-color", action="store_true",
        default=argparse.SUPPRESS if again else False,
        help="no colors on the screen" if "speed" in uses else argparse.SUPPRESS,
    )  # fmt: skip


def json_option(parser: argparse.ArgumentParser) -> None:
    """--json."""
    parser.add_argument("--json", action="store_true", help="print JSON, for other programs")


def put_json(value: object) -> None:
    """Print a table or a list for programs, with nothing in it that could garble a terminal."""
    import json

    from benchtimer.records.inert import escaped

    print(escaped(json.dumps(value, ensure_ascii=False, indent=2)))


def print_lines(lines: Iterable[str]) -> None:
    """Print lines; on a terminal those that are wider than it go on further to the right."""
    if sys.stdout.isatty():
        from benchtimer.view.text import folded

        room = shutil.get_terminal_size().columns
        lines = (part for line in lines for part in folded(line, room))
    print("\n".join(lines))


LEAVE_BY = (
    'when you have to leave: 20:00, or "20:00 to Sat 08:00"; nothing is planned while you are away'
)

COMMON_TITLE = "Log and display"
"""The heading over the common options."""


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = 0
    if not 1 <= speed <= 10_000:
        raise argparse.ArgumentTypeError(f"{text!r} is not a speed from 1 to 10000")
    return speed


def _name(text: str) -> str:
    """A name that is safe in the log and on any screen, like ``by`` in the settings."""
    from benchtimer.run.refusals import Refused, safe_text

    try:
        name = safe_text("name", text)
    except Refused as refused:
        raise argparse.ArgumentTypeError(str(refused)) from None
    if "\n" in name:
        raise argparse.ArgumentTypeError("a name must be one line")
    return name


def whole_number(most: int, what: str) -> Callable[[str], int]:
    """A parser of a number from 1 to ``most``; it raises ``ArgumentTypeError``."""

    def read(text: str) -> int:
        digits = text.lstrip("0")
        number = int(digits) if digits.isdecimal() and len(digits) <= len(str(most)) else 0
        if not 1 <= number <= most:
            raise argparse.ArgumentTypeError(f"{text!r} is not a number of {what} from 1 to {most}")
        return number

    return read


def job_options(parser: argparse.ArgumentParser, *, needed: bool = True) -> None:
    """RECIPE PART... and the changes for one run.

    Args:
        parser: where to add them.
        needed: a recipe and a part are required; otherwise the command asks for them.
    """
    one, some = (None, "+") if needed else ("?", "*")
    parser.add_argument("recipe", metavar="RECIPE", nargs=one, help="a recipe's name, or a path")
    parser.add_argument("parts", metavar="PART", nargs=some, help="a name, or name=RECIPE")
    parser.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="ID.FIELD=VALUE",
        help='change the recipe for this run only, for example --set black.target="12 min"',
    )
    parser.add_argument(
        "--about",
        action="append",
        default=[],
        metavar="PART.PROPERTY=VALUE",
        help='what a recipe needs to know about a part, for example --about "blade.temper=200 C"',
    )
    parser.add_argument(
        "--count",
        dest="counts",
        action="append",
        default=[],
        metavar="PART=NUMBER",
        help="a batch that is handled as one part, for example --count pins=6 for six on one wire",
    )
    parser.add_argument(
        "--from",
        dest="begins",
        action="append",
        default=[],
        metavar="PART=STEP",
        help="a half-done part enters its recipe at this step, for example --from blade=hang",
    )
    parser.add_argument(
        "--before",
        action="append",
        default=[],
        metavar="PART=WORDS",
        help="what you already did to it, as a note in the record; it does not count as done",
    )
    parser.add_argument(
        "--away",
        action="append",
        metavar="FROM-TO",
        help="hours when you are away, every day, like 22:00-07:00; may be repeated; "
        '"none" clears them (default: from the settings)',
    )
    parser.add_argument(
        "--hands",
        type=whole_number(20, "people"),
        metavar="N",
        help="people working (default: from the settings)",
    )


def pair_of(text: str, form: str, option: str = "") -> tuple[str, str]:
    """The two sides of ``NAME=VALUE``.

    Args:
        text: what was given.
        form: how to write it, for the error.
        option: the option it was given to, for the error.

    Raises:
        Wrong: one side is empty, or there is no equals sign.
    """
    name, equals, value = text.partition("=")
    if not (equals and name.strip() and value.strip()):
        raise Wrong(f'{option} "{text}" is not {form}'.lstrip(), USAGE)
    return name.strip(), value.strip()


KEY_VALUE = 'KEY=VALUE, like altitude="1200 m"'
"""How to write a setting or an input of a calculation."""


def hours_option(parser: argparse.ArgumentParser) -> None:
    """Add the option for the hours to plan with; see ``plan_times.hours_given``."""
    parser.add_argument(
        "--hours",
        metavar="HOURS",
        help='when you work, like "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"; '
        '"always" clears them (default: from the settings)',
    )


def write_calendar(path: Path, made: Callable[[], str]) -> None:
    """Write a calendar file.

    Raises:
        Wrong: the calendar library is missing, or the file can't be written.
    """
    from benchtimer.plan.calendar import CalendarMissingError

    try:
        path.write_text(made(), encoding="utf-8", newline="")
    except CalendarMissingError as missing:
        raise Wrong(str(missing), NO) from None
    except OSError as error:
        raise Wrong(f"{path}: {error.strerror or 'it cannot be written'}", NO) from None


def shipped_text(*path: str) -> str:
    """The text of a file next to the command-line modules."""
    # pathlib and importlib.resources would take longer than the rest of a help page.
    with open(os.path.join(os.path.dirname(__file__), *path), encoding="utf-8") as file:
        return file.read()


def spread_option(parser: argparse.ArgumentParser) -> None:
    """--spread X, with an explanation of X, and --recipe-times."""
    # The words of plan.spread for 0.25, written out so that a help page loads no more than it must.
    parser.add_argument(
        "--spread",
        type=number_of("a spread", 0, 2),
        metavar="X",
        help="how much hands-on times vary: the standard deviation of their logarithm "
        "(default: from your own runs, or 0.25 if you have none: two times in three between "
        "22%% shorter and 28%% longer); 0: not at all",
    )
    parser.add_argument(
        "--recipe-times",
        action="store_true",
        help="use the recipe's hands-on times and check rates, not the ones from your runs",
    )


def number_of(what: str, low: float, high: float) -> Callable[[str], float]:
    """A parser of numbers from ``low`` to ``high``; ``what`` names one in the error.

    Args:
        what: the number's name in the error.
        low: the smallest value.
        high: the largest value.
    """

    def parse(text: str) -> float:
        try:
            number = float(text)
        except ValueError:
            number = float("nan")
        if not low <= number <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not {what} from {low:g} to {high:g}")
        return number

    return parse
