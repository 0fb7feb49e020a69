"""A desktop notice reaches the terminal whole, also through tmux, and can't be escaped."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.sound.ways import BEL, ESC, KINDS, LONGEST, ST, notice


def test_each_kind_of_notice_has_its_form() -> None:
    """Each of the three commands in use has its numbers and fields."""
    assert notice("9", "NOW: PULL 1", {}) == "\x1b]9;NOW: PULL 1\x07"
    assert notice("777", "a; b", {}) == "\x1b]777;notify;benchtimer;a, b\x07"
    assert notice("99", "a", {}) == (
        "\x1b]99;i=benchtimer:d=0;benchtimer\x1b\\\x1b]99;i=benchtimer:p=body;a\x1b\\"
    )
    assert notice("off", "a", {}) == ""


@given(kind=st.sampled_from(sorted(KINDS)), message=st.text(), tmux=st.booleans())
def test_no_message_ends_its_escape_sequence(kind: str, message: str, tmux: bool) -> None:
    """For any part name, only the sequence's own end marks reach the terminal."""
    shown = notice(kind, message, {"TMUX": "x"} if tmux else {})
    plain = notice(kind, "", {"TMUX": "x"} if tmux else {})
    for code in (ESC, BEL, "\x9c", "\n", "\x9d"):
        assert shown.count(code) == plain.count(code)
    assert len(shown) <= len(plain) + LONGEST


def test_tmux_gets_a_wrapped_sequence() -> None:
    """Each escape inside is doubled, as tmux requires."""
    shown = notice("9", "x", {"TMUX": "/tmp/t,1,0"})  # noqa: S108 - only a value of TMUX
    assert shown == f"{ESC}Ptmux;{ESC}{ESC}]9;x{BEL}{ST}"


@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed: not tried")
def test_a_real_tmux_passes_it_on(tmp_path: Path) -> None:
    """With allow-passthrough on, the terminal around a real tmux gets the notice unwrapped."""
    said = tmp_path / "said"
    said.write_text(notice("9", "PULL 1 bolster", {"TMUX": "x"}))
    socket = tmp_path / "tmux"
    script = tmp_path / "inside.sh"
    script.write_text(f"sleep 0.5; cat {said}; sleep 1\n")
    import pty

    pid, fd = pty.fork()
    if pid == 0:
        os.environ.update(TERM="xterm-256color", LANG="C.UTF-8", TMUX="")
        os.environ.pop("TMUX")
        words = ["tmux", "-S", str(socket), "-f", "/dev/null", "new-session", f"sh {script}",
                 ";", "set", "-g", "allow-passthrough", "on"]  # fmt: skip
        os.execvp("tmux", words)
    found = b""
    end = time.monotonic() + 8
    try:
        while time.monotonic() < end and b"PULL 1 bolster" not in found:
            found += os.read(fd, 65536)
    except OSError:
        pass
    finally:
        subprocess.run(["tmux", "-S", str(socket), "kill-server"], check=False, capture_output=True)
        os.waitpid(pid, 0)
        os.close(fd)
    assert b"\x1b]9;PULL 1 bolster\x07" in found
