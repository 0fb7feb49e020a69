"""Bursts of input, short form; ``python -m tests.faults keys`` is the long form."""

from __future__ import annotations

import os
import signal
import time
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.clock import SystemClock
from benchtimer.store.place import data_folder
from tests.faults import keys
from tests.faults.keys import STAY, Changed, press
from tests.terminal import Terminal

# The terminal forks before it becomes the program and uses no thread of the parent in between.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
RUN = ["run", "hot-black", "bolster", "ferrule"]


def _open(home: Path, kind: type[Terminal] = Terminal, height: int = 24) -> Terminal:
    terminal = kind([*RUN, "--data", str(home / "data")], home, height=height)
    terminal.wait("SPACE")
    terminal.settle(0.3)
    return terminal


def _presses(home: Path) -> int:
    """Presses in the log."""
    with closing(look_on(data_folder(home / "data", 1), SystemClock())) as watcher:
        return watcher.state(watcher.names[0]).presses


FAULT = """
from benchtimer.tui.board_screen import BoardScreen
def fails(board):
    raise RuntimeError("two\\nlines")
BoardScreen.action_glance = fails
"""
"""A fault of the program on the key G."""


class _Faulty(Changed):
    before = FAULT


class _FaultyStaying(Changed):
    before = f"{STAY}\n{FAULT}"


def test_bursts_of_input_never_end_the_program() -> None:
    """Bursts of keys, taps, pastes and sizes never end the program, even while it is stopped."""
    tally = press(1_500, 1)
    assert (tally.lost, tally.first) == (0, "")
    assert tally.tried >= 1_500


def test_a_key_that_ends_the_program_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The campaign counts a key that makes the screen fail."""
    monkeypatch.setattr(keys, "ENOUGH", 1)
    tally = press(30_000, 6, _FaultyStaying)  # it stops at the first, soon with this seed
    assert tally.lost > 0
    assert "the screen closed because of a bug (RuntimeError: two" in tally.first


@pytest.mark.parametrize("typed", ["g", "g" + 30 * "\x03"])
def test_a_fault_closes_the_screen_with_one_line(tmp_path: Path, typed: str) -> None:
    """The exit code is 1, and one line says what failed and where, without a traceback.

    A CTRL+C that was meant for the screen comes too late to cut that off.
    """
    terminal = _open(tmp_path, _Faulty)
    terminal.send(typed)
    assert terminal.close() == 1
    left = terminal.output.decode().rpartition("\x1b[?1049l")[2]  # below the other screen
    found = [line for line in left.split("\r\n") if "benchtimer: " in line]
    assert len(found) == 1
    assert "the screen closed because of a bug (RuntimeError: two, <string>:4)" in found[0]
    assert "Traceback" not in left
    assert "raise" not in left


BURSTS = {
    "three ENTERs in a note": ("tabc", "\r\r\r"),
    "a digit of the menu three times": ("m", "111"),
    "the way back of a menu": ("m", "\x1b[27u\x1b[27u\x1b[27u"),
    "the list of commands": ("", "pppp\r\r\r"),
    "a command chosen three times": ("p", "\r\r\r"),
    "a page to read, left three times": ("?", "qqq"),
    "the pages of the manual at once": ("?m", "12345678\x1b[C\x1b[C888qqq"),
    "the manual left while it opens": ("?", "m1q2m3\x1b[27u\x1b[27u\x1b[27u"),
    "a row touched three times": ("hn", "\x1b[<0;10;9M\x1b[<0;10;9m" * 3),
    "a menu's row touched three times": ("m", "\x1b[<0;30;10M\x1b[<0;30;10m" * 3),
    "every page at once": ("", "mtfpjkldhic?" * 3),
    "bytes that are no text": ("", "\udcff\udcfe\udce0"),
    "a code with a number too large": ("", "\x1b[99999999999u"),
    "a size that can't be": ("", "\x1b[48;99999999;99999999;1;1t"),
}
"""Single keys, then the burst that waits when the program continues."""


@pytest.mark.parametrize("name", BURSTS)
def test_a_burst_after_the_program_was_stopped_is_harmless(tmp_path: Path, name: str) -> None:
    """After a stop with keys pressed meanwhile, the program still runs and draws."""
    opening, burst = BURSTS[name]
    terminal = _open(tmp_path)
    for key in opening:
        terminal.send(key)
        terminal.settle(0.3)
    os.kill(terminal.pid, signal.SIGSTOP)
    terminal.pour(burst.encode("utf-8", "surrogateescape"), 0)
    os.kill(terminal.pid, signal.SIGCONT)
    terminal.drain(0.5)
    assert terminal.ended() is None
    terminal.set_size(100, 30)
    assert terminal.drain(2) > 200
    terminal.kill()


def test_a_paste_of_any_bytes_on_the_board_does_nothing(tmp_path: Path) -> None:
    """100 KB of escape codes, zeros and keys press nothing, and the board continues."""
    terminal = _open(tmp_path)
    pieces = ("\x1b[31mred\x1b[0m", "\x00", "\x1b[A", "\x1b", "q", " ", "\x11", "\x1b[<0;9;2M")
    text = "".join(Random(1).choices(pieces, k=30_000))[:100_000]
    assert terminal.pour(f"\x1b[200~{text}\x1b[201~".encode())
    terminal.drain(1)
    assert terminal.ended() is None
    assert _presses(tmp_path) == 0
    terminal.send("?")
    terminal.wait("Keys")
    terminal.kill()


def test_a_press_every_04_s_counts_and_a_held_key_counts_once(tmp_path: Path) -> None:
    """SPACE held down confirms one page, however long; pressed steadily it confirms each."""
    terminal = _open(tmp_path, height=60)
    terminal.send(" ")
    time.sleep(0.5)
    for _ in range(45):
        terminal.send(" ")
        terminal.drain(1 / 30)
    terminal.drain(0.5)
    assert _presses(tmp_path) == 1
    time.sleep(1)
    for _ in range(5):
        terminal.send(" ")
        terminal.drain(0.4)
    terminal.drain(0.5)
    assert _presses(tmp_path) >= 4
    terminal.kill()


@pytest.mark.parametrize("stop", [signal.SIGSTOP, signal.SIGTSTP])
def test_stopping_leaves_one_reader_of_keys(tmp_path: Path, stop: signal.Signals) -> None:
    """After three stops no extra thread is left, and the keys work."""
    terminal = _open(tmp_path)
    terminal.drain(3)  # by now the threads that load pages and plan are running
    tasks = Path(f"/proc/{terminal.pid}/task")
    before = len(list(tasks.iterdir()))
    for _ in range(3):
        os.kill(terminal.pid, stop)
        terminal.drain(0.3)
        os.kill(terminal.pid, signal.SIGCONT)
        terminal.drain(0.5)
    assert len(list(tasks.iterdir())) <= before
    terminal.send("?")
    terminal.wait("Keys")
    terminal.send("\x1b")
    terminal.settle(0.5)
    terminal.send("q")
    assert terminal.close() == 0
