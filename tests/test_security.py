"""What the program must never do, for any input.

Who could attack what, and what prevents it. Tests are here, in ``tests/faults`` and in
``tests/recipe/test_hostile.py``.

The author of a recipe file
    Run code or read other files: a recipe is data, TOML into typed fields. Reading it opens,
    imports and runs nothing (the interpreter's audit events are watched while 100,000 mutated
    files are read). Garble the screen with escape codes or bidirectional marks: every text is
    checked where it is read, and widgets read no markup. Stall the program by depth, size, long
    keys or huge numbers: refused before the work begins (``recipe/loading.py``). Leave its folder
    by an id: ids are short and lower case, without dot or slash, and a file's name shows ``?`` for
    unsafe characters. Tell you to do harm: nothing prevents it. Read a stranger's recipe with the
    data sheet beside it.
The author of a settings file
    The same, with the same reader. Name a program: ``alarm.command`` runs as you, which is its
    purpose. No recipe, backup or export can set it. It starts without a shell, and text typed at
    the bench only ever becomes one argument. Treat the file like a script. ``help`` starts the
    program that PAGER names in the same way, and ``record --open`` the one that BROWSER names.
Anyone on your network, while ``watch --serve`` runs
    Drive the bench: no request to the page writes anything. See it without its key, stop the
    server or the bench with many, long or slow calls: ``tests/serve`` tries these. Read the
    traffic: nothing prevents it. It is plain HTTP, and the key is in its address.
Another user of this machine
    Replace the settings file: the folder is 0700, the file 0600, and a file that others can write
    or replace is refused, with the ``chmod`` that helps. Read who worked when: folders are 0700,
    files 0600, exports too. A data folder or file from before keeps its permissions. Drive or watch
    your bench: lease and log are yours alone, and nothing listens unless you start
    ``watch --serve``. Get another file emptied through a link with the lease file's name: a lease
    file that is a link, or no regular file, is refused.
Anyone who gives you a backup
    A trigger that drops later entries; entries left out, changed or out of order; names that leave
    the folder or garble the screen; a log that no bench can open: ``restore`` first reads a copy
    entry by entry (``store/log_validity.py``). The layout must match the program's own exactly, and
    every entry must be readable, fold and be in order. Only entries go into a new log. If the
    backup is refused, nothing has changed; if not, the old log is kept beside the new one. Report
    a false but well-formed history: nothing prevents it, because a backup has no signature.
Anyone who gives you an export
    The same, for one run, which is marked as imported. Its clocks are never used here. An open run
    continues by the time here. It is refused if that is earlier than its last entry, or if its
    entries can't be followed to the end.
A person with your rights, or root
    Anything. The log refuses UPDATE and DELETE against slips, not against intent.
Anyone who sees the screen or scrolls back
    Parts, notes, readings. The board uses the terminal's other screen, which leaves no scrollback.
    The output of ``record`` and ``plan`` stays in it. Put nothing secret into a note.
A package that this one depends on
    Anything. They are few, with reasons in ``pyproject.toml``. Audit them before a release.

No module may import a network library, ``pickle`` or its like, or call ``eval``, a shell or
``os.system``, except for the few in ``ALLOWED``: a test reads every module, and a whole run works
with every socket refused. (The event loop under the screen makes a pair of sockets to wake itself;
that pair leads nowhere.)
"""

from __future__ import annotations

import ast
import os
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import benchtimer
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.store.log import FILE_NAME
from benchtimer.tui.app import BenchApp
from tests.support import small_recipe, start, table

PACKAGE = Path(benchtimer.__file__).parent
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])

NETWORK = frozenset(
    {"socket", "socketserver", "ssl", "http", "urllib", "ftplib", "smtplib", "poplib", "imaplib",
     "telnetlib", "xmlrpc", "requests", "httpx", "aiohttp", "websockets", "webbrowser"}
)  # fmt: skip
CODE = frozenset(
    {"pickle", "cPickle", "marshal", "shelve", "dill", "yaml", "ctypes", "cffi", "code", "codeop",
     "runpy", "pty"}
)  # fmt: skip
"""Modules that turn data into running code, or reach past the interpreter."""

