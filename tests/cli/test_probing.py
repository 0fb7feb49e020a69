"""``bath read PLACE --follow`` with real pipes, next to a running bench."""

from __future__ import annotations

import os
import pty
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchtimer import guide
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import SystemClock
from benchtimer.run.events import ProbeRead
from tests.faults.bench_work import NEW


@pytest.fixture(name="driver")
def _driver(tmp_path: Path) -> Iterator[OpenBench]:
    """A bench that this process drives."""
    driver = drive(tmp_path / "data", SystemClock())
    driver.set_up(NEW)
    yield driver
    driver.close()


def _follow(folder: Path, *words: str, place: str = "tank") -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "benchtimer", "bath", "read", place, "--follow", *words,
         "--data", str(folder / "data")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "BENCHTIMER_CONFIG": str(folder / "config")},
    )  # fmt: skip


def _read(driver: OpenBench) -> list[ProbeRead]:
    events = [entry.event for entry in driver._log.entries(driver.names[0])]
    return [event for event in events if isinstance(event, ProbeRead)]


def _until(driver: OpenBench, good: Callable[[], bool], seconds: float = 20) -> None:
    end = time.monotonic() + seconds
    while not good():
        assert time.monotonic() < end
        driver.writer.notice_clock()
        time.sleep(0.05)


def _place(driver: OpenBench) -> str:
    bench = driver.state(driver.names[0]).bench
    return next(name for name, place in bench.places.items() if place.station.temperature)


def test_a_pipe_feeds_the_bench(tmp_path: Path, driver: OpenBench) -> None:
    """A program's output becomes a reading with the probe's name; nonsense gets a message."""
    place = _place(driver)
    process = _follow(tmp_path, "--unit", "F", "--probe", "thermocouple 1", place=place)
    assert process.stdin is not None
    process.stdin.write("ERR\n290.4\n")
    process.stdin.flush()
    _until(driver, lambda: bool(_read(driver)))
    (event,) = _read(driver)
    assert (event.reading, event.probe) == ("290.4 F", "thermocouple 1")
    process.stdin.write("12 C\n")
    process.stdin.flush()
    _until(driver, lambda: len(_read(driver)) == 2)
    _, said = process.communicate(timeout=15)
    assert process.returncode == 0
    assert '"ERR" is not a reading' in said
    assert "thermocouple 1: reading received" in said
    driver.writer.notice_clock()
    assert not list(driver.writer.probes.troubles)


def test_input_that_ends_at_once_is_accepted(tmp_path: Path, driver: OpenBench) -> None:
    """A single reading from a script waits for a bench that checks once a second."""
    end = time.monotonic() + 20
    with _follow(tmp_path, "--unit", "F", "--probe", "script", place=_place(driver)) as process:
        assert process.stdin is not None
        process.stdin.write("289\n")
        process.stdin.close()
        while process.poll() is None and time.monotonic() < end:
            time.sleep(1.0)
            driver.writer.notice_clock()
    assert process.returncode == 0
    assert [event.reading for event in _read(driver)] == ["289 F"]


def test_a_killed_probe_counts_as_silent(
    tmp_path: Path, driver: OpenBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program that dies sends nothing more, and the bench notices."""
    monkeypatch.setattr("benchtimer.bench.probes.SILENT_S", 0.5)
    monkeypatch.setattr("benchtimer.bench.probes.SILENT_TIMES", 0.1)
    process = _follow(tmp_path, "--simulate", "290 F", "--every", "0.2", place=_place(driver))
    _until(driver, lambda: bool(_read(driver)))
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=10)
    _until(driver, lambda: any("been silent" in text for text in driver.writer.probes.troubles))


def test_a_simulated_probe_swings_around_its_point(tmp_path: Path, driver: OpenBench) -> None:
    """It reads near the requested value, with variation, and CTRL-C ends it cleanly."""
    place = _place(driver)
    process = _follow(tmp_path, "--simulate", "290 F", "--every", "0.1", place=place)
    values: set[str] = set()

    def seen() -> bool:
        values.update(known.reading.value for known in driver.writer.probes._known.values())
        return len(values) >= 4

    _until(driver, seen)
    assert all(285 < float(value.split()[0]) < 295 for value in values)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=10)
    assert process.returncode == 0
    driver.writer.notice_clock()
    assert not driver.writer.probes._known


def test_without_an_open_bench_it_asks_whether_one_is_open(tmp_path: Path) -> None:
    """The program warns if no bench takes its readings."""
    process = _follow(tmp_path)
    _, said = process.communicate("65\n" * 6, timeout=20)
    assert "no bench has taken a reading yet" in said


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["bath", "read", "tank"], "say what it reads"),
        (["bath", "read", "tank", "--follow", "--simulate", "warm"], "--simulate warm"),
        (["bath", "read", "a\x1bb", "--follow", "--simulate", "65 C"], "character"),
    ],
)
def test_an_unreadable_input_is_refused(
    tmp_path: Path, words: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One message, and no file is made."""
    assert main([*words, "--data", str(tmp_path / "data")]) == 2
    assert expected in capsys.readouterr().err
    assert not (tmp_path / "data" / "probes").exists()


def test_the_printed_serial_script_reads_a_port(tmp_path: Path) -> None:
    """The script of the manual, with a pseudo-terminal in the place of the port.

    The package for serial ports is the maker's own choice. A stand-in with the one call that the
    script makes opens the pseudo-terminal here.
    """
    page = guide.page("thermometer")
    (script,) = re.findall(
        r"((?:^    .*\n|^\n)+)", page[page.index("    import serial") :], re.MULTILINE
    )[:1]
    text = re.sub(r"^    ", "", script, flags=re.MULTILINE)
    main_end, port = pty.openpty()
    (tmp_path / "probe.py").write_text(text.replace("/dev/ttyUSB0", os.ttyname(port)))
    (tmp_path / "serial.py").write_text(
        "class Serial:\n"
        "    def __init__(self, port, baud, timeout): self.file = open(port, 'rb', buffering=0)\n"
        "    def __enter__(self): return self.file\n"
        "    def __exit__(self, *_): self.file.close()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "probe.py"], cwd=tmp_path, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    assert process.stdout is not None
    os.write(main_end, b"290.4\n291.0\n")
    assert [process.stdout.readline().strip() for _ in range(2)] == ["290.4", "291.0"]
    process.kill()
    process.communicate()
    os.close(main_end)
    os.close(port)
