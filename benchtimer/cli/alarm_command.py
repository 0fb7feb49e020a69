"""``settings alarm``: the ways an alarm can reach you, and a test of each."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from benchtimer.cli.common import NO, USAGE, YES, Wrong, json_option, put_json
from benchtimer.cli.shop_context import base_folder, settings_path

if TYPE_CHECKING:
    from benchtimer.settings import AlarmSettings
    from benchtimer.sound.player import Player

MESSAGE = "TEST ALARM: nothing to do"


def options(parser: argparse.ArgumentParser) -> None:
    """--try --json."""
    parser.add_argument(
        "--try", dest="tries", action="store_true",
        help="play each alarm, ask whether you heard it, and save the answer",
    )  # fmt: skip
    json_option(parser)


def alarm(arguments: argparse.Namespace) -> int:
    """Print the ways of an alarm and whether you heard each, or try them."""
    from benchtimer.settings import read_settings

    path = settings_path()
    alarm, folder = read_settings(path).alarm, base_folder(arguments)
    if arguments.tries:
        return try_ways(alarm, folder, partial(_turn_on, path))
    return show_ways(alarm, folder, as_json=arguments.json)


def _turn_on(path: Path, change: str) -> None:
    """Set a key of the alarm, unless it already has that value."""
    from benchtimer.cli.settingfile import DEFAULT, write_settings
    from benchtimer.cli.settingkeys import with_key
    from benchtimer.settings import parse_settings, settings_text

    key, _, value = change.partition("=")
    old = settings_text(path)
    text = old if old is not None else DEFAULT
    new = with_key(text, key, value, str(path))
    if parse_settings(new, str(path)).alarm != parse_settings(text, str(path)).alarm:
        write_settings(path, new)
        print(f"  {change} is now in {path}")


class AlarmWay(NamedTuple):
    """One way of an alarm.

    Attributes:
        way: its name, one of ``sound.ways.WAYS``.
        uses: what makes it.
        on: whether the settings have it on.
        tried: the day of the last try; empty if there was none.
        reached: whether it reached you then.
    """

    way: str
    uses: str
    on: bool
    tried: str
    reached: bool


def ways_of(alarm: AlarmSettings, folder: Path, player: Player) -> list[AlarmWay]:
    """Every way of an alarm, and whether you heard it on this computer.

    Args:
        alarm: the alarm settings.
        folder: where what you heard is saved.
        player: plays sounds on this computer.
    """
    from benchtimer.recipe.problems import quoted
    from benchtimer.sound.player import NO_PLAYER
    from benchtimer.sound.ways import read_heard

    words = player.words
    rows = (
        ("call", "everything that is on, at once (O at the bench)", True),
        ("bell", "the terminal's bell", True),
        ("tone", words[0] if words else NO_PLAYER, alarm.tone),
        ("notice", "a desktop notice by the terminal", alarm.notice != "off"),
        ("command", quoted(alarm.command[0]) if alarm.command else "none", bool(alarm.command)),
    )
    tried = read_heard(folder).tried
    return [AlarmWay(way, uses, on, *tried.get(way, ("", False))) for way, uses, on in rows]


def show_ways(alarm: AlarmSettings, folder: Path, *, as_json: bool) -> int:
    """Print the ways of an alarm and whether you heard each.

    Args:
        alarm: the alarm settings.
        folder: where what you heard is saved.
        as_json: print JSON.
    """
    from benchtimer.sound.player import Player

    ways = ways_of(alarm, folder, Player())
    if as_json:
        put_json([way._asdict() for way in ways])
        return YES
    for each in ways:
        state = "on" if each.on else "off"
        print(f"{each.way:<9} {state:<4} {_outcome(each):<24} {each.uses}")
    if not any(each.reached for each in ways):
        print("benchtimer: no alarm was heard on this computer yet; try it: "
              "benchtimer settings alarm --try", file=sys.stderr)  # fmt: skip
    return YES


def _outcome(way: AlarmWay) -> str:
    if not way.tried:
        return "never tried here"
    return f"{'heard' if way.reached else 'NOT HEARD'} {way.tried}"


class AlarmTest(NamedTuple):
    """One thing to try.

    Attributes:
        way: which way it is.
        title: what will happen.
        ask: the question afterward.
        play: plays it. Returns what went wrong, or None.
        keep: what a yes turns on in the settings.
    """

    way: str
    title: str
    ask: str
    play: Callable[[], str | None]
    keep: str = ""


def try_ways(alarm: AlarmSettings, folder: Path, turn_on: Callable[[str], None]) -> int:
    """Try every way of an alarm, ask what you heard, and save the answers.

    Args:
        alarm: the settings of the alarm.
        folder: the data folder, where the answers are saved.
        turn_on: turns a way that reached you on in the settings, as KEY=VALUE.

    Returns:
        0 if at least one way reached you, 1 if none did.
    """
    from benchtimer.sound.player import Player
    from benchtimer.sound.ways import note_heard

    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Wrong("trying the alarm needs a terminal, with you at it", USAGE)
    today = f"{datetime.now().astimezone():%Y-%m-%d}"
    reached: dict[str, bool] = {}
    player = Player()
    try:
        for each in _tries(alarm, player):
            if reached.get(each.way) and each.way == "notice":
                continue  # one kind of notice is enough
            yes = _one(each)
            reached[each.way] = reached.get(each.way, False) or yes
            note_heard(folder, each.way, reached=reached[each.way], on=today)
            if yes and each.keep:
                turn_on(each.keep)
    except EOFError:
        raise Wrong("stopped; your answers so far are saved", USAGE) from None
    finally:
        player.close()
    return _summary(alarm, reached)


def _one(each: AlarmTest) -> bool:
    """Play one way until you answer the question."""
    while True:
        print(f"\n{each.title}", flush=True)
        trouble = each.play()
        if trouble is not None:
            print(f"  {trouble}.")
            return False
        answer = input(f"{each.ask} [y, n, or a to play it again] ").strip().lower()
        while answer not in ("y", "yes", "n", "no", "a"):
            answer = input("Answer y, n or a: ").strip().lower()
        if answer != "a":
            return answer.startswith("y")


def _tries(alarm: AlarmSettings, player: Player) -> Iterator[AlarmTest]:
    from benchtimer.sound.ways import KINDS

    heard = "Did you hear it?"
    yield AlarmTest("bell", "1. The terminal's bell, three times.", heard, _ring)
    yield AlarmTest(
        "tone", "2. The tone: work is due, then work is overdue.", heard,
        lambda: player.play(overdue=False) or player.play(overdue=True), "alarm.tone=true",
    )  # fmt: skip
    for kind in KINDS:
        yield AlarmTest(
            "notice", f"3. A desktop notice, by OSC {kind}.", "Did a notice come up?",
            partial(_notify, kind), f"alarm.notice={kind}",
        )  # fmt: skip
    if alarm.command:
        yield AlarmTest(
            "command", "4. Your alarm command.", "Did it reach you?",
            lambda: _summon(alarm.command),
        )  # fmt: skip


def _summon(command: Sequence[str]) -> str | None:
    from benchtimer.tui.summons import summon

    return summon(command, MESSAGE)


def _ring() -> None:
    import time

    for _ in range(3):
        print("\a", end="", flush=True)
        time.sleep(0.4)


def _notify(kind: str) -> None:
    from benchtimer.sound.ways import notice

    print(notice(kind, MESSAGE, os.environ), end="", flush=True)


def _summary(alarm: AlarmSettings, reached: dict[str, bool]) -> int:
    print()
    for way, yes in reached.items():
        print(f"{way:<9} {'reaches you' if yes else 'does NOT reach you'}")
    if not alarm.command:
        print("command   none; benchtimer help phone has examples")
    if any(reached.values()):
        return YES
    print(
        "benchtimer: no alarm reaches you here. Turn the volume up, turn the terminal's bell on, "
        "or set a command of your own, then try again",
        file=sys.stderr,
    )
    return NO
