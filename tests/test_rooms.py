"""Imports between packages point down, and the core touches no clock, disk or screen."""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import benchtimer

PACKAGE = Path(benchtimer.__file__).parent

# From the bottom up. A package imports only from lines above it here; packages on one line don't
# import each other.
FLOORS = (
    ("values",),
    ("quantity", "guide", "progress", "pasted"),
    ("times",),
    ("trade",),
    ("recipe",),
    ("run", "plan"),
    ("shop",),
    ("bath",),
    ("learn",),
    ("job",),
    ("atomic_file",),
    ("settings",),
    ("check_list",),
    ("clock",),
    ("store",),
    ("records",),
    ("bench", "sound"),
    ("orders",),
    ("keeping",),
    ("rehearsal",),
    ("view",),
    ("tui", "serve"),
    ("cli",),
    ("__main__",),
)
HEIGHT = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
CORE = (
    "values", "quantity", "times", "trade", "recipe", "run", "plan", "shop", "bath", "job",
    "learn", "check_list",
)  # fmt: skip

OUTSIDE_WORLD = {
    "textual", "sqlite3", "time", "os", "socket", "subprocess", "threading", "asyncio",
    "platformdirs", "tempfile", "shutil", "urllib.request", "http", "pickle", "importlib",
}  # fmt: skip
"""What the core can't import."""


def _rooms() -> dict[str, list[Path]]:
    rooms: dict[str, list[Path]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        inside = path.relative_to(PACKAGE)
        room = inside.parts[0].removesuffix(".py")
        if room != "__init__":
            rooms.setdefault(room, []).append(path)
    return rooms


def _module(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def _imports(path: Path) -> set[str]:
    """Every module a file imports, wherever in the file."""
    tree = _tree(path)
    return {name for node in ast.walk(tree) for name in _named(node)}


def _named(node: ast.AST) -> set[str]:
    """The modules that an import names."""
    if isinstance(node, ast.Import):
        return {alias.name for alias in node.names}
    if not isinstance(node, ast.ImportFrom):
        return set()
    assert node.level == 0, f"relative import of {node.module}"
    return {node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)}


def _loads(path: Path) -> set[str]:
    """Every module that a file imports at run time, not for types only."""
    tree = _tree(path)
    types = [node for node in ast.walk(tree) if isinstance(node, ast.If)]
    types = [node for node in types if ast.unparse(node.test) == "TYPE_CHECKING"]
    only = {id(x) for node in types for x in ast.walk(node)}
    return {name for node in ast.walk(tree) if id(node) not in only for name in _named(node)}


def _rooms_imported(path: Path) -> set[str]:
    pieces = (name.split(".") for name in _imports(path) if name.startswith("benchtimer."))
    return {parts[1] for parts in pieces if parts[1] in HEIGHT}


def test_every_package_has_a_layer() -> None:
    """Every package has its place in the order."""
    assert set(_rooms()) == set(HEIGHT)


@pytest.mark.parametrize("room", sorted(HEIGHT))
def test_imports_point_down(room: str) -> None:
    """A package imports only from itself and from those below it."""
    for path in _rooms()[room]:
        wrong = {r for r in _rooms_imported(path) if r != room and HEIGHT[r] >= HEIGHT[room]}
        assert not wrong, f"{path.relative_to(PACKAGE)} imports {wrong}"


def test_no_modules_import_each_other_in_a_cycle() -> None:
    """No modules import each other in a circle, even inside a package."""
    modules = {_module(path): path for path in PACKAGE.rglob("*.py")}
    graph = {name: (_loads(path) & set(modules)) - {name} for name, path in modules.items()}
    order = list(TopologicalSorter(graph).static_order())  # a circle raises an error that names it
    assert set(order) == set(modules)


@pytest.mark.parametrize("room", CORE)
def test_the_core_imports_no_outside_module(room: str) -> None:
    """Core modules import no clock, disk, network, thread or screen."""
    for path in _rooms()[room]:
        found = {f"{name}." for name in _imports(path)}
        wrong = {w for w in OUTSIDE_WORLD if any(name.startswith(f"{w}.") for name in found)}
        assert not wrong, f"{path}: {wrong}"


@pytest.mark.parametrize("room", [*CORE, "records"])
def test_the_core_opens_nothing(room: str) -> None:
    """Only the recipe reader opens files, and no core module prints or reads the environment."""
    for path in _rooms()[room]:
        calls = {
            node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            for node in ast.walk(_tree(path))
            if isinstance(node, ast.Call)
        }
        forbidden = {"print", "input", "now", "today", "utcnow", "getenv", "write_text", "unlink"}
        if path.name not in ("reader.py", "recipe_files.py"):
            forbidden |= {"open", "read_text", "read_bytes", "iterdir", "exists"}
        if room == "trade":  # its tables are data files of the package
            forbidden -= {"open", "read_text", "read_bytes"}
        assert not calls & forbidden, f"{path}: {calls & forbidden}"


def _modules_after(statement: str) -> set[str]:
    code = f"{statement}\nimport sys\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "module",
    [
        "benchtimer.quantity",
        "benchtimer.recipe.reader",
        "benchtimer.run.decide",
        "benchtimer.run.agenda",
    ],
)
def test_the_core_loads_neither_screen_nor_database(module: str) -> None:
    """Importing a core module in a fresh interpreter loads neither Textual nor sqlite3."""
    loaded = _modules_after(f"import {module}")
    assert not loaded & {"textual", "sqlite3", "platformdirs"}


def test_the_boards_text_needs_no_textual() -> None:
    """The view, its words and its letters load without Textual."""
    assert "textual" not in _modules_after(
        "import benchtimer.view.board_text, benchtimer.view.desk"
    )


def test_the_command_line_starts_without_the_screen() -> None:
    """Checking a recipe does not load Textual."""
    statement = "from benchtimer.cli import main; main(['recipes'])"
    assert "textual" not in _modules_after(statement)
