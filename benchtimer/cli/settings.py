"""The shop's settings file: made, printed, and one key of it changed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from benchtimer.cli.common import NO, USAGE, YES, Wrong
from benchtimer.cli.shop import settings_path

DEFAULT = """\
# The shop, for benchtimer. Every key may be left out; take the # away to set one.

# Height above the sea: decides where water and salts boil.
# altitude = "1200 m"

# What you read and weigh in: "si" or "us".
units = "si"

# People who usually work.
hands = 1

# Hours when usually nobody is in the shop.
# away = ["22:00-07:00"]

# When you work, by weekday, and dates on which you don't.
# hours = "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"
# closed = ["2026-12-24..2026-12-26"]

# Diameters of the buffing and polishing wheels at hand.
# wheels = ["8 in", "6 in"]

# Who usually presses the keys; the log keeps it.
# by = "the maker"

# Keep the computer from going to sleep while parts are at work.
keep_awake = true

# Times and failure rates come from your own real runs; these runs teach them, too.
# learn_from = ["practice", "imported"]

# Volume of the vessel each mix of a recipe goes into, by the mix's id.
[vessels]
# black-salts = "6 L"

# Your own limits for the baths of a mix, by its id. Nobody publishes any that hold for
# every shop: they come from your own records. Each of the four may be left out.
# [bath.etchant]
# max_age = "60 d"          # since it was mixed
# max_parts = 40            # parts through it
# max_dwell = "10 h"        # time of parts in it, added up
# max_exhaustion = "30 %"   # of ferric chloride, estimated from the metal weighed off

# What else happens when something is due: a program of your own, started without a shell,
# with the message as its last argument.
[alarm]
# command = ["/usr/local/bin/tell-me", "--loud"]

# How the screen looks: theme "dim", "bright" or "contrast"; text
# "ascii" for a terminal without box characters ("auto" goes by its locale).
[screen]
# theme = "dim"
# text = "auto"
"""

QUESTIONS = (
    ("altitude", "Height of the shop above the sea, like 1200 m or 4000 ft"),
    ("units", "Units you read and weigh in, si or us"),
    ("by", "Your name, for the log"),
    ("wheels", "Diameters of your buffing wheels, with commas, like 8 in, 6 in"),
)
"""What is asked at a terminal; an empty answer leaves the key as it is."""


def options(parser: argparse.ArgumentParser) -> None:
    """--set KEY=VALUE."""
    parser.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help='set one key and keep the rest, for example --set altitude="1200 m", '
        '--set vessels.black-salts="6 L", --set bath.etchant.max_parts=40, '
        "--set screen.theme=contrast",
    )


def settings(arguments: argparse.Namespace) -> int:
    """Make the settings file, print it, or change keys of it."""
    from benchtimer.cli.archive import put_out
    from benchtimer.settings import parse_settings, settings_text

    path = settings_path()
    old = settings_text(path)
    if arguments.changes:
        return _change(path, old if old is not None else DEFAULT, arguments.changes)
    if old is not None:
        put_out(f"# {path}\n{old}".replace("\ufeff", ""))
        parse_settings(old, str(path))
        return YES
    text = _asked(DEFAULT) if sys.stdin.isatty() and sys.stdout.isatty() else DEFAULT
    _write(path, text)
    print(path)
    print(
        "benchtimer: made it; edit it by hand, or with benchtimer settings --set", file=sys.stderr
    )
    return YES


def _change(path: Path, text: str, changes: list[str]) -> int:
    from benchtimer.cli.settingkeys import with_key

    for change in changes:
        key, equals, value = change.partition("=")
        if not (equals and key.strip() and value.strip()):
            raise Wrong(f'"{change}" is not KEY=VALUE, like altitude="1200 m"', USAGE)
        text = with_key(text, key.strip(), value.strip(), str(path))
    _write(path, text)
    print(path)
    return YES


def _asked(text: str, ask: Callable[[str], str] = input) -> str:
    """The text with the answers to a few questions in it."""
    from benchtimer.cli.settingkeys import with_key
    from benchtimer.settings import SettingsError

    for key, question in QUESTIONS:
        while True:
            answer = ask(f"{question}: ").strip()
            try:
                text = with_key(text, key, answer, "settings") if answer else text
                break
            except (SettingsError, Wrong) as error:
                print(error, file=sys.stderr)
    return text


def _write(path: Path, text: str) -> None:
    """Put the file in its place in one go, so that a cut of the power leaves the old or the new."""
    from benchtimer.whole import clear_away_halves, make_own_folder, write_whole

    try:
        make_own_folder(path.parent)
        clear_away_halves(path.parent)
        write_whole(path, text, private=True)
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise Wrong(f"{path} can't be written: {reason}", NO) from None
