"""The computer is kept awake while parts are in process, and never after that."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from benchtimer.cli.settingfile import DEFAULT
from benchtimer.cli.settingkeys import choices_of, with_key
from benchtimer.settings import SettingsError, parse_settings
from benchtimer.tui.app import BenchApp
from benchtimer.tui.awake import HELPERS, MAY_SLEEP, Awake
from tests.support import READY
from tests.tui.conftest import Shop

FAKE = """#!/bin/sh
echo "$$ $*" >> "{calls_file}"
trap '' TERM
for last; do :; done
exec "$last"
"""
"""Records its call, then runs the given command."""


def _until(good: Callable[[], bool], seconds: float = 10) -> bool:
    end = time.monotonic() + seconds
    while not good() and time.monotonic() < end:
        time.sleep(0.02)
    return good()


def _runs(pid: int) -> bool:
    """Whether a process runs; one that has ended but was not reaped does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.fixture(name="calls_file", params=sorted(HELPERS))
def _calls_file(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """Put a fake system helper first on the path; returns the file it writes to."""
    calls_file = tmp_path / "calls"
    program = tmp_path / HELPERS[request.param][0]
    program.write_text(FAKE.format(calls_file=calls_file))
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setattr(sys, "platform", request.param)
    return calls_file


def _calls(calls_file: Path) -> list[list[str]]:
    return (
        [line.split() for line in calls_file.read_text().splitlines()]
        if calls_file.exists()
        else []
    )


def test_one_helper_runs_while_it_is_wanted(calls_file: Path) -> None:
    """The helper starts once, ends when it is no longer wanted, and can start again."""
    awake = Awake(sys.platform)
    for _ in range(3):
        awake.want(True)
    assert _until(lambda: len(_calls(calls_file)) == 1)
    first = int(_calls(calls_file)[0][0])
    assert _runs(first)
    assert awake.mark == ""
    awake.want(False)
    assert not _runs(first)
    awake.want(True)
    assert _until(lambda: len(_calls(calls_file)) == 2)
    awake.close()
    assert not _runs(int(_calls(calls_file)[1][0]))


def test_a_killed_program_leaves_no_helper(calls_file: Path) -> None:
    """The helper ends with the program, because it holds a pipe of it."""
    code = (
        "import sys, time\nfrom benchtimer.tui.awake import Awake\n"
        f"awake = Awake({sys.platform!r})\nawake.want(True)\n"
        "print('on', flush=True)\ntime.sleep(60)"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, env=environment
    ) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == b"on\n"
        assert _until(lambda: bool(_calls(calls_file)))
        helper = int(_calls(calls_file)[0][0])
        assert _runs(helper)
        program.send_signal(signal.SIGKILL)
        program.wait()
        assert _until(lambda: not _runs(helper))


def test_a_refused_helper_is_reported(calls_file: Path) -> None:
    """When the system refuses to stay awake, the screen says that it may sleep."""
    (calls_file.parent / HELPERS[sys.platform][0]).write_text("#!/bin/sh\nexit 1\n")
    awake = Awake(sys.platform)
    awake.want(True)

    def is_said() -> bool:
        awake.want(True)
        return awake.mark == MAY_SLEEP

    assert _until(is_said)
    awake.want(False)
    assert awake.mark == ""


@pytest.mark.parametrize("platform", ["linux", "sunos5"])
def test_where_it_is_impossible_a_message_says_so(
    platform: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A missing helper and an unknown system each give a message."""
    monkeypatch.setenv("PATH", str(tmp_path))
    awake = Awake(platform)
    assert awake.mark == ""
    awake.want(True)
    assert awake.mark == MAY_SLEEP
    awake.close()
    assert awake.mark == ""


async def test_the_first_line_says_that_the_computer_may_sleep(shop: Shop) -> None:
    """The warning shows only while a part is in process and the computer can sleep."""
    shop.set_up("bolster", started=False)
    for command in READY:
        shop.press(command)
    app = BenchApp(shop.driver, shop.name, guard_s=0, awake=Awake("sunos5"))
    async with app.run_test(size=(80, 24)):
        app._keep_awake()
        assert MAY_SLEEP not in app.marks
        shop.to_tank("bolster")
        app._keep_awake()
        assert MAY_SLEEP in app.marks


def test_the_setting_is_true_or_false() -> None:
    """The setting accepts only true or false, and its default is true."""
    assert parse_settings("", "x").keep_awake
    assert not parse_settings("keep_awake = false", "x").keep_awake
    with pytest.raises(SettingsError, match="keep_awake"):
        parse_settings('keep_awake = "no"', "x")
    assert not parse_settings(with_key(DEFAULT, "keep_awake", "false", "x"), "x").keep_awake
    assert choices_of("keep_awake") == ("true", "false")
