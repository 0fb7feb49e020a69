"""Help pages: each command has one, its examples work, and it can be read anywhere."""

from __future__ import annotations

import argparse
import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from itertools import takewhile
from pathlib import Path

import pytest

from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.cli.common import COMMON, COMMON_TITLE
from benchtimer.cli.manual import NARROWEST, WIDEST, Example, pages
from benchtimer.cli.parser import PROGRAM, Parser, whole_line
from benchtimer.cli.table import COMMANDS
from benchtimer.clock import SystemClock
from benchtimer.guide import TOPICS as GUIDE
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.trade.topics import TOPICS
from tests.printed import SCREEN as SCREENS
from tests.printed import printed_lines, recipe_of

Capture = pytest.CaptureFixture[str]
SCREEN = (*SCREENS, PROGRAM)
"""Commands that open a screen: their examples are only parsed."""


ASKS = {"--try", "--follow"}
"""Options that ask at a terminal or read input to its end: only parsed, too."""


def _parsers() -> Iterator[Parser]:
    """The parser of the line, of every command and of every verb."""
    yield LINE
    for command in LINE.verbs.values():
        yield command
        yield from command.verbs.values()


LINE = whole_line()
"""The parser of the line; parsing leaves it as it is."""

PAGES = [parser.page for parser in _parsers()]
EXAMPLES = [(name, example) for name, page in pages().items() for example in page.examples]


def _help(capsys: Capture, page: str, *more: str) -> str:
    with pytest.raises(SystemExit, match="0"):
        main([*(page.split() if page != PROGRAM else []), *more, "--help"])
    return capsys.readouterr().out


def _id(value: object) -> str:
    return value.line if isinstance(value, Example) else str(value)


def test_every_command_and_verb_has_a_page() -> None:
    """No page is missing, and none mentions something that doesn't exist."""
    assert sorted(PAGES) == sorted(pages())


