"""ESC or CTRL-C ends the planning, and the plan so far is kept."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Iterator

import pytest

from benchtimer.cli.stop_key import AGAIN_S, StopKey
from benchtimer.progress import listening

pty = pytest.importorskip("pty")


@pytest.fixture
def keyboard(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A terminal as standard input; its other end types."""
    typist, terminal = pty.openpty()
    with os.fdopen(terminal, "r") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        yield typist
    os.close(typist)


@pytest.mark.parametrize(("typed", "stops"), [(b"\x1b", True), (b"\x1b[A", False), (b"x", False)])
def test_escape_alone_stops(keyboard: int, typed: bytes, stops: bool) -> None:
    """ESC stops; a letter, or an arrow key that begins like ESC, does not."""
    with StopKey(10) as stop:
        assert not stop()
        os.write(keyboard, typed)
        time.sleep(2 * AGAIN_S)
        assert stop() == stops


@pytest.mark.usefixtures("keyboard")
def test_an_interrupt_stops_and_a_second_one_ends_the_program() -> None:
    """After the first CTRL-C the plan so far is kept; the second one ends the program."""
    before = signal.getsignal(signal.SIGINT)
    with StopKey(10) as stop:
        signal.raise_signal(signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


@pytest.mark.usefixtures("keyboard")
def test_the_progress_line_shows_how_long_planning_takes() -> None:
    """The meter shows seconds out of the budget and disappears when the planning ends."""
    found: list[tuple[int, int]] = []
    with listening(lambda _, done, total: found.append((done, total))), StopKey(10) as stop:
        stop()
    assert found == [(0, 10), (1, 1)]
