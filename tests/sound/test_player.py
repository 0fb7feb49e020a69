"""The player gets a real sound: a recorder keeps the file, and the test reads its spectrum."""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

import pytest

from benchtimer.sound.player import BAND_HZ, PLAYERS, Player
from tests.sound.spectrum import share_between, sound_file

RECORDER = """#!{python}
import shutil, sys
shutil.copy(sys.argv[-1], {folder!r} + "/heard-" + sys.argv[-1].rpartition("/")[2])
open({folder!r} + "/called", "a").write(" ".join(sys.argv[1:-1]) + "\\n")
"""


def _install(folder: Path, name: str, text: str) -> None:
    path = folder / name
    path.write_text(text)
    path.chmod(0o755)


@pytest.fixture(name="path")
def _path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is the whole search path."""
    monkeypatch.setenv("PATH", str(tmp_path))
    return tmp_path


def _recorder(folder: Path) -> str:
    return RECORDER.format(python=sys.executable, folder=str(folder))


@pytest.mark.parametrize(
    ("platform", "name"), [(p, words[0]) for p, all_ in PLAYERS.items() for words in all_]
)
def test_every_player_gets_both_tones(path: Path, platform: str, name: str) -> None:
    """Each known player is found by its name and gets a WAV file in the band."""
    _install(path, name, _recorder(path))
    player = Player(platform)
    assert player.words is not None
    assert player.words[0] == name
    assert player.play(overdue=False) is None
    assert player.play(overdue=True) is None
    player.close()
    for tone in ("due", "overdue"):
        assert share_between(*sound_file(path / f"heard-{tone}.wav"), *BAND_HZ) > 0.99


def test_the_files_are_removed_afterwards(path: Path) -> None:
    """Closing leaves no temporary file."""
    _install(path, "aplay", f'#!/bin/sh\n/bin/echo "$2" > {path}/where\n')
    player = Player("linux")
    assert player.play(overdue=False) is None
    file = Path((path / "where").read_text().strip())
    assert file.is_file()
    player.close()
    assert not file.parent.exists()


def test_without_a_player_it_says_what_to_install(path: Path) -> None:
    """Without a player there is a message, not an error."""
    assert path.is_dir()
    outcome = Player("linux").play(overdue=True)
    assert (
        outcome == "The tone can't be played: no player for the tone. "
        "Install one of pw-play, paplay, aplay"
    )
    assert Player("linux").words is None


def test_a_player_that_fails_says_why(path: Path) -> None:
    """The message has the exit code and the first line of output, without control codes."""
    _install(path, "paplay", "#!/bin/sh\nprintf 'no sink\\033[2J\\nmore\\n' >&2\nexit 4\n")
    player = Player("linux")
    outcome = player.play(overdue=False)
    player.close()
    assert outcome == "The tone failed: paplay ended with 4 (no sink\N{REPLACEMENT CHARACTER}[2J)"


def test_a_player_that_hangs_is_stopped(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A player that hangs does not delay the next alarm."""
    _install(path, "aplay", "#!/bin/sh\nexec /bin/sleep 60\n")
    monkeypatch.setattr("benchtimer.sound.player.PATIENCE_S", 0.2)
    player = Player("linux")
    outcome = player.play(overdue=False)
    assert outcome is not None
    assert outcome.startswith("The tone was stopped: aplay took more than")
    player.close()


def test_one_tone_at_a_time(path: Path) -> None:
    """A call while a tone plays is skipped, and closing stops the tone."""
    _install(path, "aplay", f"#!/bin/sh\n/bin/echo x >> {path}/called\nexec /bin/sleep 5\n")
    player = Player("linux")
    found: list[str | None] = []
    thread = threading.Thread(target=lambda: found.append(player.play(overdue=True)))
    thread.start()
    end = time.monotonic() + 5
    while not (path / "called").exists() and time.monotonic() < end:
        time.sleep(0.01)
    assert player.play(overdue=True) is None
    player.close()
    thread.join(4)
    assert not thread.is_alive()
    assert (path / "called").read_text() == "x\n"
    assert found == [None]


def test_off_windows_its_player_says_there_is_none() -> None:
    """The Windows branch never plays on another system."""
    player = Player("win32")
    assert player.words == ("winsound",)
    if os.name != "nt":
        assert player.play(overdue=False) == "The tone can't be played: no player for the tone"
    player.close()