@pytest.mark.parametrize("page", PAGES)
def test_a_page_has_every_section(page: str, capsys: Capture) -> None:
    """What it does, how it is called, what it means, examples, output and exit codes."""
    text = _help(capsys, page)
    pages_shown = pages()[page]
    name = PROGRAM if page == PROGRAM else f"{PROGRAM} {page}"
    assert text.startswith(f"{name} - ")
    for title in ("Usage: ", "\nExamples:\n", "\nStandard output:\n", "\nExit codes:\n"):
        assert title in text
    flowing = " ".join(text.split())
    assert " ".join(pages_shown.about.split()) in flowing
    assert " ".join(pages_shown.care.split()) in flowing
    assert all(f"      {example.line}\n" in text for example in pages_shown.examples)
    assert 2 <= len(pages_shown.examples) <= 4
    assert {0, 1, 2} <= set(pages_shown.exits) <= {0, 1, 2, 3}


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_read_on_any_terminal(
    page: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is plain ASCII and fits the width; only lines to type may be longer."""
    lines = [example.line for example in pages()[page].examples]
    for columns in (60, 80, 200):
        monkeypatch.setenv("COLUMNS", str(columns))
        text = _help(capsys, page)
        assert text.isascii()
        kept = [line for line in text.splitlines() if line.strip() not in lines]
        assert max(map(len, kept)) <= min(columns, WIDEST)
    monkeypatch.setenv("COLUMNS", "12")
    narrow = _help(capsys, page)
    monkeypatch.setenv("COLUMNS", str(NARROWEST))
    assert narrow == _help(capsys, page)


def test_a_line_to_type_is_not_too_long() -> None:
    """You can read examples at a glance, and type them."""
    assert [e.line for _, e in EXAMPLES if len(e.line) > 110] == []


@pytest.mark.parametrize("parser", list(_parsers()), ids=lambda p: p.page)
def test_everything_you_can_type_is_documented(parser: Parser) -> None:
    """Each argument and option has a description, or is left out on purpose."""
    for action in parser.actions:
        if action is not parser.chooser:
            assert action.help, action
    left_out = {a.dest for a in parser.actions if a.help is argparse.SUPPRESS}
    assert left_out <= {*COMMON, "no_color"}


@pytest.mark.parametrize("name", COMMANDS)
def test_only_options_that_change_something_are_listed(name: str, capsys: Capture) -> None:
    """The common options come last, and the ones without effect are not listed."""
    text = _help(capsys, name)
    uses = COMMANDS[name].uses
    own, title, common = text.partition(f"\n{COMMON_TITLE}:\n")
    assert bool(title) == bool(uses)
    for option in COMMON:
        assert (f"  --{option} " in common) == (option in uses)
        assert f"\n  --{option} " not in own


@pytest.mark.parametrize("command", ["plan", "recipes", "schema", "calc", "settings"])
def test_an_option_without_effect_is_accepted(command: str) -> None:
    """A line that names the data folder everywhere is valid."""
    words = [command, *(["hot-black", "pin"] if command == "plan" else [])]
    found = LINE.parse_args([*words, "--data", "x", "--by", "ben", "--speed", "2"])
    assert (found.data, found.by, found.speed) == ("x", "ben", 2)


def test_where_work_can_hurt_the_page_says_so() -> None:
    """Pages about runs, mixing, topping up, disposal and figures defer to the data sheet or local
    code.
    """
    careful = (PROGRAM, "run", "prepare", "calc", "bath", "bath mix", "bath topup", "bath retire")
    for page in careful:
        assert "data sheet" in pages()[page].care, page


@pytest.mark.parametrize(("page", "example"), EXAMPLES, ids=_id)
def test_every_example_is_accepted_by_the_program(page: str, example: Example) -> None:
    """It parses as written, and calls the command whose page it is on."""
    words = _words(example.line)
    assert words[0] == PROGRAM
    if "--help" in words:
        return
    found = LINE.parse_args(words[1:])
    if page != PROGRAM:
        assert found.command is COMMANDS[page.split()[0]]
        assert words[1 : 1 + len(page.split())] == page.split()


def _opens_a_screen(line: str) -> bool:
    """Whether a line opens the bench, watches at it, or asks at a terminal."""
    words = _words(line)
    return _asks(line) or next((w for w in words if w in COMMANDS), PROGRAM) in SCREEN


def _asks(line: str) -> bool:
    return bool(ASKS & set(_words(line)))


def _words(line: str) -> list[str]:
    """The words of a line to type, without what the shell does with its output."""
    words = shlex.split(line)
    return list(takewhile(lambda word: word not in {">", "|"}, words))


@pytest.fixture(scope="session", name="shop")
def _shop(knife_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder where every example can run: a log, practice, copies, recipes, a bath."""
    folder = tmp_path_factory.mktemp("shop")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHTIMER_DATA", str(folder / "data"))
        patch.setenv("BENCHTIMER_CONFIG", str(folder / "config"))
        shutil.copytree(knife_data, folder / "data")
        _filled(folder)
    return folder


def _filled(folder: Path) -> None:
    assert main(["bath", "mix", "etch 3", "--recipe", "etch-darken", "--mix", "etchant",
                 "--volume", "2", "L", "--fecl3", "14", "Be"]) == 0  # fmt: skip
    assert main(["bath", "read", "etch 3", "20", "C"]) == 0
    assert main(["backup", str(folder / "bench-copy.sqlite3")]) == 0
    assert main(["export", "all", str(folder / "runs")]) == 0
    shutil.copytree(folder / "data", folder / "old-shop")
    driver = drive(folder / "practice" / "practice-10x", SystemClock(), speed=10)
    driver.press(driver.set_up(new_run(RecipeFiles(), "hot-black", ["pin"])), c.Abort("enough"))
    driver.close()
    shutil.copytree(folder / "practice" / "practice-10x", folder / "data" / "practice-10x")
    for name, recipe in (("my-black", "hot-black"), ("my-wax", "hot-wax")):
        shutil.copy(RecipeFiles().paths()[recipe], folder / f"{name}.toml")
    job = ["job", "open", "petty knife", "--due", "2099-12-10"]
    assert main([*job, "--part", "blade=etch-darken > hot-wax", "--part",
                 "bolster=fittings-polish > hot-black"]) == 0  # fmt: skip
    small = ["job", "open", "small knife", "--due", "2099-12-10", "--part", "blade=hot-wax"]
    assert main(small) == 0
    assert main(["job", "change", "small knife", "--done", "blade=hot-wax"]) == 0
    (folder / "knife.toml").write_text(recipe_of("jobs"), encoding="utf-8")
    (folder / "dip.toml").write_text(recipe_of("writing-recipes"), encoding="utf-8")


LINES = printed_lines()
TO_RUN = list(
    dict.fromkeys(
        line
        for page, line in [*((page, e.line) for page, e in EXAMPLES), *LINES]
        if page not in SCREEN and not _opens_a_screen(line)
    )
)
"""Each line once, even if several pages have it."""

SEARCH_S = "0.2"
"""A plan only has to exist here, so its search and its advice stay short."""


def test_the_readme_and_every_page_with_commands_are_tried() -> None:
    """The test finds lines on the README and on every page with commands."""
    assert {page for page, _ in LINES} == {"README", *GUIDE} - {"safety"}
    assert {_words(line)[1] for _, line in LINES if len(_words(line)) > 1} >= set(COMMANDS) - {
        "completion", "help"
    }  # fmt: skip


@pytest.mark.parametrize(("page", "line"), LINES)
def test_every_printed_command_is_accepted_by_the_program(page: str, line: str) -> None:
    """The program accepts every line of the README and the manual."""
    del page
    words = _words(line)[1:]
    if "--help" not in words:
        LINE.parse_args(words)


@pytest.mark.parametrize("line", TO_RUN)
def test_every_example_works(
    line: str, shop: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: Capture,
) -> None:  # fmt: skip
    """Every example succeeds and prints something in a shop that has what it names."""
    place = tmp_path / "shop"
    shutil.copytree(shop, place)
    monkeypatch.chdir(place)
    monkeypatch.setenv("BENCHTIMER_DATA", str(place / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(place / "config"))
    monkeypatch.setattr("benchtimer.cli.plan_command.HELP_S", 0.1)
    monkeypatch.setattr("benchtimer.plan.latest.TRY_NODES", 100)
    words = _words(line)[1:]
    if words[0] == "plan" and "--seconds" not in words:
        words += ["--seconds", SEARCH_S]
    try:
        code = main(words)
    except SystemExit as ended:
        code = int(ended.code or 0)
    output = capsys.readouterr()
    assert code == 0, output.err
    assert output.out.strip()


@pytest.mark.parametrize("topic", TOPICS)
def test_each_topic_has_its_own_page(topic: str, capsys: Capture) -> None:
    """After a topic, the page shows what it needs, with an example and exit codes."""
    text = _help(capsys, f"calc {topic}")
    assert text.startswith(f"{PROGRAM} calc {topic} - ")
    for title in ("Usage: ", "\nExamples:\n", "\nStandard output:\n", "\nExit codes:\n"):
        assert title in text
    for parameter in TOPICS[topic].parameters:
        assert f"\n  {parameter.name}" in text


def test_a_misspelled_topic_is_reported(capsys: Capture) -> None:
    """Help on an unknown topic names the nearest one instead of printing all topics."""
    with pytest.raises(SystemExit, match="2"):
        main(["calc", "salts-reding", "--help"])
    assert 'did you mean "salts-reading"?' in capsys.readouterr().err


def test_a_page_needs_no_locale_and_no_home() -> None:
    """With LANG=C, without a home and into a pipe, the page is complete."""
    environment = {"PATH": os.environ["PATH"], "LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0"}
    done = subprocess.run(
        [sys.executable, "-m", "benchtimer", "judge", "--help"],
        capture_output=True, check=True, env=environment, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.stdout.startswith(b"benchtimer judge - ")
    assert done.stdout.isascii()