ALLOWED = {
    # Writes methods from the names of a class's own fields, as the standard library does.
    "values.py": ["call of exec"],
    # Windows has no program that keeps the computer awake or says whether a process lives, only
    # calls with a fixed number or the process's number.
    "tui/awake.py": ["import of ctypes"],
    "atomic_file.py": ["import of ctypes"],
    # Escapes the name of a picture for a link; opens nothing.
    "records/photos.py": ["import of urllib.parse"],
    # Opens a card that was just written in your browser, if you say --open.
    "cli/record_command.py": ["import of webbrowser"],
    # The second screen, if you say --serve: the only module that listens.
    "serve/server.py": ["import of socket", "import of http", "import of socketserver"],
}
"""Exceptions for single modules."""

RUNS_TEXT = frozenset({"eval", "exec", "compile", "__import__"})
SHELL = frozenset(
    {"os.system", "os.popen", "subprocess.getoutput", "subprocess.getstatusoutput",
     "asyncio.create_subprocess_shell", "os.startfile"}
)  # fmt: skip


def _names(node: ast.AST) -> str:
    """A dotted name, as written."""
    if isinstance(node, ast.Attribute):
        return f"{_names(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def harmful(source: str) -> Iterator[str]:
    """The parts of a module that could reach a network or a shell, or run what they read."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [alias.name for alias in node.names]
            module = getattr(node, "module", None)
            for name in [module] if module else names:
                if name.partition(".")[0] in NETWORK | CODE:
                    yield f"import of {name}"
            yield from (f"{module}.{n}" for n in names if f"{module}.{n}" in SHELL)
        elif isinstance(node, ast.Call):
            called = _names(node.func)
            if called in RUNS_TEXT | SHELL:
                yield f"call of {called}"
            for keyword in node.keywords:
                no_shell = isinstance(keyword.value, ast.Constant) and keyword.value.value is False
                if keyword.arg == "shell" and not no_shell:
                    yield f"{called} with a shell"


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_no_module_can_reach_a_network_or_run_its_input(path: Path) -> None:
    """No module of the package has sockets, pickle, eval or a shell."""
    allowed = ALLOWED.get(path.relative_to(PACKAGE).as_posix(), [])
    assert list(harmful(path.read_text(encoding="utf-8"))) == allowed


@pytest.mark.parametrize(
    "source",
    [
        "import pickle", "from yaml import load", "import urllib.request", "import socket as s",
        "eval('1')", "exec(text)", "import os\nos.system('ls')", "from os import system",
        "subprocess.run(words, shell=True)", "subprocess.run(words, shell=asked)",
        "def f():\n    from http.client import HTTPConnection",
    ],
)  # fmt: skip
def test_the_search_finds_planted_offenders(source: str) -> None:
    """The check of the modules finds each of the forbidden things."""
    assert list(harmful(source))


WITHOUT_NETWORK = """
import asyncio, socket, sys
reached = []

def hear(event, arguments):
    # An event loop talks to itself through a pair of sockets; that reaches no other process.
    if event.startswith("socket.") and event != "socket.__new__":
        reached.append(event)
        raise PermissionError("no network here")

sys.addaudithook(hear)

async def work(folder):
    from benchtimer.bench.open_bench import OpenBench
    from benchtimer.bench.writer import drive
    from benchtimer.clock import SystemClock
    from benchtimer.orders import new_run
    from benchtimer.recipe.recipe_files import RecipeFiles
    from benchtimer.tui.app import BenchApp
    from pathlib import Path
    driver = drive(Path(folder), SystemClock(), speed=60)
    name = driver.set_up(new_run(RecipeFiles(), "hot-black", ["bolster", "ferrule"]))
    app = BenchApp(driver, name, guard_s=0)
    async with app.run_test(size=(80, 24)) as pilot:
        for key in (*["space"] * 9, "u", "r", "question_mark", "escape"):
            await pilot.press(key)
            await pilot.pause()
    print("pressed", driver.state(name).presses)
    driver.close()

