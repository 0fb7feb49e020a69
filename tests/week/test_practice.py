"""Practice of the wax in a real terminal, killed in the middle, with a watcher."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import pytest

from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import SystemClock
from benchtimer.store.place import data_folder
from tests.terminal import Terminal
from tests.week.acts import Act, Die, Keys, Wait
from tests.week.eyes import Sight, Unreadable, look
from tests.week.maker import Maker
from tests.week.story import read_story

SPEED = 1000
RUN = ["run", "hot-wax", "hunting knife", "--about", "hunting knife.temper=200 C"]
PRACTICE = ["--speed", str(SPEED)]
GUARD_S = 0.42
"""A little longer than the guard against a second press."""

HABIT_S = 1.05
"""... and after a reading, which may be followed by a SPACE out of habit."""

ANSWER_S = 3.0
"""How long a press can take to show on a busy machine."""

SENT = {"space": " ", "enter": "\r", "escape": "\x1b", "tab": "\t"}
UNTIL_S = 120


def _practise(terminal: Terminal, maker: Maker) -> bool:
    """Do what the screen says until it ends or the machine fails; return whether it failed."""
    begun_ms = maker.story.moment_ms(maker.deed.at)
    until = time.monotonic() + UNTIL_S
    while time.monotonic() < until:
        sight = _seen(terminal)
        if not sight.text.strip():
            continue
        act = maker.acts(sight, begun_ms)
        if isinstance(act, Die):
            terminal.kill()
            return True
        if _done(terminal, act):
            return False
    raise AssertionError(f"no end to it:\n{terminal.text}")


def _done(terminal: Terminal, act: Act) -> bool:
    """Do one act; return whether it ended the program."""
    if isinstance(act, Wait):
        time.sleep(min(0.3, act.ms / 1000 / SPEED))
    elif isinstance(act, Keys):
        before = _told(terminal)
        terminal.send("".join(SENT.get(key, key) for key in act.keys))
        if act.keys == ("q",):
            return terminal.close() == 0
        time.sleep(HABIT_S if act.is_reading else GUARD_S)
        until = time.monotonic() + ANSWER_S
        while _told(terminal) == before and time.monotonic() < until:
            pass
    return False


def _seen(terminal: Terminal) -> Sight:
    """The screen once it is fully drawn, since half a letter can't be read."""
    until = time.monotonic() + ANSWER_S
    while True:
        try:
            return look(terminal.settle().split("\n"))
        except Unreadable:
            assert time.monotonic() < until, terminal.text


def _told(terminal: Terminal) -> tuple[object, ...]:
    """The lines that a press changes and time alone does not."""
    sight = _seen(terminal)
    return sight.verb, sight.number, sight.lines, sight.title, "MORE BELOW" in sight.text


def test_watching_fast_practice_lets_others_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At any practice speed a watcher pauses between looks and keeps no core busy."""
    drive(data_folder(tmp_path, 10_000), SystemClock(), speed=10_000).close()
    rests: list[float] = []

    def rest(seconds: float) -> None:
        rests.append(seconds)
        raise KeyboardInterrupt

    monkeypatch.setattr("benchtimer.cli.bench_command.time.sleep", rest)
    assert main(["watch", "--plain", "--speed", "10000", "--data", str(tmp_path)]) == 0
    assert rests == [0.05]


def test_a_practice_run_is_killed_and_continues(tmp_path: Path) -> None:
    """The screen's words alone bring the wax onto the blade, and every press is in the log."""
    story = read_story()
    [deed] = [deed for deed in story.deeds if deed.at == "Wednesday 08:30"]
    deed = deed.model_copy(update={"killed_when": "Wax on, thin, until it runs all over"})
    terminal = Terminal([*RUN, *PRACTICE], tmp_path)
    terminal.wait("SPACE")
    home = {**os.environ, "HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    watch = [sys.executable, "-m", "benchtimer", "watch", "--plain", *PRACTICE]
    with subprocess.Popen(watch, stdout=subprocess.PIPE, text=True, env=home) as beside:
        assert beside.stdout is not None
        try:
            heard = beside.stdout.readline()  # it watches before the first press
            maker = Maker(story, deed, Random(1))
            assert _practise(terminal, maker)
            maker.deed = deed.model_copy(update={"killed_when": ""})
            again = Terminal(PRACTICE, tmp_path)
            again.wait("PRACTICE")
            assert not _practise(again, maker)
        finally:  # whatever failed, stop the watcher
            beside.terminate()
        heard += beside.stdout.read()
    log = [sys.executable, "-m", "benchtimer", "record", "last", *PRACTICE]
    result = subprocess.run(log, capture_output=True, text=True, env=home, check=True).stdout
    assert "PRACTICE" in result
    assert "hunting knife: done, accepted (rating 4 of 5), sent back 2 times" in result
    assert result.count("reopened after") == 1
    for words in ("NEXT  START #1 hunting knife", "Heat gun, hot steel, hot wax", "complete"):
        assert words in heard
