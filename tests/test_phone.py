"""The alarm commands that the manual prints work as printed."""

from __future__ import annotations

import re
import shutil
import sys
import threading
import tomllib
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from benchtimer import guide
from benchtimer.settings import parse_settings
from benchtimer.tui.summons import summon

MESSAGE = "NOW: PULL 1 @butt cap; $(touch x) from \N{DEGREE SIGN} Tank"


def _blocks() -> list[str]:
    """The indented blocks of the page, without their indent."""
    page = guide.page("phone")
    found = re.findall(r"(?:^    .*\n(?:\n(?=    ))?)+", page, re.MULTILINE)
    return [re.sub(r"^    ", "", text, flags=re.MULTILINE) for text in found]


COMMANDS = [
    tomllib.loads(text)["alarm"]["command"] for text in _blocks() if text.startswith("[alarm]")
]
TONE, DESKTOP, PUSH, SCRIPT, WINDOWS = COMMANDS


def test_every_example_can_be_set() -> None:
    """Each example is a valid settings file."""
    for text in _blocks():
        if text.startswith("[alarm]"):
            assert parse_settings(text, "x").alarm.command


def _recorder(folder: Path, name: str) -> Path:
    """A program that writes each argument on its own line."""
    path = folder / name
    path.write_text(f'#!/bin/sh\nprintf "%s\\n" "$@" > {folder}/{name}.told\n')
    path.chmod(0o755)
    return folder / f"{name}.told"


@pytest.fixture(name="path")
def _path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that comes first on the path."""
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_tone_ignores_the_message(path: Path) -> None:
    """The player gets only the file, and no shell sees the message."""
    recorder = _recorder(path, "paplay")
    assert summon(TONE, MESSAGE) is None
    assert recorder.read_text() == "/home/me/alarm.wav\n"
    assert not (path / "x").exists()


def test_the_notice_has_a_title_and_the_message(path: Path) -> None:
    """The arguments are urgency, title and text, in this order."""
    recorder = _recorder(path, "notify-send")
    assert summon(DESKTOP, MESSAGE) is None
    assert recorder.read_text().splitlines() == ["--urgency=critical", "benchtimer", MESSAGE]


def test_the_script_keeps_the_message(path: Path) -> None:
    """The printed script writes the whole message to the file and runs nothing."""
    (script,) = (text for text in _blocks() if text.startswith("#!/bin/sh"))
    file = path / "alarm-note"
    file.write_text(script)
    file.chmod(0o755)
    assert SCRIPT == ["/home/me/bin/alarm-note"]
    assert summon([str(file)], MESSAGE) is None
    assert re.fullmatch(
        r"\d\d:\d\d  " + re.escape(MESSAGE) + "\n", (path / "alarms.txt").read_text()
    )
    assert not (path / "x").exists()


class _Listener(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        """Keep the body and send the given answer."""
        server = self.server
        assert isinstance(server, _Server)
        server.bodies.append(self.rfile.read(int(self.headers["Content-Length"])).decode())
        self.send_response(server.answer)
        self.end_headers()

    def log_message(self, *_words: object) -> None:
        """Log nothing."""


class _Server(HTTPServer):
    answer = 200

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Listener)
        self.bodies: list[str] = []


@pytest.fixture(name="server")
def _server() -> Iterator[_Server]:
    server = _Server()
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed: not tried")
@pytest.mark.parametrize(("answer", "trouble"), [(200, None), (404, "exit code 22")])
def test_the_push_arrives(server: _Server, answer: int, trouble: str | None) -> None:
    """A real curl posts the whole message, and a server error shows as a failure."""
    server.answer = answer
    address = f"http://127.0.0.1:{server.server_port}/shop"
    assert PUSH.count("http://192.168.1.20:8080/shop") == 1
    command = [address if word.startswith("http") else word for word in PUSH]
    summoned = summon(command, MESSAGE)
    assert server.bodies == [MESSAGE]
    assert summoned is None if trouble is None else trouble in str(summoned)


def test_the_windows_example_runs_a_file() -> None:
    """The example avoids -Command, because PowerShell would run the message."""
    assert WINDOWS[:3] == ["powershell", "-NoProfile", "-File"]
    assert sys.platform == "win32" or summon(WINDOWS, MESSAGE)
