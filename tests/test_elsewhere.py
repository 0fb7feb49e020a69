"""Other systems: no signals, no POSIX modules, and commands that their shells accept."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.atomic_file import is_alive
from benchtimer.pasted import command_line
from benchtimer.store import lease
from benchtimer.store.lease import Lease, is_held
from benchtimer.tui.plain import knows_only_ascii

ROOT = Path(__file__).parents[1]


def test_a_bench_works_without_posix(tmp_path: Path) -> None:
    """Without fcntl, pwd, resource, os.kill and /proc a bench can be set up, worked and kept."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.elsewhere", str(tmp_path)],
        capture_output=True, text=True, check=False, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout == "worked\n"


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_types_hold_on_other_systems(platform: str, tmp_path: Path) -> None:
    """The type checker finds no error in the package for another platform."""
    pytest.importorskip("mypy", reason="mypy is not installed: types elsewhere were NOT checked")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--platform", platform, "--cache-dir", str(tmp_path),
         "benchtimer/store", "benchtimer/atomic_file.py", "benchtimer/clock.py",
         "benchtimer/settings.py", "benchtimer/sound", "benchtimer/tui/keyboard.py",
         "benchtimer/pasted.py"],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout


def test_the_lease_is_asked_without_a_signal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock shows whether a bench is driven, whatever process number a file names."""

    def never(*_: object) -> None:
        raise AssertionError("a signal was sent")

    monkeypatch.setattr(os, "kill", never)
    assert not is_held(tmp_path)
    held = Lease(tmp_path, 1)
    assert is_held(tmp_path)
    held.release()
    assert not is_held(tmp_path)
    (tmp_path / lease.FILE_NAME).write_text(f'{{"pid": {os.getpid()}, "since_wall_ms": 1}}')
    assert not is_held(tmp_path)


def test_asking_for_the_lease_blocks_nobody(tmp_path: Path) -> None:
    """Asking whether a bench is driven never blocks another process from opening it."""
    asks = (
        "import sys\nfrom pathlib import Path\nfrom benchtimer.store.lease import is_held\n"
        "print('asks', flush=True)\nwhile True:\n    is_held(Path(sys.argv[1]))\n"
    )
    Lease(tmp_path, 1).release()
    with subprocess.Popen(
        [sys.executable, "-c", asks, str(tmp_path)], stdout=subprocess.PIPE, cwd=ROOT
    ) as asker:
        assert asker.stdout is not None
        asker.stdout.readline()
        for _ in range(50):
            Lease(tmp_path, 1).release()
        asker.kill()


def test_a_process_that_cannot_be_probed_counts_as_alive(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A process that can't be queried counts as alive."""

    def refused(*_: object) -> None:
        raise OSError("not here")

    monkeypatch.setattr(os, "kill", refused)
    assert is_alive(4_000_000)


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["benchtimer", "restore", r"C:\shop\copy.db"], r"benchtimer restore C:\shop\copy.db"),
        ([r"C:\Program Files\b\benchtimer.exe", "--data", r"C:\my shop"],
         r'benchtimer --data "C:\my shop"'),
        (["benchtimer", "restore", "C:\\my shop\\"], 'benchtimer restore "C:\\my shop\\\\"'),
        (["benchtimer", "restore", "$100 `x`'s"], "benchtimer restore '$100 `x`''s'"),
        (["benchtimer", "restore", "a & b"], 'benchtimer restore "a & b"'),
        (["benchtimer", "restore", ""], 'benchtimer restore ""'),
    ],
)  # fmt: skip
def test_printed_commands_can_be_pasted_on_windows(words: list[str], line: str) -> None:
    """cmd and PowerShell read a printed command alike, and no name runs anything."""
    assert command_line(words, "win32") == line


@given(st.lists(st.text(st.characters(codec="ascii", exclude_categories=["Cc"])), min_size=1))
def test_printed_commands_can_be_pasted_into_a_shell(words: list[str]) -> None:
    """sh reads back exactly the printed words."""
    import shlex

    assert shlex.split(command_line(words, "linux")) == words


@given(st.text(st.characters(codec="ascii", exclude_categories=["Cc"]), max_size=30))
def test_no_name_escapes_its_quotes_on_windows(name: str) -> None:
    """Spaces and joining marks are always inside quotation marks."""
    line = command_line(["benchtimer", name], "win32").removeprefix("benchtimer ")
    if any(letter in name for letter in " &|<>^();%"):
        assert line[0] == line[-1]
        assert line[0] in "\"'"


@pytest.mark.parametrize(
    ("platform", "environ", "ascii_only"),
    [
        ("win32", {}, False), ("darwin", {}, False), ("linux", {}, True),
        ("darwin", {"LC_CTYPE": "UTF-8"}, False), ("linux", {"LC_CTYPE": "UTF-8"}, True),
        ("darwin", {"LC_ALL": "C"}, True), ("win32", {"LC_ALL": "POSIX"}, True),
        ("darwin", {"LANG": "en_US.UTF-8"}, False),
    ],
)  # fmt: skip
def test_utf_8_terminals_are_recognized(
    platform: str, environ: dict[str, str], ascii_only: bool
) -> None:
    """Without a locale, Windows consoles and macOS terminals show UTF-8."""
    assert knows_only_ascii(environ, platform) is ascii_only
