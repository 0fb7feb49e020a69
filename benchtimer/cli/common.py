"""What the commands share: exit codes, options, where things are kept."""

from __future__ import annotations

import argparse
import getpass
import os
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from benchtimer.recipe.fields import unsafe_character
from benchtimer.recipe.shelf import Shelf
from benchtimer.settings import FILE_NAME, Settings, SettingsError, read_settings

if TYPE_CHECKING:
    from benchtimer.bench import NewRun

YES, NO, USAGE, STORE = 0, 1, 2, 3
"""Exit codes: done; can't be; wrong usage; the log can't be used."""


class Wrong(Exception):
    """A message for the user and the exit code that goes with it."""

    def __init__(self, message: str, code: int) -> None:
        self.code = code
        super().__init__(message)


def common_options(parser: argparse.ArgumentParser, *, again: bool = False) -> None:
    """Options that may stand before or behind the command."""
    default = argparse.SUPPRESS if again else None
    parser.add_argument("--data", metavar="DIR", default=default, help="the data folder")
    parser.add_argument(
        "--by", type=_name, metavar="NAME", default=default, help="who presses the keys"
    )
    parser.add_argument(
        "--speed",
        type=_speed,
        metavar="X",
        default=default,
        help="practice, X times faster than real, in a log of its own",
    )


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = 0
    if not 1 <= speed <= 10_000:
        raise argparse.ArgumentTypeError(f"{text!r} is no speed from 1 to 10000")
    return speed


def _name(text: str) -> str:
    """A name that can go into the log and onto any screen, as ``by`` of the settings can."""
    from benchtimer.run.answers import safe_text
    from benchtimer.run.refusals import Refused

    try:
        name = safe_text("name", text)
    except Refused as refused:
        raise argparse.ArgumentTypeError(str(refused)) from None
    if "\n" in name:
        raise argparse.ArgumentTypeError("a name has one line only")
    return name


def whole_number(text: str, most: int, what: str) -> int:
    """A number from 1 to ``most`` of something.

    Raises:
        ArgumentTypeError: it is none.
    """
    digits = text.lstrip("0")
    number = int(digits) if digits.isdecimal() and len(digits) <= len(str(most)) else 0
    if not 1 <= number <= most:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of {what} from 1 to {most}")
    return number


def _hands(text: str) -> int:
    return whole_number(text, 20, "people")


def job_options(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... and how they are changed for one run."""
    parser.add_argument("recipe", metavar="RECIPE", help="a name on the shelf, or a path")
    parser.add_argument("parts", metavar="PART", nargs="+", help="a name, or name=RECIPE")
    parser.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="ID.FIELD=VALUE",
        help='change the recipe for this run only, for example --set black.aim="12 min"',
    )
    parser.add_argument(
        "--about",
        action="append",
        default=[],
        metavar="PART.PROPERTY=VALUE",
        help='what a recipe needs to know of a part, for example --about "blade.temper=200 C"',
    )
    parser.add_argument(
        "--away",
        action="append",
        metavar="FROM-TO",
        help="hours with nobody there, every day, like 22:00-07:00; may be given several times; "
        "none for no such hours (otherwise those of the settings)",
    )
    parser.add_argument(
        "--hands", type=_hands, metavar="N", help="people who work (otherwise as in the settings)"
    )


def fill_in(arguments: argparse.Namespace) -> None:
    """What RECIPE PART... leaves open, from the shop's settings."""
    if arguments.hands is None:
        arguments.hands = shop_settings().hands
    if arguments.away is None:
        arguments.away = [str(hours) for hours in shop_settings().away]
    elif arguments.away == ["none"]:
        arguments.away = []


def base_folder(arguments: argparse.Namespace) -> Path:
    """The data folder, chosen or the system's."""
    chosen = arguments.data or os.environ.get("BENCHTIMER_DATA")
    return Path(chosen) if chosen else Path(platformdirs.user_data_dir("benchtimer", False))


def data_path(arguments: argparse.Namespace) -> Path:
    """The data folder of the bench asked for: real work or practice."""
    from benchtimer.bench import data_folder

    return data_folder(base_folder(arguments), arguments.speed or 1)


def config_folder() -> Path:
    """The folder of the shop's settings and own recipes, chosen or the system's."""
    chosen = os.environ.get("BENCHTIMER_CONFIG")
    return Path(chosen) if chosen else Path(platformdirs.user_config_dir("benchtimer", False))


def shop_shelf() -> Shelf:
    """The shop's own recipes before the shipped ones."""
    return Shelf(config_folder() / "recipes")


def settings_path() -> Path:
    """The shop's settings file."""
    return config_folder() / FILE_NAME


def shop_settings() -> Settings:
    """The shop's settings; the defaults if it has none.

    Raises:
        SettingsError: the file is there and broken.
    """
    return read_settings(settings_path())


def settings_or_none() -> tuple[Settings, str]:
    """The shop's settings; the defaults and what is wrong if the file is broken.

    A bench with parts in its tanks opens whatever a file beside it says.
    """
    try:
        return shop_settings(), ""
    except SettingsError as error:
        return Settings(), str(error)


def who(arguments: argparse.Namespace, settings: Settings | None = None) -> str:
    """Who presses the keys."""
    named = arguments.by or (settings if settings is not None else shop_settings()).by
    if named:
        return str(named)
    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "maker"
    return user if user and unsafe_character(user) is None else "maker"


def ordered(job: argparse.Namespace, shelf: Shelf) -> NewRun:
    """The run that RECIPE PART... and its options ask for."""
    from benchtimer.orders import new_run

    return new_run(shelf, job.recipe, job.parts, job.changes, job.hands, job.about, _away(job.away))


def _away(hours: list[str]) -> list[str]:
    from benchtimer.advice import check_away

    try:
        check_away(hours)
    except ValueError as error:
        raise Wrong(f"--away {error}", USAGE) from None
    return hours
