"""``settings alarm``: every way is played at a real terminal, and the answers are saved."""

from __future__ import annotations

import json
import sys
from functools import partial
from pathlib import Path

import pytest

from benchtimer.cli import main
from benchtimer.sound.ways import note_heard, read_heard
from tests.sound.spectrum import share_between, sound_file
from tests.terminal import Terminal


@pytest.fixture(name="home")
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Separate settings and data."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    return tmp_path


def _terminal(home: Path, **more: str) -> Terminal:
    found = {
        "BENCHTIMER_CONFIG": str(home / "config"),
        "BENCHTIMER_DATA": str(home / "data"),
        "PATH": str(home),
        **more,
    }
    return Terminal(["settings", "alarm", "--try"], home, height=40, environment=found)


def _asked(times: int, text: str) -> bool:
    return text.count("to play it again]") == times


def _recorder(home: Path) -> None:
    play = home / "paplay"
    play.write_text(f'#!/bin/sh\nfor last; do :; done\n/bin/cp "$last" {home}/\n')
    play.chmod(0o755)


def test_every_alarm_is_tried_and_the_answers_are_saved(home: Path) -> None:
    """Bell bytes, both tones, the notice you saw, the command: each with its question."""
    _recorder(home)
    called = home / "called"
    (home / "config").mkdir(mode=0o700)
    (home / "config" / "settings.toml").write_text(
        f'[alarm]\ncommand = ["/bin/sh", "-c", "echo \\"$0\\" > {called}"]\n'
    )
    terminal = _terminal(home)
    terminal.wait("Did you hear it?", 20)
    assert terminal.output.count(b"\a") == 3
    terminal.send("n\n")
    terminal.wait(lambda text: text.count("Did you hear it?") == 2, 20)
    terminal.send("a\n")
    terminal.wait(lambda text: text.count("Did you hear it?") == 3, 20)
    terminal.send("y\n")
    terminal.wait("by OSC 9.")
    terminal.wait("Did a notice come up?")
    assert b"\x1b]9;TEST ALARM: " in terminal.output
    terminal.send("n\n")
    terminal.wait("by OSC 777.")
    terminal.settle(0.2)
    assert b"\x1b]777;notify;benchtimer;TEST ALARM: " in terminal.output
    terminal.send("maybe\n")
    terminal.wait("Answer y, n or a")
    terminal.send("y\n")
    terminal.wait("Did it reach you?")
    terminal.send("y\n")
    assert terminal.close() == 0
    assert "OSC 99" not in terminal.text  # one working kind is enough
    assert "bell      does NOT reach you" in terminal.text
    assert called.read_text() == "TEST ALARM: nothing to do\n"
    for name in ("due", "overdue"):
        assert share_between(*sound_file(home / f"{name}.wav"), 500, 2500) > 0.99
    tried = read_heard(home / "data").tried
    assert {way: reached for way, (_, reached) in tried.items()} == {
        "bell": False, "tone": True, "notice": True, "command": True,
    }  # fmt: skip
    assert 'notice = "777"' in (home / "config" / "settings.toml").read_text()


def test_the_exit_code_is_no_when_you_hear_nothing(home: Path) -> None:
    """Without a player the tone is not asked about; exit code 1 says that no alarm was heard."""
    terminal = _terminal(home)
    terminal.wait("Did you hear it?", 20)
    for count in range(4):
        terminal.wait(partial(_asked, count + 1), 20)
        terminal.send("n\n")
    assert terminal.close() == 1
    assert "no player for the tone" in terminal.text
    assert "no alarm reaches you here" in terminal.text
    assert not (home / "config" / "settings.toml").exists()


def test_the_alarms_are_listed(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The list has each way with its source and whether you heard it, as text and as JSON."""
    note_heard(home / "data", "tone", reached=True, on="2026-11-27")
    note_heard(home / "data", "bell", reached=False, on="2026-11-27")
    assert main(["settings", "alarm"]) == 0
    found = capsys.readouterr().out.splitlines()
    assert found[1].split() == [
        "bell",
        "on",
        "NOT",
        "HEARD",
        "2026-11-27",
        "the",
        "terminal's",
        "bell",
    ]
    assert "heard 2026-11-27" in found[2]
    assert "off  never tried here" in found[3]
    assert main(["settings", "alarm", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert [(row["way"], row["on"], row["reached"]) for row in rows] == [
        ("call", True, False), ("bell", True, False), ("tone", True, True),
        ("notice", False, False), ("command", False, False),
    ]  # fmt: skip


@pytest.mark.parametrize("words", [["--try"], ["alarm", "--set", "hands=2"]])
def test_conflicting_options_are_refused(
    home: Path, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is changed, and the message says what is possible."""
    with pytest.raises(SystemExit, match="2"):
        main(["settings", *words])
    assert "there is no option" in capsys.readouterr().err
    assert not (home / "config").exists()


def test_trying_needs_a_terminal(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a pipe no one can answer, so nothing is played."""
    del home
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False)
    assert main(["settings", "alarm", "--try"]) == 2


def test_settings_for_programs(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The settings in effect, including defaults of missing keys; nothing is created."""
    assert main(["settings", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["exists"] is False
    assert data["settings"]["alarm"] == {"command": [], "tone": True, "notice": "off"}
    assert not (home / "config").exists()
    assert main(["settings", "--set", "away=22:00-07:00", "--set", "bath.etchant.max_parts=4"]) == 0
    capsys.readouterr()
    assert main(["settings", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)["settings"]
    assert data["away"] == ["22:00-07:00"]
    assert data["bath"]["etchant"]["max_parts"] == 4
