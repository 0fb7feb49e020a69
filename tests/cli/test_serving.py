"""``watch --serve`` as typed: a separate process that shows the bench until CTRL-C."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.cli.bench_command import open_practice
from benchtimer.clock import SystemClock
from benchtimer.run import commands as c
from benchtimer.store.place import data_folder
from tests.faults.bench_work import NEW

WITH_QR = importlib.util.find_spec("segno") is not None


@pytest.fixture(name="driver")
def _driver(tmp_path: Path) -> OpenBench:
    """A bench that is driven by this process."""
    driver = drive(tmp_path / "data", SystemClock())
    driver.set_up(NEW)
    return driver


def _start(folder: Path, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "benchtimer", "watch", "--data", str(folder), *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
        env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip


def _address(process: subprocess.Popen[str]) -> tuple[str, list[str]]:
    """The address that it prints, and what comes before."""
    assert process.stdout is not None
    before: list[str] = []
    for line in process.stdout:
        if line.startswith("http"):
            return line.strip(), before
        before.append(line.rstrip("\n"))
    raise AssertionError("no address was printed")


def _fetch(address: str) -> str:
    with urllib.request.urlopen(address, timeout=10) as answer:  # noqa: S310 - our own server
        found: bytes = answer.read()
    return found.decode()


def test_the_bench_is_shown_while_another_process_drives_it(
    tmp_path: Path, driver: OpenBench
) -> None:
    """The address has a random key; presses show up; CTRL-C ends it with exit code 0."""
    process = _start(tmp_path / "data", "--serve", "127.0.0.1:0")
    try:
        address, code = _address(process)
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/[\w-]{16}/", address)
        assert bool(code) is WITH_QR
        assert "bolster" in _fetch(address)
        driver.press(driver.names[0], c.AddPart("added pin", "small"))
        end = time.monotonic() + 10
        while "added pin" not in _fetch(address):
            assert time.monotonic() < end
            time.sleep(0.1)
    finally:
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=15)
        driver.close()
    assert process.returncode == 0
    assert "but change nothing" in said
    assert ("pip install" in said) is not WITH_QR


def test_each_start_has_a_new_key(tmp_path: Path, driver: OpenBench) -> None:
    """An old address doesn't work the next time."""
    keys = set()
    for _ in range(2):
        process = _start(tmp_path / "data", "--serve", "127.0.0.1:0")
        keys.add(_address(process)[0].split("/")[3])
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=15)
    driver.close()
    assert len(keys) == 2


@pytest.mark.skipif(not WITH_QR, reason="segno is not installed: the QR code was NOT tried")
@pytest.mark.skipif(shutil.which("zbarimg") is None, reason="zbarimg is not installed: not read")
def test_another_program_reads_the_qr_code(tmp_path: Path) -> None:
    """A barcode reader finds the address in the code as drawn on the terminal."""
    from benchtimer.serve.qr import qr_lines

    address = "http://192.168.1.20:8765/4CtLk_5bRr1Eusa9/"
    lines = qr_lines(address)
    assert lines is not None
    assert len({len(line) for line in lines}) == 1
    assert max(map(len, lines)) < 60  # the narrowest screen
    scale, rows = 8, []
    for line in lines:
        for half in ("▀█", "▄█"):
            row = b"".join((b"\xff" if letter in half else b"\x00") * scale for letter in line)
            rows += [row] * scale
    width = len(lines[0]) * scale
    picture = tmp_path / "code.pgm"
    picture.write_bytes(b"P5 %d %d 255\n" % (width, len(rows)) + b"".join(rows))
    done = subprocess.run(
        ["zbarimg", "--quiet", "--raw", str(picture)], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == address


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("shop.example", "is not an address of this computer"),
        ("127.0.0.1:x", "is not a port"),
        ("203.0.113.7:0", "203.0.113.7"),
    ],
)
def test_an_impossible_address_is_refused(
    tmp_path: Path,
    driver: OpenBench,
    address: str,
    expected: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """An impossible address gets one clear message, and nothing listens."""
    code = main(["watch", "--data", str(tmp_path / "data"), "--serve", address])
    driver.close()
    assert code in (1, 2)
    assert expected in capsys.readouterr().err


def test_an_address_in_use_is_reported(
    tmp_path: Path, driver: OpenBench, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second server on one port is refused."""
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        address = f"127.0.0.1:{taken.getsockname()[1]}"
        assert main(["watch", "--data", str(tmp_path / "data"), "--serve", address]) == 1
    driver.close()
    assert "in use" in capsys.readouterr().err.lower()


def test_watch_shows_the_only_open_practice(tmp_path: Path) -> None:
    """With only a practice bench open, watch runs on its clock; the shop's own bench goes first."""
    assert open_practice(tmp_path) is None
    practice = drive(data_folder(tmp_path, 10), SystemClock(), speed=10)
    assert open_practice(tmp_path) == 10
    own = drive(tmp_path, SystemClock())
    assert open_practice(tmp_path) is None
    own.close()
    practice.close()
    assert open_practice(tmp_path) is None
