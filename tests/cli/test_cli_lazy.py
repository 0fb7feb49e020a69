"""What a command loads: its own module and what it needs, but no screen."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from benchtimer import cli
from benchtimer.cli.table import COMMANDS

HEAVY = {"textual", "rich", "pydantic", "sqlite3", "asyncio", "platformdirs", "tomli_w", "tomlkit"}
OTHERS = {"icalendar", "html", "email", "socket", "urllib.request", "unittest", "multiprocessing"}
SAMPLE = Path(__file__).parents[1] / "recipe" / "hot-black.toml"


def _loaded(tmp_path: Path, *words: str) -> set[str]:
    """The modules loaded in a process that ran one command, whatever its answer."""
    code = (
        "import sys\nfrom benchtimer.cli import main\n"
        f"try:\n    main({list(words)!r})\nexcept SystemExit:\n    pass\n"
        "print(*sys.modules, file=sys.stderr)"
    )
    environment = {"BENCHTIMER_DATA": str(tmp_path), "BENCHTIMER_CONFIG": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True, text=True, check=True, env=environment, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    return set(done.stderr.split())


@pytest.mark.parametrize(
    "words",
    [
        ["--help"], ["--version"], ["plan", "--help"], ["bath", "mix", "--help"],
        ["settings", "--help"], ["judge", "--help"], ["completion", "bash"],
        ["--complete", "zsh", "benchtimer", ""],
        ["--complete", "zsh", "benchtimer", "run", ""],
        ["--complete", "zsh", "benchtimer", "plan", "hot-black", "pin", "--set", ""],
    ],
    ids=" ".join,
)  # fmt: skip
def test_help_and_completion_load_next_to_nothing(tmp_path: Path, words: list[str]) -> None:
    """Neither the screen, nor the recipe model, nor the database is loaded for them."""
    found = _loaded(tmp_path, *words)
    allowed = {"sqlite3", "platformdirs"} if words[0] == "--complete" else set()
    assert not found & (HEAVY | OTHERS) - allowed


@pytest.mark.parametrize(
    "words",
    [
        ["validate", str(SAMPLE)], ["recipes"], ["recipes", "hot-black"], ["schema"], ["record"],
        ["prepare", "hot-black"], ["calc", "water"], ["plan", "hot-black", "pin"],
        ["rehearse", "hot-black", "pin"], ["bath"], ["settings"],
    ],
    ids=lambda words: words[0],
)  # fmt: skip
def test_a_command_without_a_screen_loads_no_screen(tmp_path: Path, words: list[str]) -> None:
    """Commands that print and exit load neither Textual nor a module that only others need."""
    found = _loaded(tmp_path, *words)
    assert not found & {"textual", "rich", "asyncio", "icalendar", "unittest"}


def test_a_command_loads_only_its_own_module(tmp_path: Path) -> None:
    """The module of another command is not loaded."""
    modules = {command.module for command in COMMANDS.values()}
    found = _loaded(tmp_path, "recipes")
    assert {m for m in modules if f"benchtimer.cli.{m}_command" in found} == {"recipes"}


def test_every_row_of_the_table_can_be_loaded() -> None:
    """The functions that the table names exist."""
    for command in COMMANDS.values():
        assert callable(command.load(command.do))
        assert not command.options or callable(command.load(command.options))


def test_only_commands_that_open_the_screen_import_it() -> None:
    """No command-line module imports a heavy module at its top level."""
    for path in Path(cli.__file__).parent.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {alias.name for node in tree.body if isinstance(node, ast.Import)
                 for alias in node.names}  # fmt: skip
        names |= {node.module or "" for node in tree.body if isinstance(node, ast.ImportFrom)}
        heavy = {
            n for n in names if n.startswith(("textual", "benchtimer.tui", "benchtimer.bench"))
        }
        assert not heavy, path