from benchtimer.cli import main
folder = sys.argv[1]
for words in (["recipes"], ["rehearse", "hot-black", "a", "b", "--seed", "1", "--json"],
              ["plan", "hot-black", "a", "b", "--seconds", "0.2"], ["record", "--data", folder]):
    main(words)
asyncio.run(work(folder))
print("reached", *reached)
try:
    socket.create_connection(("127.0.0.1", 9), timeout=0.1)
except PermissionError:
    print("a connection is heard")
"""


def test_a_whole_run_reaches_no_network(tmp_path: Path) -> None:
    """Commands, planner and screen work with every socket refused, and try none."""
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_NETWORK, str(tmp_path / "data")],
        capture_output=True, text=True, check=False, cwd=Path(__file__).parent.parent,
    )  # fmt: skip
    found = done.stdout.splitlines()
    assert found[-2:] == ["reached", "a connection is heard"], done.stderr[-2000:]
    presses = next(line for line in found if line.startswith("pressed "))
    assert int(presses.split()[1]) >= 3


def _modes(folder: Path) -> dict[str, int]:
    return {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.rglob("*")}


@pytest.mark.skipif(sys.platform == "win32", reason="rights of files are of another kind there")
def test_files_the_program_writes_are_private(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Log, lease, records, backups and exports are 0600 in folders of 0700, for any umask."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    before = os.umask(0)
    try:
        data, away = tmp_path / "data", tmp_path / "away"
        driver = drive(data, ManualClock(1_770_000_000_000))
        name = driver.set_up(NEW)
        start(driver, name)
        driver.press(name, c.Abort("enough"))
        while_open = _modes(data)
        driver.close()
        for words in (["export", "all", str(away)], ["backup", str(away / "copy")],
                      ["restore", str(away / "copy")],
                      ["settings", "--set", "hands=2"]):  # fmt: skip
            assert main([*words, "--data", str(data)]) == 0
    finally:
        os.umask(before)
    assert f"{FILE_NAME}-wal" in while_open
    modes = while_open | _modes(data) | _modes(away)
    folders = {"records", "backups"}
    assert {n for n, mode in modes.items() if mode != (0o700 if n in folders else 0o600)} == set()
    assert {stat.S_IMODE(path.stat().st_mode) for path in (data, away)} == {0o700}
    assert stat.S_IMODE((tmp_path / "config" / "settings.toml").stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "config").stat().st_mode) == 0o700


async def test_the_name_of_a_recipe_file_cannot_disturb_the_screen(tmp_path: Path) -> None:
    """A recipe file can have any name, and the page that lists it shows no control code."""
    (tmp_path / "\x1b[2Jred\u202e.toml").write_text("", encoding="utf-8")
    driver = drive(tmp_path / "data", ManualClock(1_770_000_000_000))
    app = BenchApp(driver, recipe_files=RecipeFiles(tmp_path))
    async with app.run_test() as pilot:
        await pilot.pause()
        shown = app.export_screenshot()
        await pilot.press("space")
        await pilot.pause()
        shown += app.export_screenshot()
    driver.close()
    assert "[2Jred" in shown
    assert not set(shown) & {"\x1b", "\u202e"}


async def test_a_page_in_front_does_not_count_as_a_run(tmp_path: Path) -> None:
    """With one run on the bench no header says that there are more, even behind a question."""
    driver = drive(tmp_path, ManualClock(1_770_000_000_000))
    app = BenchApp(driver, driver.set_up(NEW))
    async with app.run_test() as pilot:
        await pilot.press("t")
        await pilot.pause()
        assert app.marks == []
    driver.close()
