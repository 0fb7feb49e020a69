"""The commands with unusable outputs, files and words."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.cli import main
from benchtimer.store.log import EventLog

FULL = Path("/dev/full")


def _run(
    *arguments: str, encoding: str = "utf-8", stdout: int | None = subprocess.PIPE
) -> tuple[int, bytes, str]:
    """Run the command in a new process: exit code, the bytes of stdout and stderr."""
    done = subprocess.run(
        [sys.executable, "-m", "benchtimer", *arguments],
        stdout=stdout,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        check=False,
        timeout=60,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )
    return done.returncode, done.stdout or b"", done.stderr.decode()


@pytest.fixture(autouse=True)
def _shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shop without settings."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))


@pytest.mark.parametrize("name", ["\udcff", "\x1b[31mred", "two\nlines", "x" * 5000, " "])
def test_a_name_that_could_disturb_the_screen_is_wrong_usage(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """A name with control codes is refused before anything is written."""
    with pytest.raises(SystemExit, match="2"):
        main(["--by", name, "bath", "mix", "brew 1", "--of", "Brew"])
    assert "--by" in capsys.readouterr().err
    assert not (tmp_path / "data").exists()


def test_a_login_name_with_control_codes_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The system's user name has to follow the same rule."""
    monkeypatch.setenv("LOGNAME", "\x1b[31mred")
    assert main(["bath", "mix", "brew 1", "--of", "Brew"]) == 0
    with closing(EventLog(tmp_path / "data", read_only=True)) as log:
        assert [entry.event.by for entry in log.entries_after(0)] == ["maker"]


@pytest.mark.parametrize(
    "option", [["--hands", "0001999"], ["--hands", "0"], ["--trials", "0100000999"]]
)
def test_a_number_is_read_whole(capsys: pytest.CaptureFixture[str], option: list[str]) -> None:
    """Leading zeros hide no number that is too large."""
    with pytest.raises(SystemExit, match="2"):
        main(["rehearse", "hot-black", "bolster", *option])
    assert f"{option[1]!r} is not a number of" in capsys.readouterr().err


@pytest.mark.parametrize(
    "command", [["plan", "--trials", "1.5"], ["plan", "--trials", "007000000"]]
)
def test_a_number_of_trials_is_whole(
    capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    """Half a trial is refused, not rounded."""
    with pytest.raises(SystemExit, match="2"):
        main([command[0], "hot-black", "bolster", *command[1:]])
    assert "is not a number of trials" in capsys.readouterr().err


def test_characters_the_output_cannot_show_are_escaped() -> None:
    """An ASCII output gets escapes, and JSON stays JSON."""
    name = "Lötbad 刃🔪"
    assert _run("bath", "mix", name, "--of", "Brew", encoding="ascii")[0] == 0
    code, out, err = _run("bath", "--json", encoding="ascii")
    assert (code, err) == (0, "")
    assert out.isascii()
    assert name in json.dumps(json.loads(out), ensure_ascii=False)
    code, _, err = _run("bath", "show", "刃", encoding="ascii")
    assert code == 1
    assert "\\u5203" in err


@pytest.mark.skipif(not FULL.exists(), reason="only Linux has a device that is always full")
@pytest.mark.parametrize("command", [["recipes"], ["schema"], ["--help"], ["--version"]])
def test_a_full_disk_on_output_is_one_message(command: list[str]) -> None:
    """If the output is full, one line says so and the exit code is 1."""
    with FULL.open("wb") as full:
        code, _, err = _run(*command, stdout=full.fileno())
    assert code == 1
    assert err.splitlines() == ["benchtimer: the output can't be written or read: "
                                "No space left on device"]  # fmt: skip


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_refused_as_recipe_and_as_settings(tmp_path: Path) -> None:
    """A pipe that no one writes to is refused, not waited for."""
    pipe = tmp_path / "config" / "settings.toml"
    pipe.parent.mkdir()
    os.mkfifo(pipe)
    for command in (["validate", str(pipe)], ["settings"]):
        code, out, err = _run(*command)
        assert code == 1
        assert "it is not a regular file" in out.decode() + err


@pytest.mark.parametrize("command", [["record"], ["bath"], ["bath", "mix", "b", "--of", "Brew"]])
def test_an_impossible_folder_name_gets_a_message(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    """A data folder whose name is too long is reported in one line, exit 3."""
    assert main(["--data", str(tmp_path / ("x" * 300)), *command]) == 3
    assert "name too long" in capsys.readouterr().err


def _closed(number: int, *arguments: str) -> tuple[int, str, str]:
    """The command started with one of its three streams closed: exit code, stdout, stderr."""
    command = f'exec "$0" -m benchtimer "$@" {number}>&-'
    done = subprocess.run(
        ["/bin/sh", "-c", command, sys.executable, *arguments],
        capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False, timeout=60,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


@pytest.mark.skipif(os.name != "posix", reason="a shell of another kind")
@pytest.mark.parametrize(
    "command",
    [["record"], ["recipes"], ["recipes", "hot-black"], ["schema"], ["record", "--words", "x"],
     ["settings"],
     ["bath", "mix", "brew 1", "--of", "Brew"], ["watch", "--plain"], ["--help"], ["export", "all",
     "out"]],
)  # fmt: skip
def test_a_closed_output_is_one_message(tmp_path: Path, command: list[str]) -> None:
    """With a closed output, nothing is done and one line says why."""
    code, _, found = _closed(1, *command)
    assert (code, found.count("\n")) == (1, 1)
    assert "output is closed" in found
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="a shell of another kind")
def test_messages_are_kept_out_of_results() -> None:
    """With stderr closed, messages are dropped, and the exit code remains."""
    assert _closed(2, "record") == (3, "", "")
    assert _closed(0, "settings")[0] == 0
