"""The manual is true in its recipes, messages, keys and links, and fits any terminal."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from benchtimer import guide
from benchtimer.cli import COMMANDS, main
from benchtimer.recipe.reader import read_recipe
from benchtimer.view.keys import KEYS, Key
from benchtimer.view.pagekeys import PLAN_KEYS
from tests.printed import PAGES, recipe_of

PACKAGE = Path(guide.__file__).parent
WIDEST = 80


def _prose(text: str) -> Iterator[str]:
    """The lines of a page that are neither code nor commands."""
    fenced = False
    for line in text.splitlines():
        if line.startswith("```"):
            fenced = not fenced
        elif not fenced and not line.startswith("    "):
            yield line


def test_every_page_is_listed_and_every_listed_page_exists() -> None:
    """The list of topics matches the list of files."""
    assert sorted(path.stem for path in PACKAGE.glob("*.md")) == sorted(guide.TOPICS)


def test_no_topic_has_the_name_of_a_command() -> None:
    """No topic has the name of a command, so ``help NAME`` is unambiguous."""
    assert not set(guide.TOPICS) & set(COMMANDS)


@pytest.mark.parametrize("topic", guide.TOPICS)
def test_a_page_is_readable_on_any_terminal(topic: str) -> None:
    """A page is ASCII with a heading first, narrow lines, and only marks plain text can show."""
    text = guide.page(topic)
    assert text.isascii()
    assert re.match(r"# [A-Z].+\n\n", text)
    assert [line for line in _prose(text) if len(line) > WIDEST] == []
    assert not re.search(r"!\[|<[a-z]", "\n".join(_prose(text)))


@pytest.mark.parametrize("topic", guide.TOPICS)
def test_every_link_leads_to_a_page(topic: str) -> None:
    """Each link shows the heading of its page, and plain text keeps these words."""
    text = guide.page(topic)
    links = re.findall(r"\[([^\]]+)\]\(([^)]+)\)", "\n".join(_prose(text)))
    for words, target in links:
        assert guide.title(target.removesuffix(".md")) == " ".join(words.split())
    assert "](" not in guide.plain(topic)
    assert all(words in guide.plain(topic) for words, _ in links)


@pytest.mark.parametrize(
    ("page", "steps"), [("README", ["dip"]), ("writing-recipes", ["dip", "look"])]
)
def test_a_printed_recipe_is_complete(page: str, steps: list[str], tmp_path: Path) -> None:
    """A printed recipe can be saved and run."""
    file = tmp_path / "dip.toml"
    file.write_text(recipe_of(page), encoding="utf-8")
    assert [step.id for step in read_recipe(file).step] == steps


def test_every_line_of_the_recipe_is_explained_or_plain() -> None:
    """Each line has a comment on it or above it, or only gives a name or words."""
    plain = re.compile(r"(id|title|cite|text|wear|ask) = |$")
    lines = recipe_of("writing-recipes").splitlines()
    for above, line in zip(["", *lines], lines, strict=False):
        assert "#" in line or above.startswith("#") or plain.match(line), line


def test_the_manuals_error_is_the_programs_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The misspelled station gives exactly the message and line on the page."""
    monkeypatch.chdir(tmp_path)
    wrong = recipe_of("writing-recipes").replace('at = "bath"', 'at = "bth"')
    Path("dip.toml").write_text(wrong, encoding="utf-8")
    assert main(["validate", "dip.toml"]) == 1
    (shown,) = re.findall(r"^    (dip\.toml:.*)$", PAGES["writing-recipes"], re.MULTILINE)
    assert shown in capsys.readouterr().out


@pytest.mark.parametrize(
    ("page", "head", "keys"),
    [("screen", "what it does", KEYS), ("plans", "what it changes", PLAN_KEYS)],
)
def test_a_table_of_keys_is_whole(page: str, head: str, keys: Sequence[Key]) -> None:
    """A table of keys has each key with its own action on the page, and no other."""
    table = re.search(rf"\| key +\| {head} +\|\n((?:\|.*\n)+)", PAGES[page])
    assert table is not None
    found: set[str] = set()
    for row in table[1].splitlines()[1:]:
        found |= set(re.findall(r"\^P|[A-Z]\w*|[?+*;-]", row.split("|")[1]))
    everywhere = {"ENTER", "ESC", "PGUP", "PGDN", "HOME", "END", "↓", "↑"}
    if page == "plans":
        everywhere |= {"A", "H", "V", "F", "?"}  # explained around the table or elsewhere
    names = {"→": "RIGHT", "←": "LEFT"}
    known = {names.get(key.shown, key.shown) for key in keys if key.shown not in everywhere}
    assert found - {"F1"} == known


def test_the_manuals_plan_is_the_programs_own(tmp_path: Path) -> None:
    """The command prints the verdict on the page, except for the day.

    How near to target the plan comes, in the lines below, depends on the machine's speed.
    """
    line, shown = re.findall(
        r"^    benchtimer (plan .+)\n\n((?:    .+\n)+)", PAGES["plans"], re.MULTILINE
    )[0]
    environment = {"TZ": "UTC", "HOME": str(tmp_path), "PYTHONPATH": str(PACKAGE.parents[1])}
    done = subprocess.run(
        [sys.executable, "-m", "benchtimer", *shlex.split(line)],
        capture_output=True, text=True, check=True, env=environment,
    )  # fmt: skip
    day = re.compile(r"\b[A-Z][a-z]{2}(?: [A-Z][a-z]{2} \d{1,2})? (?=\d\d:)")
    found, wanted = (day.sub("", text.strip().partition("\n")[0]) for text in (done.stdout, shown))
    assert found == wanted
