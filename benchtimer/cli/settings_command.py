"""The shop's settings file: makes it, prints it, or changes one key."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli import alarm_command, shopplaces
from benchtimer.cli.common import KEY_VALUE, YES, Wrong, common_options, pair_of, put_json
from benchtimer.cli.settingfile import DEFAULT, write_settings
from benchtimer.cli.shop_context import settings_path

if TYPE_CHECKING:
    from benchtimer.cli.parser import Parser

QUESTIONS = (
    ("altitude", "Height of the shop above sea level, like 1200 m or 4000 ft"),
    ("units", "Units you read and weigh in, si or us"),
    ("by", "Your name, for the log"),
    ("wheels", "Diameters of your buffing wheels, with commas, like 8 in, 6 in"),
)
"""The questions at a terminal; an empty answer leaves the key as it is."""


def options(parser: Parser) -> None:
    """--set KEY=VALUE, --json, or a verb."""
    parser.set_defaults(do=None)
    parser.add_verbs(
        {
            "places": ("which stations in your recipes share a real place", _places_options),
            "alarm": ("the ways an alarm can reach you, and a test of each", _alarm_options),
        }
    )
    parser.add_argument("--json", action="store_true", help="print the settings in use as JSON")
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


def _places_options(parser: Parser) -> None:
    shopplaces.options(parser)
    common_options(parser, again=True, uses=())
    parser.set_defaults(do=shopplaces.places)


def _alarm_options(parser: Parser) -> None:
    alarm_command.options(parser)
    common_options(parser, again=True, uses=("data",))
    parser.set_defaults(do=alarm_command.alarm)


def settings(arguments: argparse.Namespace) -> int:
    """Make the settings file, print it, or change its keys; or go on to places or alarms."""
    if arguments.do is not None:
        return int(arguments.do(arguments))
    from benchtimer.cli.record_common import put_out
    from benchtimer.settings import parse_settings, settings_text

    path = settings_path()
    old = settings_text(path)
    if arguments.changes:
        return _change(path, old if old is not None else DEFAULT, arguments.changes)
    if arguments.json:
        return _as_json(path, old)
    if old is not None:
        put_out(f"# {path}\n{old}".replace("\ufeff", ""))
        parse_settings(old, str(path))
        return YES
    text = _asked(DEFAULT) if sys.stdin.isatty() and sys.stdout.isatty() else DEFAULT
    write_settings(path, text)
    print(path)
    print(
        "benchtimer: created; edit it by hand, or with benchtimer settings --set", file=sys.stderr
    )
    return YES


def _as_json(path: Path, text: str | None) -> int:
    """Print the settings in effect, with the defaults of missing keys."""
    from benchtimer.settings import Settings, parse_settings

    found = Settings() if text is None else parse_settings(text, str(path))
    table = found.model_dump(mode="json", by_alias=True)
    answer = {"file": str(path), "exists": text is not None, "settings": table}
    put_json(answer)
    return YES


def _change(path: Path, text: str, changes: list[str]) -> int:
    from benchtimer.cli.settingkeys import with_key

    for change in changes:
        text = with_key(text, *pair_of(change, KEY_VALUE), str(path))
    write_settings(path, text)
    print(path)
    if any(change.startswith("place.") for change in changes):
        shopplaces.warn_of_unknown_stations()
    return YES


def _asked(text: str, ask: Callable[[str], str] = input) -> str:
    """The settings text with your answers to a few questions in it."""
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
