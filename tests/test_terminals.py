"""Unusual terminals: other sizes, no color, no UTF-8, odd names."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support import SMALL
from tests.terminal import Terminal

ODD_NAMES = ["[b]bolster[b]", "刃物の鍔", "🔪 ferrule", "x" * 200, "butt cap; rm -rf", "-- dash"]
SIZES = [(60, 20), (200, 60), (40, 12), (80, 24)]


def _whole(height: int) -> Callable[[str], bool]:
    """Wait until the board fills the screen from its first to its last row."""

    def good(text: str) -> bool:
        rows = text.split("\n")
        return len(rows) == height and "U undo" in "".join(rows[-3:]) and "bolster" in text

    return good


def _run(home: Path, *parts: str, recipe: str = "hot-black", **environment: str) -> Terminal:
    return Terminal(["run", recipe, "--", *parts], home, environment=environment)


def test_the_window_may_change_its_size_during_a_run(tmp_path: Path) -> None:
    """At any window size the board is whole again, and the run continues."""
    terminal = _run(tmp_path, "bolster", "ferrule")
    terminal.set_up()
    terminal.confirm()
    terminal.wait("U undoes: started")
    for width, height in SIZES:
        terminal.resize(width, height)
        terminal.wait(_whole(height))
    terminal.send("u")
    terminal.wait(lambda text: "U undoes: started" not in text and "starts the run" in text)
    terminal.send("q")
    assert terminal.close() == 0


@pytest.mark.parametrize("environment", [{"LANG": "C"}, {"LANG": "", "LC_ALL": "POSIX"}])
def test_a_terminal_without_utf_8_gets_only_ascii(
    tmp_path: Path, environment: dict[str, str]
) -> None:
    """In a C locale every byte is ASCII, and the board is readable."""
    terminal = _run(tmp_path, "bolster", "刃物の鍔", **environment)
    terminal.set_up()
    assert terminal.output.isascii()
    assert "########" not in terminal.text.split("\n")[0]
    assert "# " in terminal.text
    terminal.send("q")
    assert terminal.close() == 0


def test_a_terminal_without_color_gets_no_color(tmp_path: Path) -> None:
    """With NO_COLOR there is no color code, and due work is reversed."""
    terminal = _run(tmp_path, "bolster", NO_COLOR="1", COLORTERM="truecolor")
    terminal.wait("FIRST AID: Caustic")
    codes = b";".join(re.findall(rb"\x1b\[([\d;]*)m", terminal.output)).split(b";")
    found = {int(code) for code in codes if code}
    assert {1, 7} <= found <= {0, 1, 2, 3, 4, 7, 9, 22, 23, 24, 27, 29, 39, 49}
    now = next(y for y, row in enumerate(terminal.screen.display) if "GEAR UP" in row)
    assert any(cell.reverse for cell in terminal.screen.buffer[now].values())
    terminal.send("q")
    assert terminal.close() == 0


def test_odd_part_names_break_nothing(tmp_path: Path) -> None:
    """Markup, wide letters, emoji, 200 letters and shell words appear on the board as typed."""
    recipe = tmp_path / "small.toml"
    recipe.write_text(SMALL, encoding="utf-8")
    terminal = _run(tmp_path, *ODD_NAMES, recipe=str(recipe))
    terminal.set_up()
    text = terminal.settle(0.5)
    assert "6 parts: [b]bolster[b], " in text
    assert "ferrule, xxxxxxxxxxxxx" in text
    rows = text.split("\n")
    assert len(rows) == 24
    assert "U undo" in "".join(rows[-3:])
    terminal.send(" ")
    terminal.wait("Temperature of Tank")
    terminal.send("65")
    terminal.wait("Saved: 65 C")
    for key, name in ("5", "butt cap; rm -rf"), ("4", "xxxxxxxxxxxxx"), ("3", "ferrule"):
        time.sleep(1.7)  # two digits in quick succession make one number
        terminal.settle()
        terminal.send(key)
        terminal.wait(name)
    terminal.send("g")
    terminal.wait("ferrule")
    terminal.send("gq")
    assert terminal.close() == 0
