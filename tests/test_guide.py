"""The contributors' guide is short, and everything it names exists."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path

import pytest

import benchtimer

PACKAGE = Path(benchtimer.__file__).parent
FILE = Path(__file__).parents[1] / "DEVELOPERS.md"
GUIDE = FILE.read_text(encoding="utf-8")
HOW_TO = GUIDE.partition("\n## How to\n")[2].partition("\n## ")[0]

PATH = re.compile(r"`((?:[a-z_]+/)*[a-z_]+\.(?:py|tcss|toml))(?::([\w.]+))?`")
"""A file, and perhaps a symbol in it."""

SYMBOLS = sorted({(path, symbol) for path, symbol in PATH.findall(HOW_TO) if symbol})


def _found(path: str) -> bool:
    return any((root / path).is_file() for root in (PACKAGE, PACKAGE.parent))


def test_the_guide_is_short() -> None:
    """The guide has 12 kB at most: details are in the docstrings of the packages."""
    assert len(FILE.read_bytes()) <= 12_000


def test_every_package_is_in_the_guide() -> None:
    """The table has every module and folder of the package."""
    files = {path.name for path in PACKAGE.glob("*.py") if not path.name.startswith("__")}
    folders = {f"{path.parent.name}/" for path in PACKAGE.glob("*/__init__.py")}
    named = {row.split("|")[1].strip().strip("`") for row in _table()}
    assert named == files | folders


def test_the_guide_names_only_existing_files() -> None:
    """Every path in the guide leads to a file."""
    paths = {path for path, _ in PATH.findall(GUIDE)}
    assert len(paths) > 20
    assert [path for path in sorted(paths) if not _found(path)] == []


def test_every_link_of_the_guide_leads_somewhere() -> None:
    """Every link in the guide leads to a file of the project."""
    targets = re.findall(r"\]\(([^)]+)\)", GUIDE)
    assert targets
    assert [target for target in targets if not (FILE.parent / target).is_file()] == []


@pytest.mark.parametrize(("path", "symbol"), SYMBOLS)
def test_every_symbol_to_change_exists(path: str, symbol: str) -> None:
    """Every symbol that the guide names is in its module."""
    found: object = import_module(f"benchtimer.{path.removesuffix('.py').replace('/', '.')}")
    for name in symbol.split("."):
        found = getattr(found, name)


def test_every_how_to_names_its_place() -> None:
    """Each paragraph of the how-to names a file or a folder."""
    paragraphs = HOW_TO.strip().split("\n\n")
    assert len(paragraphs) > 8
    assert all(PATH.search(text) or "`recipes/`" in text for text in paragraphs)
    assert len(SYMBOLS) > 15


@pytest.mark.parametrize("name", ["tui", "view", "bench"])
def test_the_modules_of_a_package_are_those_in_its_row(name: str) -> None:
    """Every module in a package's row belongs to that package."""
    (result,) = [line for line in _table() if line.startswith(f"| `{name}/`")]
    modules = {path.stem for path in (PACKAGE / name).glob("*.py")}
    assert set(re.findall(r"`([a-z_]+)`", result)) <= modules


def _table() -> list[str]:
    return GUIDE.partition("| package | what it does |")[2].partition("\n\n")[0].splitlines()[2:]
