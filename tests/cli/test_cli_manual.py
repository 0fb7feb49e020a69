"""``help``: the manual on the terminal, in a pager or plain, and the help of a command."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from benchtimer import guide
from benchtimer.cli import COMMANDS, main
from benchtimer.cli.complete_words import offers_at

Capture = pytest.CaptureFixture[str]


def _told(capsys: Capture, *words: str) -> str:
    try:
        code = main(["help", *words])
    except SystemExit as ended:
        code = int(ended.code or 0)
    output = capsys.readouterr()
    assert (code, output.err) == (0, "")
    return output.out


@pytest.fixture(name="pager")
def _pager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The file that the pager writes; standard output counts as an 80x24 terminal."""
    file = tmp_path / "paged"
    code = f"import sys; open({str(file)!r}, 'wb').write(sys.stdin.buffer.read())"
    monkeypatch.setenv("PAGER", shlex.join([sys.executable, "-c", code]))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("LINES", "24")
    monkeypatch.setattr("benchtimer.cli.pager._on_terminal", lambda: True)
    return file


def test_without_a_topic_every_page_is_listed(capsys: Capture) -> None:
    """Every topic exists, in reading order."""
    text = _told(capsys)
    places = [text.index(f"\n  {topic} ") for topic in guide.TOPICS]
    assert places == sorted(places)


@pytest.mark.parametrize("topic", guide.TOPICS)
def test_a_page_is_plain_text_in_a_pipe(topic: str, capsys: Capture) -> None:
    """A pipe or a file gets the whole page."""
    assert _told(capsys, topic) == guide.plain(topic)


def test_a_long_page_goes_through_the_pager(pager: Path, capsys: Capture) -> None:
    """On a terminal that is too short for the page, the pager gets all of it, and nothing else."""
    assert _told(capsys, "screen") == ""
    assert pager.read_text() == guide.plain("screen")


def test_a_real_terminal_gets_the_pager(pager: Path) -> None:
    """The whole program, with a pseudo-terminal for its output."""
    master, slave = os.openpty()
    try:
        command = [sys.executable, "-m", "benchtimer", "help", "screen"]
        subprocess.run(command, stdin=slave, stdout=slave, check=True, timeout=60)
    finally:
        os.close(master)
        os.close(slave)
    assert pager.read_text() == guide.plain("screen")


@pytest.mark.parametrize(("lines", "paged"), [(1, False), (0, True)])
def test_a_page_that_fits_needs_no_pager(
    pager: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, lines: int, paged: bool
) -> None:
    """With one line left for the prompt it is printed; without one it is paged."""
    height = len(guide.plain("safety").splitlines()) + lines
    monkeypatch.setenv("LINES", str(height))
    assert bool(_told(capsys, "safety")) != paged
    assert pager.exists() == paged


def test_a_narrow_terminal_counts_wrapped_lines(
    pager: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page that fits at 80 columns is paged at 40."""
    monkeypatch.setenv("LINES", str(len(guide.plain("safety").splitlines()) + 1))
    monkeypatch.setenv("COLUMNS", "40")
    assert _told(capsys, "safety") == ""
    assert pager.exists()


@pytest.mark.parametrize("asked", ["no-such-pager", "'unclosed", "/"])
def test_a_pager_that_cannot_start_does_no_harm(
    pager: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, asked: str
) -> None:
    """If the pager can't start, the page prints as it is."""
    monkeypatch.setenv("PAGER", asked)
    monkeypatch.setattr("benchtimer.cli.pager.PAGERS", ())
    assert _told(capsys, "screen") == guide.plain("screen")
    assert not pager.exists()


def test_without_your_own_pager_the_usual_one_is_used(
    pager: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With PAGER unset, the first installed pager of the usual ones runs."""
    usual = tmp_path / "usual"
    usual.write_text(f'#!/bin/sh\nexec cat > "{pager}"\n')
    usual.chmod(0o700)
    monkeypatch.delenv("PAGER")
    monkeypatch.setattr("benchtimer.cli.pager.PAGERS", ("no-such-pager", str(usual)))
    assert _told(capsys, "screen") == ""
    assert pager.read_text() == guide.plain("screen")


@pytest.mark.parametrize("words", [*([name] for name in COMMANDS), ["bath", "mix"],
                                   ["calc", "salts-reading"]], ids=" ".join)  # fmt: skip
def test_each_command_has_its_own_help(words: list[str], capsys: Capture) -> None:
    """The same page as with --help."""
    with pytest.raises(SystemExit, match="0"):
        main([*words, "--help"])
    assert capsys.readouterr().out == _told(capsys, *words)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["plams"], 'the manual has no page "plams"; did you mean "plans"?'),
        (["compaer"], 'the manual has no page "compaer"; did you mean "compare"?'),
        (["first", "aid"], 'the manual has no page "first aid"; '),
        (["plans", "more"], 'the manual has no page "plans more"; '),
        (["qqqqqqq"], 'the manual has no page "qqqqqqq"; benchtimer help lists them'),
    ],
)
def test_an_unknown_page_gets_the_nearest_one(
    words: list[str], expected: str, capsys: Capture
) -> None:
    """An unknown page exits 2 with one message and prints nothing."""
    assert main(["help", *words]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"benchtimer: {expected}")


def test_a_misspelled_verb_gets_its_own_hint(capsys: Capture) -> None:
    """The command's own parser reports a misspelled verb."""
    with pytest.raises(SystemExit, match="2"):
        main(["help", "bath", "mxi"])
    assert 'did you mean "mix"?' in capsys.readouterr().err


def test_tab_offers_pages_and_commands() -> None:
    """Pages first, then commands; nothing after one of them."""
    offered = [offer.text for offer in offers_at(["help"], "")]
    assert offered == [*guide.TOPICS, *COMMANDS]
    assert list(offers_at(["help", "plans"], "")) == []
