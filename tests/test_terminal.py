"""The program as its user runs it: started, pressed, killed, reopened."""

from __future__ import annotations

import signal
import time
from functools import partial
from pathlib import Path

import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.clock import SystemClock
from benchtimer.run.run_state import RunState
from benchtimer.store.place import data_folder
from tests.support import SMALL
from tests.terminal import A_MOMENT_S, Terminal

RUN = ["run", "hot-black", "bolster", "ferrule", "butt cap", "--speed", "5"]
OPEN = ["--speed", "5"]


def _is_logged(home: Path, presses: int, _screen: str) -> bool:
    return _logged(home).presses == presses


GEAR = "FIRST AID: Caustic on skin or in eyes"
"""The first page of a run of hot salts."""
IN_CLEANER = "#1 bolster  CLEANER"
ANSWERS = {"2 or N no": "y", "Type ": "185 ", "E: not now": "e"}
"""What to press instead of SPACE when the screen asks for it."""


def _logged(home: Path) -> RunState:
    """The state in the log on the disk."""
    folder = home / ".local" / "share" / "benchtimer"
    watcher = look_on(data_folder(folder, 5), SystemClock(), speed=5)
    state = watcher.state(watcher.names[0])
    watcher.close()
    return state


def test_kill_9_between_any_two_presses_loses_nothing(tmp_path: Path) -> None:
    """Killed after any press and reopened, the program has every press, and time went on.

    The run goes from the first page of the setup to the bolster in the cleaner.
    """
    terminal = Terminal(RUN, tmp_path)
    terminal.wait("SPACE")
    number = 0
    while IN_CLEANER not in terminal.text:
        number += 1
        _press(terminal)
        terminal.wait(partial(_is_logged, tmp_path, number))
        terminal.kill()
        killed = _logged(tmp_path)
        assert killed.presses == number
        assert [p.number for p in killed.past] == list(range(1, number + 1))
        terminal = Terminal(OPEN, tmp_path)
        terminal.wait("X quiet")
        reopened = _logged(tmp_path)
        assert reopened.bench == killed.bench
        assert reopened.last_ms >= killed.last_ms
    assert number > 10
    assert "PRACTICE 5x" in terminal.text
    terminal.send("q")
    terminal.wait("1 part is in process. No alarms")
    time.sleep(A_MOMENT_S)
    terminal.send("q")
    assert terminal.close() == 0


def _press(terminal: Terminal) -> None:
    """One press for the log: an answer, a figure, or as many SPACEs as a long page needs."""
    keys = next((keys for asked, keys in ANSWERS.items() if asked in terminal.text), None)
    if keys is not None:
        terminal.send(keys)
    else:
        terminal.confirm()


def test_a_second_process_is_refused_and_may_watch(tmp_path: Path) -> None:
    """A second process is offered the read-only view, where no key changes anything."""
    first = Terminal(RUN, tmp_path)
    first.wait(GEAR)
    second = Terminal(OPEN, tmp_path, 60, 20)
    second.wait("Watch without changing anything?")
    assert f"process {first.pid}" in second.text.replace("\n", "")
    second.send("\n")
    second.wait("WATCHING")
    second.send(" um")
    first.confirm()
    second.wait("Mixing the salts")
    assert _logged(tmp_path).presses == 1
    second.send("q")
    assert second.close() == 0
    refused = Terminal(OPEN, tmp_path)
    refused.wait("Watch")
    refused.send("n\n")
    assert refused.close() == 3
    first.kill()


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGHUP])
def test_other_signals_lose_nothing(tmp_path: Path, ending: signal.Signals) -> None:
    """SIGTERM or a closed terminal leaves the log whole and the lease free."""
    terminal = Terminal(RUN, tmp_path)
    terminal.wait(GEAR)
    terminal.confirm()
    terminal.kill(ending)
    assert _logged(tmp_path).presses == 1
    again = Terminal(OPEN, tmp_path)
    again.wait("PRACTICE 5x")
    again.send("q")
    assert again.close() == 0


def test_the_bell_is_heard(tmp_path: Path) -> None:
    """When work falls due the terminal gets a bell."""
    recipe = tmp_path / "small.toml"
    recipe.write_text(SMALL, encoding="utf-8")
    terminal = Terminal(["run", str(recipe), "bolster", *OPEN], tmp_path)
    terminal.set_up()
    before = terminal.output.count(b"\x07")
    terminal.confirm()
    terminal.wait(lambda _: terminal.output.count(b"\x07") > before)
    terminal.kill()


def test_control_codes_in_a_name_are_refused(tmp_path: Path) -> None:
    """A part name with control codes never reaches the terminal."""
    terminal = Terminal(["run", "hot-black", "bad\x1b]0;name\x07"], tmp_path)
    terminal.wait("U+001B")
    assert terminal.close() == 1


def test_a_broken_settings_file_does_not_block_the_bench(tmp_path: Path) -> None:
    """With parts on the bench it opens despite bad settings, and says what is wrong."""
    terminal = Terminal(RUN, tmp_path)
    terminal.wait(GEAR)
    terminal.kill()
    settings = tmp_path / ".config" / "benchtimer" / "settings.toml"
    settings.parent.mkdir(parents=True)
    settings.write_text("hands = 'many'\n")
    again = Terminal(OPEN, tmp_path)
    again.wait("settings.toml")
    again.send("q")
    assert again.close() == 0
    refused = Terminal(RUN, tmp_path)
    refused.wait("settings.toml")
    assert refused.close() == 1


def test_a_terminal_left_by_a_kill_is_restored(tmp_path: Path) -> None:
    """After a kill the next start resets mouse and screen, and leaving says what still runs."""
    killed = Terminal(["timer", "glue", "24h"], tmp_path)
    killed.wait("glue")
    killed.kill()
    again = Terminal([], tmp_path)
    again.wait("glue")
    first, second = again.output.index(b"\x1b[?1003l"), again.output.index(b"\x1b[?1049h")
    assert first < second
    again.send("q")
    again.wait("1 part is in process. No alarms")
    time.sleep(A_MOMENT_S)
    again.send("q")
    assert again.close() == 0
    assert b"without alarms, while benchtimer is closed" in again.output
