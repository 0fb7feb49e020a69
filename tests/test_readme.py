"""What the README says is so: its recipe, messages, commands, keys, links and pictures."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from benchtimer.cli import COMMANDS, main
from benchtimer.recipe.reader import read_recipe
from benchtimer.view.keys import KEYS

README = Path(__file__).parents[1] / "README.md"
TEXT = README.read_text(encoding="utf-8")
NAMES = {"SPACE", "TAB"}


def _recipe() -> str:
    """The recipe that the README explains line by line."""
    return TEXT.partition("```toml\n")[2].partition("```")[0]


def _commands() -> list[str]:
    """Every command line of the README that asks for one command, without its remark."""
    lines = re.findall(r"^    benchtimer (.+?)(?:  +#.*|\s+# .*)?$", TEXT, re.MULTILINE)
    shown = re.findall(r"`benchtimer ((?:[a-z]|--)[^`]*)`", TEXT)
    usage = re.compile(r"  |\||\.\.\.|\b[A-Z]{3,}\b")  # a line of the table of commands
    return sorted({line for line in [*lines, *shown] if not usage.search(line)})


def _anchor(heading: str) -> str:
    return re.sub(r"[^a-z0-9 -]", "", heading.lower()).replace(" ", "-")


def test_the_recipe_of_the_readme_is_complete(tmp_path: Path) -> None:
    """Somebody who saves the recipe of the README has one that can be run."""
    file = tmp_path / "dip.toml"
    file.write_text(_recipe(), encoding="utf-8")
    recipe = read_recipe(file)
    assert [step.id for step in recipe.step] == ["dip", "look"]


def test_every_line_of_the_recipe_is_explained_or_plain() -> None:
    """Each line either carries a remark, or only names something or says its words."""
    plain = re.compile(r"(id|title|cite|text|wear|ask) = |$")
    lines = _recipe().splitlines()
    below = [*lines[1:], ""]
    for line, after in zip(lines, below, strict=True):
        assert "#" in line or after.lstrip().startswith("#") or plain.match(line), line


def test_the_error_of_the_readme_is_the_programs_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The misspelt station is told as the README shows it, with that very line."""
    monkeypatch.chdir(tmp_path)
    Path("dip.toml").write_text(_recipe().replace('at = "bath"', 'at = "bth"'), encoding="utf-8")
    assert main(["validate", "dip.toml"]) == 1
    (shown,) = re.findall(r"^    (dip\.toml:.*)$", TEXT, re.MULTILINE)
    assert shown in capsys.readouterr().out


@pytest.mark.parametrize("line", _commands())
def test_every_command_of_the_readme_is_understood(line: str) -> None:
    """No command of the README is refused for its words."""
    words = shlex.split(line)
    assert words[0] in COMMANDS or words[0].startswith("--"), line


def test_every_command_stands_in_the_readme() -> None:
    """The table of commands leaves none out."""
    table = TEXT.partition("## Commands")[2].partition("\n## ")[0]
    for name in COMMANDS:
        assert re.search(rf"\b{name}\b", table), name


def test_the_keys_of_the_readme_are_those_of_the_board() -> None:
    """The table of keys names every key that the board's own help does, and no other."""
    table = TEXT.partition("| key | what it does |")[2].partition("\n\n")[0]
    told = set(NAMES)
    for row in table.splitlines()[2:]:
        told |= set(re.findall(r"[A-Z]\b|\?", row.split("|")[1]))
    known = {key.shown for key in KEYS} - {"ENTER", "ESC", "↓", "↑"}
    known = {shown for shown in known if not shown[0].isdigit()}
    assert {word for word in told if len(word) == 1 or word in NAMES} == known


def test_every_link_and_picture_of_the_readme_leads_somewhere() -> None:
    """Links lead to headings of the page, pictures to files of the project."""
    headings = {_anchor(h) for h in re.findall(r"^## (.+)$", TEXT, re.MULTILINE)}
    for target in re.findall(r"\]\(([^)]+)\)", TEXT):
        if target.startswith("#"):
            assert target[1:] in headings, target
        else:
            assert (README.parent / target).is_file(), target
