"""Two ``benchtimer run`` processes take turns on one bench whose tank holds one part."""

from __future__ import annotations

import re
import time
from contextlib import closing
from pathlib import Path

from benchtimer.bench.open_bench import look_on
from benchtimer.clock import SystemClock
from benchtimer.run.run_state import Bench
from benchtimer.store.place import data_folder
from tests.support import SMALL
from tests.terminal import A_MOMENT_S, Terminal

SPEED = 30
TARGET_MS = 15 * 60_000
SLOW = SMALL.replace(
    'min = "4 min", target = "5 min", max = "8 min"',
    'min = "5 min", target = "15 min", max = "9 h"',
).replace('every = "10 min"', 'every = "9 h"')
"""A window wide enough for any slow machine."""

CALLED = re.compile(r"#1 pommel +TANK +NOW")
WITHIN_S = 60


def _press(terminal: Terminal, keys: str, then: str) -> None:
    time.sleep(A_MOMENT_S)
    terminal.send(keys)
    terminal.wait(then, WITHIN_S)


def _started(home: Path, part: str) -> Terminal:
    """A started run of one part; its setup is one page."""
    recipe = home / "small.toml"
    recipe.write_text(SLOW, encoding="utf-8")
    terminal = Terminal(["run", str(recipe), part, "--speed", str(SPEED)], home)
    terminal.wait("SPACE: I have read this", WITHIN_S)
    _press(terminal, " ", "SPACE starts the run")
    _press(terminal, " ", "U undoes: started")
    return terminal


def _leave(terminal: Terminal) -> None:
    terminal.send("q")
    terminal.wait("in process", WITHIN_S)
    time.sleep(A_MOMENT_S)
    terminal.send("q")
    assert terminal.close() == 0


def _benches(home: Path) -> tuple[list[str], list[Bench], int]:
    """The runs by name, their benches, and bench time, from the log on the disk."""
    folder = data_folder(home / ".local" / "share" / "benchtimer", SPEED)
    with closing(look_on(folder, SystemClock(), speed=SPEED)) as watcher:
        benches = [watcher.state(name).bench for name in watcher.names]
        return watcher.names, benches, watcher.stamp().noted_ms


def test_a_second_process_waits_for_the_tank_and_its_turn(tmp_path: Path) -> None:
    """The second part is refused with the reason, planned after the first, and then called."""
    first = _started(tmp_path, "pommel")
    first.wait("Type the reading in C", WITHIN_S)
    _press(first, "65", "SPACE as you start #1 pommel")  # a figure in range needs no more keys
    time.sleep(1)  # a SPACE right after the figure would do nothing
    _press(first, " ", "SPACE: #1 pommel is in Tank")
    _press(first, " ", "U undoes: #1 pommel into Tank")
    _leave(first)

    second = _started(tmp_path, "guard")
    second.wait("not started: #2 guard START", WITHIN_S)
    names, _, _ = _benches(tmp_path)
    _press(second, "2", f"WAIT: Tank is full: pommel of run {names[0]}")
    _press(second, "e", "SPACE: #2 guard is done")
    _press(second, " ", "began: Dip")
    _press(second, "e", f"Tank holds 1: pommel of run {names[0]}")
    assert f"Pull pommel of run {names[0]} first." in " ".join(second.text.split())
    _press(second, "u", "U undoes: #2 guard: began: Prepare")
    _press(second, "u", "U undoes: started")

    second.wait(lambda text: bool(CALLED.search(text)), WITHIN_S)
    _, (bench, _), now_ms = _benches(tmp_path)
    assert now_ms - bench.parts["pommel"].since_ms >= TARGET_MS - SPEED * 1000
    _press(second, " ", "Is it even?")
    _press(second, "y", "How warm is it?")
    _press(second, "25", "25_")
    _press(second, " ", "SPACE: #1 pommel is in Rack")
    _press(second, " ", "SPACE as you start #2 guard")
    _press(second, " ", "SPACE: #2 guard is in Tank")
    _press(second, " ", "U undoes: #2 guard into Tank")
    _, (hung, dipped), _ = _benches(tmp_path)
    assert (hung.parts["pommel"].station, dipped.parts["guard"].station) == ("rack", "tank")
    _leave(second)
